"""Promises drawn from many futures: how sure each open job is to be on time, and the earliest date that holds.

In each future the shop decides anew what comes next (`many`); a probability is the share of futures. A new job's date
is found by asking with no date at all, then with the date so found, which a more urgent job can only better: what comes
out holds with the probability asked for when it is given, and presses no other job more than it must.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from functools import cached_property

from .draws import DRAWS, Array, Draws, Luck, draw
from .many import Axis, axis_of, finishes
from .problem import Reckoned

#: A date is promised for this time of its day, in the shop's zone.
CLOCK = timedelta(hours=17)
#: So often a date is asked for again as the promise it would be.
_ROUNDS = 2
_NO_DATE = 10**6


@dataclass(frozen=True)
class Futures:
    """The futures drawn, and when each job is done in each of them (by draw and job, in slots)."""

    reckoned: Reckoned
    draws: Draws
    axis: Axis
    luck: Luck

    @cached_property
    def done(self) -> Array:
        """The slot by which each job is done, by draw and job."""
        return finishes(self.draws, self.axis)

    def by(self, job: int, slot: int) -> float:
        """The share of futures in which a job is done by the beginning of a slot."""
        return float((self.done[:, self.draws.place(job)] <= slot).mean())

    def slot_for(self, job: int, share: float) -> int | None:
        """The slot by which a job is done with this probability, the true future counted as one more among those drawn;
        None if that is past the axis."""
        import numpy as np

        done = np.sort(self.done[:, self.draws.place(job)])
        slot = int(done[min(len(done), max(1, math.ceil(share * (len(done) + 1) - 1e-9))) - 1])
        return slot if slot <= self.axis.end else None

    def with_due(self, job: int, slot: int) -> Futures:
        """The same futures with another date for one job."""
        due = self.draws.due.copy()
        due[self.draws.place(job)] = slot
        return replace(self, draws=replace(self.draws, due=due))

    def with_draws(self, draws: Draws) -> Futures:
        """The same futures but for what was drawn anew."""
        return replace(self, draws=draws)


def futures(reckoned: Reckoned, luck: Luck, *, many: int = DRAWS) -> Futures:
    """Futures of the shop; `luck` gives a generator for each job (numpy), the same at each call for the same number."""
    problem = reckoned.problem
    axis = axis_of(problem.calendar, [p.id for p in problem.people], [b.id for b in problem.bays])
    return Futures(reckoned, draw(reckoned, luck, many=many), axis, luck)


@dataclass(frozen=True)
class Risk:
    """How sure one open job is: the probability of being done by its promise (None: nothing promised), the moments by
    which it is done with even chance and with the shop's probability (None: past the calendar)."""

    job: int
    on_time: float | None
    even: datetime | None
    sure: datetime | None


def risks(found: Futures, level: float) -> dict[int, Risk]:
    """The risk of every job with steps ahead."""
    calendar = found.reckoned.problem.calendar
    result = {}
    for ahead in found.reckoned.problem.jobs:
        slots = [found.slot_for(ahead.job, share) for share in (0.5, level)]
        even, sure = (calendar.end_moment(slot) if slot is not None else None for slot in slots)
        on_time = found.by(ahead.job, ahead.promise) if ahead.promise is not None else None
        result[ahead.job] = Risk(ahead.job, on_time, even, sure)
    return result


@dataclass(frozen=True)
class Offer:
    """A date one could promise: the moment (the shop's closing of that day), and the probability that it holds."""

    day: date
    moment: datetime
    probability: float


def slot_that_holds(found: Futures, job: int, level: float) -> tuple[int, Futures] | None:
    """The earliest slot by which a job with no date yet is done with probability `level` if that is its promise, and
    the futures in which it is; None if the calendar ends before."""
    asked = found.with_due(job, _NO_DATE)
    slot = asked.slot_for(job, level)
    for _ in range(_ROUNDS):
        if slot is None:
            return None
        asked = found.with_due(job, slot)
        better = asked.slot_for(job, level)
        if better is None or better >= slot:
            break
        slot = better
    return (slot, asked) if slot is not None else None


def offers(found: Futures, job: int, level: float, *, most: int = 3) -> tuple[Offer, ...]:
    """The first day that holds with probability `level`, with the days around it: one before, if any, and those after.
    Empty if no day of the calendar holds."""
    held = slot_that_holds(found, job, level)
    if held is None:
        return ()
    _, asked = held
    days = [Offer(day, moment, asked.by(job, slot)) for day, moment, slot in _days(asked.reckoned)]
    first = next((n for n, offer in enumerate(days) if offer.probability >= level), None)
    if first is None:
        return ()
    return tuple(days[max(0, first - 1) : first + most - 1])


def offered(found: tuple[Offer, ...], level: float) -> Offer | None:
    """The first of the offers that holds with probability `level`."""
    return next((offer for offer in found if offer.probability >= level), None)


def _days(reckoned: Reckoned) -> Iterator[tuple[date, datetime, int]]:
    """Each day of the calendar from today on: the day, its CLOCK or closing if that is earlier, and the slot of it."""
    calendar = reckoned.problem.calendar
    for span in calendar.spans:
        if span.first + span.slots <= reckoned.problem.now:
            continue
        midnight = datetime(span.day.year, span.day.month, span.day.day, tzinfo=reckoned.zone)
        moment = midnight.replace(hour=int(CLOCK / timedelta(hours=1)))
        if moment > reckoned.now:
            yield span.day, moment, calendar.deadline(moment)
