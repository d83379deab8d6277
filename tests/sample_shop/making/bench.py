"""The shop while its past is made: a state, a clock, and every step through the shop's own rules.

First the steps only act on the state (the years before the board, which were kept on cards). From `open_board` on they
are committed to a real store in a folder, and its journal is what the sample ships.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from pathlib import Path
from typing import Any

from shopboard.records import Change, Job, ShopState, Step
from shopboard.store import open_shop
from shopboard.store.replay import Unfiled, apply, operations

from .sources import Sources


class Bench:
    """The shop's state and what may be done to it."""

    def __init__(self, given: Sources) -> None:
        self.given, self.book = given, given.book
        self._unfiled = Unfiled()
        self._cards = ShopState(settings=given.settings, models=given.models, covers=given.book.covers)
        self._cards.load_closed = self._unfiled.jobs.get
        self._store: Any = None
        self._now: datetime | None = None
        self.changed_at: datetime | None = None

    @property
    def state(self) -> ShopState:
        """The records as they are now."""
        return self._store.state if self._store else self._cards

    def do(self, when: datetime, by: str, rule: Callable[..., Step], *args: Any, **named: Any) -> Job | None:
        """Run a rule at this moment and keep what it answers; returns the job it is about, as it is afterwards."""
        change = self._keep(when, by, lambda state, now: rule(state, now, by, *args, **named))
        return self.state.jobs.get(change.subject) if change.subject is not None else None

    def put(self, when: datetime, by: str, step: Step) -> None:
        """Keep a step that no rule made."""
        self._keep(when, by, lambda state, now: step)

    def _keep(self, when: datetime, by: str, action: Callable[[ShopState, datetime], Step]) -> Change:
        self._now = when
        if self._store:
            return self._store.commit(by, action)
        step = action(self._cards, when)
        change = Change(
            seq=self._cards.seq + 1,
            at=when,
            by=by,
            why=step.why,
            ops=operations(step, self._cards),
            subject=step.subject,
        )
        apply(self._cards, self._unfiled, [change])
        return change

    def open_board(self, folder: Path, when: datetime, by: str, why: str) -> None:
        """From now on the board keeps the shop: what the cards say is typed in as its first change."""
        cards = self._cards
        whole = [self._unfiled.jobs[id] for id in sorted(self._unfiled.jobs)]
        closed = [record for job, lines in whole for record in (job, *lines)]
        tables = (cards.customers, cards.machines, cards.jobs, cards.parts)
        puts = (*(record for kept in tables for record in kept.values()), *closed)
        self._store = open_shop(folder, clock=lambda: self._now)
        self._store.state.covers = self.book.covers
        self._keep(when, by, lambda state, now: Step(why, puts))

    def changes(self) -> list[Change]:
        """The journal so far."""
        return list(self._store.changes())

    def close(self) -> None:
        """Let go of the store."""
        self._store.close()
