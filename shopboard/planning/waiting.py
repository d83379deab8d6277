"""How long a job waits for a yes and for parts, from the shop's own past waits, those still open counted as "at least
this long" and a wait conditioned on how long it has lasted.

Lead times come from `memory.lead_times`; answers to estimates, and how late a supplier's own dates are, are waits of
the same kind. With few of them a default stands in as PRIOR more waits (common practice, no source). Between two waits
seen chances grow evenly; past the longest they go on at a constant rate.
"""

from __future__ import annotations

import math
from bisect import bisect_left
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta

from shopboard.memory.lead_times import LeadTimes, Wait
from shopboard.records import Job, PartLine, PartState, Settings

#: The default stands in as so many waits.
PRIOR = 4
#: Days until a customer answers an estimate: half have by then; each as many times that as this list says.
ANSWER_DAYS = 0.5
#: A default wait is its middle times these.
STAND_INS = (0.5, 0.8, 1.25, 2.0)
#: Share of repairs found in diagnosis that wait for an ordered part, before the records say better.
NEEDS_PARTS = 0.5
#: A part is taken to be there at this hour of its day.
ARRIVES = timedelta(hours=12)


@dataclass(frozen=True)
class Curve:
    """Chances of a wait being over by its days: `shares[i]` by `days[i]`, rising; past the last, `tail` days on average
    for what is left."""

    days: tuple[float, ...]
    shares: tuple[float, ...]
    tail: float

    def at(self, u: float) -> float:
        """The days by which a share `u` (0 to 1) of such waits is over.

        >>> curve([Wait(2, True), Wait(4, True), Wait(6, True)]).at(0.5)
        4.0
        """
        if u > self.shares[-1]:
            last, so_far = self.days[-1], self.shares[-1]
            return last + self.tail * math.log((1 - so_far) / max(1 - u, 1e-9))
        place = bisect_left(self.shares, u)
        if place == 0:
            return self.days[0]
        before, so_far = self.days[place - 1], self.shares[place - 1]
        here, share = self.days[place], self.shares[place]
        return before + (here - before) * (u - so_far) / (share - so_far)


def curve(waits: Iterable[Wait], waited: float = 0.0) -> Curve:
    """The chances of the next wait among these, given that it has lasted `waited` days: Kaplan-Meier, the next one
    counted as one more at risk (Berliner & Hill 1988, as the memory does)."""
    kept = sorted((w.end, not w.failed) for w in waits if w.end > waited or not waited)
    over = [end for end, is_open in kept if not is_open]
    days: list[float] = [waited]
    shares: list[float] = [0.0]
    good = 1.0
    for place, (end, is_open) in enumerate(kept):
        if is_open:
            continue
        good *= 1 - 1 / (len(kept) - place + 1)
        if days[-1] == end:
            shares[-1] = 1 - good
        else:
            days.append(end)
            shares.append(1 - good)
    middle = over[len(over) // 2] if over else waited
    rest = [end - middle for end in over if end >= middle]
    tail = max(sum(rest) / len(rest) if rest else 0.0, 0.25 * max(waited, middle, 1.0))
    return Curve(tuple(days), tuple(shares), tail)


@dataclass(frozen=True)
class Waiting:
    """What this shop knows of its waits: answers to estimates [days], how late parts came after the supplier's own date
    [days, whole], lead times, and how many repairs waited for an ordered part of how many."""

    answers: tuple[Wait, ...] = ()
    lateness: Mapping[str, tuple[Wait, ...]] = field(default_factory=dict)
    leads: LeadTimes = field(default_factory=lambda: LeadTimes({}))
    with_parts: int = 0
    repairs: int = 0

    @property
    def needs_parts(self) -> float:
        """The chance that a repair will wait for an ordered part."""
        return (self.with_parts + PRIOR * NEEDS_PARTS) / (self.repairs + PRIOR)

    def answer(self, waited: float = 0.0) -> Curve:
        """Days from asking to the answer, given the days waited so far."""
        return curve((*self.answers, *_stand_ins(ANSWER_DAYS)), waited)

    def late(self, supplier: str, so_far: float = 0.0) -> Curve:
        """Days after the supplier's own date until the part is here, given that it is `so_far` days late."""
        waits = self.lateness.get(supplier) or tuple(w for theirs in self.lateness.values() for w in theirs)
        return curve((*waits, *(Wait(days, True) for days in (0.0, 0.0, 0.0, 1.0))), so_far)

    def lead(self, supplier: str, lead_class: str, usual: float, waited: float = 0.0) -> Curve:
        """Days from ordering until the part is here, given the days since; `usual` is what shop.toml says."""
        known = self.leads.of(supplier, lead_class).waits if self.leads.orders else ()
        return curve((*known, *_stand_ins(usual)), waited)


def _stand_ins(middle: float) -> tuple[Wait, ...]:
    return tuple(Wait(middle * share, True) for share in STAND_INS)


def answers_of(jobs: Iterable[Job], now: datetime) -> tuple[Wait, ...]:
    """How long customers took to answer estimates; those unanswered have waited until `now`. A yes given in the same
    breath as it was asked (no time between) is no wait."""
    found = []
    for job in jobs:
        ask = job.approval
        if ask is not None and (ask.at is None or ask.at > ask.asked_at):
            found.append(Wait(max(0.0, ((ask.at or now) - ask.asked_at) / timedelta(days=1)), ask.at is not None))
    return tuple(found)


def lateness_of(lines: Iterable[PartLine], now: datetime) -> dict[str, tuple[Wait, ...]]:
    """Days, by supplier, that parts came after the date the supplier named last; those early count as on the day, those
    overdue as at least so late."""
    found: dict[str, list[Wait]] = {}
    for line in lines:
        if line.expected is None or line.ordered_at is None:
            continue
        end = (line.received_at or now).date()
        late = float((end - line.expected).days)
        if line.received_at is not None or late > 0:
            found.setdefault(line.supplier, []).append(Wait(max(late, 0.0), line.received_at is not None))
    return {supplier: tuple(waits) for supplier, waits in found.items()}


# -- one line ----------------------------------------------------------------------------------------------------------


NOT_HERE = (PartState.NEEDED, PartState.ORDERED, PartState.PARTLY_RECEIVED, PartState.BACK_ORDERED)


@dataclass(frozen=True)
class PartAhead:
    """When one line of parts will be here: `start` plus the days of `wait`."""

    line: PartLine
    start: datetime
    wait: Curve

    def at(self, u: float) -> datetime:
        """The moment by which it is here with probability `u`."""
        return self.start + timedelta(days=self.wait.at(u))


def part_ahead(line: PartLine, waiting: Waiting, settings: Settings, now: datetime, midnight: datetime) -> PartAhead:
    """When a line that is not here will be; `midnight` is the beginning of today in the shop's zone. A line with a date
    of its supplier's goes by how late that supplier is, one without by lead time, one not ordered is ordered now."""
    if line.expected is not None and line.state is not PartState.NEEDED:
        due = midnight + timedelta(days=(line.expected - midnight.date()).days) + ARRIVES
        so_far = max(0.0, (now - due) / timedelta(days=1))
        return PartAhead(line, due, waiting.late(line.supplier, so_far))
    supplier = settings.supplier(line.supplier)
    usual = max(0.25, float(supplier.usual_days)) if supplier else 3.0
    begun = line.ordered_at or now
    waited = max(0.0, (now - begun) / timedelta(days=1))
    return PartAhead(line, begun, waiting.lead(line.supplier, line.lead_class, usual, waited))


def parts_ahead(
    lines: Iterable[PartLine], waiting: Waiting, settings: Settings, now: datetime, midnight: datetime
) -> Sequence[PartAhead]:
    """Every line that is not here yet, the one that will be last first (by even chance)."""
    found = [part_ahead(line, waiting, settings, now, midnight) for line in lines if line.state in NOT_HERE]
    return sorted(found, key=lambda part: part.at(0.5), reverse=True)
