"""What every engine that keeps a shop promises, and the two ways it can fail."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import datetime
from typing import Protocol

from shopboard.records import Change, Job, PartLine, ShopState, Step, visible

#: A rule with everything but the state and the moment filled in; raises Refused.
Action = Callable[[ShopState, datetime], Step]


class StoreError(Exception):
    """Something about keeping the shop: `why` it went wrong, and what `would_do`. Its text is one line."""

    def __init__(self, why: str, would_do: str = "") -> None:
        self.why, self.would_do = visible(why), visible(would_do)
        super().__init__(f"{self.why}: {self.would_do}" if would_do else self.why)


class ShopUnusable(StoreError):
    """The folder cannot be opened or read as a shop."""


class CommitFailed(StoreError):
    """Nothing was saved; the state is as before."""


class Store(Protocol):
    """One open shop. `commit` is the only way in; everything else reads."""

    @property
    def state(self) -> ShopState:
        """The records as of change `state.seq`: the same object from open to close, changed only by this store.

        `state.jobs` and `state.parts` hold what is open. A job that is over (collected, or declined and gone)
        stands in `state.closed` as a summary from that very change on; `state.load_closed` brings it whole.
        """

    @property
    def read_only(self) -> str:
        """Why nothing can be committed, or "" when it can."""

    def commit(self, by: str, action: Action) -> Change:
        """Run `action` on the freshest state and keep its step, all or none; when this returns it is saved.

        Raises Refused as the action does, CommitFailed when nothing could be saved.
        """

    def refresh(self) -> tuple[Change, ...]:
        """Take in what other terminals committed since the last look, and return it in order."""

    def follow(self) -> None:
        """From now on `refresh` never waits for a network: what others commit is taken in beside it, soon after."""

    def changes(self, subject: int | None = None, since: int = 0) -> Iterator[Change]:
        """The history after change `since`, oldest first; with `subject`, only what concerns that job."""

    def closed_jobs(self) -> Iterator[tuple[Job, tuple[PartLine, ...]]]:
        """Every job of `state.closed` whole with its part lines, in no order; may run in a thread of its own.

        Raises ShopUnusable at the end, after all that can be read, where some cannot.
        """

    def undo(self, by: str, seq: int | None = None) -> Change:
        """Commit the opposite of change `seq` (default: the last one by this person not undone yet).

        Raises Refused, naming the later change, when any record it touched has changed since.
        """

    def undoable(self, by: str) -> Change | None:
        """What `undo(by)` would undo, or None."""

    def notices(self) -> tuple[str, ...]:
        """What a person must be told once (a torn last line that was cut, an index rebuilt); then forgotten."""

    def checkpoint(self) -> None:
        """Put the state at rest. Changes nothing that can be seen here. Raises CommitFailed."""

    def close(self) -> None:
        """Put the state at rest as far as possible and let go; safe to call twice."""
