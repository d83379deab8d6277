"""One change on its way into the journal, and what became of it when the connection was lost meanwhile.

A change carries an id of its own, and the server keeps an id once. So the very same request may be made again: it
answers whether the change is there, keeps it if nothing came after what it stands on, or says that it never will be.
"""

from __future__ import annotations

import contextlib
import time
from collections.abc import Callable
from dataclasses import dataclass
from uuid import UUID

import psycopg

from shopboard.records import Change

from .branch import Branch, touched_by
from .connection import LOCK_WAIT, Link

_PAUSES = (0.05, 0.1, 0.2, 0.4, 0.8, 1.0, 1.0, 1.0, 1.0)

#: Called with the name of each step of a commit; tests cut the connection there.
hook: Callable[[str], None] | None = None


def reached(step: str) -> None:
    """Tell the hook, if there is one."""
    if hook is not None:
        hook(step)


@dataclass(frozen=True)
class Append:
    """A change that is to come after `after` (whose id is `after_id`), under an id of its own."""

    branch: int
    after: int
    after_id: UUID | None
    id: UUID
    change: Change
    line: bytes

    def send(self, link: Link) -> str:
        """Ask the server to keep it: "kept", "there", "behind", "other" or "given up" (see schema/0001.sql).

        Raises psycopg.Error; then nobody knows, unless the server said no.
        """
        reached("before append")
        kinds, records = touched_by(self.change)
        found = link.execute(
            "select outcome from shopboard.append(%s, %s, %s, %s, %s, %s::text[], %s::bigint[], %b)",
            (
                self.branch,
                self.after,
                self.after_id,
                self.id,
                self.change.subject,
                kinds,
                records,
                self.line,
            ),
        ).fetchone()
        reached("answered")
        return str(found[0]) if found else "other"

    def ask_again(self, connect: Callable[[], Link]) -> tuple[str, Link]:
        """After a lost connection: the same request on new ones until the server answers, and the one it answered on.

        Raises psycopg.Error when it has not for so long as one waits for another writer.
        """
        until = time.monotonic() + LOCK_WAIT
        for pause in _PAUSES:
            link: Link | None = None
            try:
                link = connect()
                return self.send(link), link
            except psycopg.Error:
                if link is not None:
                    with contextlib.suppress(psycopg.Error):
                        link.close()
                if time.monotonic() > until or pause is _PAUSES[-1]:
                    raise
            time.sleep(pause)
        raise AssertionError("the last pause raises")

    @property
    def about(self) -> str:
        """What a person knows it by."""
        return self.change.why


@dataclass(frozen=True)
class Settled:
    """What became of a change nobody knew of: its number, 0 if it was not kept and never will be."""

    append: Append
    seq: int

    @property
    def by(self) -> str:
        """Whose it was."""
        return self.append.change.by

    @property
    def said(self) -> str:
        """One sentence."""
        if self.seq:
            return f"“{self.append.about}” was saved after all before the server went away, as change {self.seq}"
        return f"“{self.append.about}” was not saved when the server went away: do it again"


def settle(link: Link, append: Append) -> Settled:
    """Ask what became of it, so that it can no longer arrive late. Raises psycopg.Error."""
    found = link.execute("select shopboard.settle(%s, %s)", (append.branch, append.id)).fetchone()
    return Settled(append, int(found[0]) if found else 0)


def notify(link: Link, branch: Branch, seq: int) -> None:
    """Hint to other terminals that there is something to read; if it gets lost they look by themselves.

    In a transaction of its own that waits for no disk: within the commit itself it would make all branches wait for
    each other, since the server commits what notifies one after the other.
    """
    with contextlib.suppress(psycopg.Error):
        link.execute(
            "select set_config('synchronous_commit', 'off', true), pg_notify(%s, %s)", (branch.channel, str(seq))
        )
