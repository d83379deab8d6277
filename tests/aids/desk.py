"""A small shop with a job at each turn of the road, made by the rules."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import timedelta
from decimal import Decimal
from pathlib import Path
from typing import Any

from aids.shops import Clock, make_shop
from shopboard.records import Step
from shopboard.shop import approval, bays, evidence, stages
from shopboard.shop.intake import Intake, NewCustomer, NewMachine, take_in
from shopboard.store import FolderStore, read_book

#: What somebody may type into any field.
HOSTILE = "[left] [/b] \x1b[31mred\x1b[0m \x07 \u202eback\u202c 犬 " + "x" * 200


@dataclass
class Desk:
    """Steps on an open store, a minute apart."""

    store: FolderStore
    clock: Clock

    def do(self, rule: Callable[..., Step], *given: Any, by: str = "ana", **named: Any) -> int:
        """Commit what the rule says; the job it concerns."""
        self.clock.pass_(minutes=1)
        return self.store.commit(by, lambda state, now: rule(state, now, by, *given, **named)).subject or 0

    def take_in(self, name: str, complaint: str, *symptoms: str, promise_days: int | None = None) -> int:
        """A customer with an in-line machine comes in; the job."""
        intake = Intake(
            customer=NewCustomer(name=name, phone="555 01"),
            machine=NewMachine(model="in-line-1", serial=name[:20]),
            complaint=complaint,
            symptoms=symptoms,
            promise=self.clock.at + timedelta(days=promise_days) if promise_days is not None else None,
        )
        return self.do(take_in, intake, book=read_book(None))


def small_day(folder: Path) -> None:
    """A shop in `folder` with three jobs: T-0001 on the lift, T-0002 waiting for a yes, T-0003 just arrived."""
    clock = Clock()
    desk = Desk(make_shop(folder, clock), clock)
    first = desk.take_in("Hill Vineyard", "slow going up the hill when warm", "weak-when-hot", promise_days=1)
    desk.do(bays.put, first, "1", "ana")
    desk.do(stages.diagnose, first, "ana")
    second = desk.take_in("Lake Golf", "clunks as it changes over", "clunk")
    desk.do(stages.diagnose, second, "bo")
    desk.do(evidence.find, second, "other", "key sheared", book=read_book(None))
    desk.do(approval.ask, second, Decimal("412.00"))
    desk.take_in(HOSTILE, HOSTILE, "weak-drive")
    desk.store.close()
