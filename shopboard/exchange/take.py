"""One import from rows to a step: which kind of list, laid over the shop as it is at that moment."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

from shopboard.records import ShopState, Step
from shopboard.shop.guards import signed
from shopboard.shop.roles import permit

from .entries import Entry
from .fields import NAMES
from .outcome import Outcome, Rejected

if TYPE_CHECKING:
    from shopboard.trouble import Book


def no_tick() -> None:
    """Nobody watches."""


@dataclass(frozen=True)
class List:
    """A list read from a file: its kind, the file's name, its entries and the rows that could not be read."""

    kind: str
    name: str
    entries: Sequence[Entry]
    unread: Sequence[Rejected]


def take(
    state: ShopState, now: datetime, by: str, given: List, book: Book, tick: Callable[[], None] = no_tick
) -> Outcome:
    """What the list comes to over the shop as it is. Raises Refused where `by` may not take in lists."""
    signed(state, by)
    permit(state.settings, by, "data.take_in")
    zone = ZoneInfo(state.settings.zone)
    if given.kind == "customers":
        from .take_customers import take_customers

        outcome = take_customers(state, given.entries, tick)
    elif given.kind == "machines":
        from .take_machines import take_machines

        outcome = take_machines(state, given.entries, now, zone, tick)
    elif given.kind == "parts":
        from .take_parts import take_parts

        outcome = take_parts(state, given.entries, now, by, tick)
    else:
        from .take_past_jobs import take_past_jobs

        outcome = take_past_jobs(state, given.entries, now, zone, by, book, tick)
    outcome.rejected = sorted([*given.unread, *outcome.rejected], key=lambda one: one.row.number)
    return outcome


def step_of(outcome: Outcome, given: List) -> Step:
    """The one step that keeps all of it."""
    words = outcome.words(*NAMES[given.kind])
    return Step(f"{given.kind} taken in from {given.name}: {words}.", tuple(outcome.puts.values()))
