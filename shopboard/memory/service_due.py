"""What falls due on which machine and when: by hours at its own use and duty, or by months; hidden points first.

Intervals are the machine's own manual's; where the model has none, the shop's defaults from its trouble book.
"""

from __future__ import annotations

import heapq
import math
from collections.abc import Collection, Iterable, Mapping, Sequence
from datetime import date
from typing import Literal, NamedTuple

import msgspec

from shopboard.estimate.labour import CoverTimes, access_minutes
from shopboard.mechanics.greasing import interval
from shopboard.records import Duty, Machine, Model, ServicePoint

from .done import Done, last_done
from .figures import count, hours
from .meters import AgeLine, age_line
from .use import Fleet, Use, fleet, use_of

#: What decides when a point is due.
Limit = Literal["hours", "months"]
_HOURS: Limit = "hours"
_MONTHS: Limit = "months"
#: Days in a month, on the average.
MONTH = 365.25 / 12


class ServiceDue(msgspec.Struct, frozen=True, kw_only=True):
    """When one point of one machine is due: `day` with its band (None where the use is not known), at machine age
    `due_age` [h], `by` which limit, whether it is `overdue` today, `hidden` behind `covers`, and whether it was ever
    `noted` as done. `minutes` are the point's own; `used` is the share of its interval used up by now, by hours or by
    months, whichever is more (1: due)."""

    machine: int
    customer: int
    model: str
    point: str
    name: str
    minutes: float
    covers: tuple[str, ...]
    due_age: float
    by: Limit
    overdue: bool
    noted: bool
    said: str
    day: date | None = None
    low: date | None = None
    high: date | None = None
    used: float = 0.0

    @property
    def hidden(self) -> bool:
        """Whether a cover must come off to reach it: such points are the ones that get skipped."""
        return bool(self.covers)


class Call(msgspec.Struct, frozen=True):
    """A customer to ring: which points of which machines are due, the first `day` among them, and what to say."""

    customer: int
    day: date
    dues: tuple[ServiceDue, ...]
    said: str


class Marginal(msgspec.Struct, frozen=True):
    """A point that is due, done while covers are off anyhow: minutes it `adds`, and minutes it takes `alone`."""

    due: ServiceDue
    adds: float
    alone: float
    said: str


def points_of(model: Model | None, defaults: Iterable[ServicePoint] = ()) -> tuple[ServicePoint, ...]:
    """The model's own service points, else the shop's defaults."""
    return (model.service_points if model else ()) or tuple(defaults)


class NeverNoted(NamedTuple):
    """Points past their interval that were never noted as done: how many, on how many machines, how many hidden. The
    customer may have seen to them, so they are to be asked about rather than rung for."""

    points: int
    machines: int
    hidden: int


class Service(NamedTuple):
    """What is due, a sentence for each machine of which nothing can be said, the points never noted, and how `many`
    are due in all."""

    dues: tuple[ServiceDue, ...]
    silent: tuple[str, ...]
    never_noted: NeverNoted
    many: int = 0


class _When(NamedTuple):
    """When a point is due: at which age, the day (counted as `date.toordinal` does; None: not known), by which limit,
    whether it is past, ever noted, and how much of its interval is used up."""

    age: float
    day: int | None
    by: Limit
    overdue: bool
    noted: bool
    used: float


class OfMachine(NamedTuple):
    """What is due on one machine, how many points past their interval were never noted and how many of those are
    hidden, and the sentence why nothing can be said, if so. Few of all that is due is ever shown, so bands and
    sentences are made when asked for."""

    machine: Machine
    line: AgeLine | None = None
    use: Use | None = None
    within: float = 0.0
    soon: tuple[tuple[ServicePoint, _When], ...] = ()
    unknown: int = 0
    hidden: int = 0
    silent: str = ""

    @property
    def dues(self) -> tuple[ServiceDue, ...]:
        """What is due, whole."""
        return tuple(self.due(point, when) for point, when in self.soon)

    def due(self, point: ServicePoint, when: _When) -> ServiceDue:
        """One of `soon` whole."""
        assert self.line is not None
        machine, now = self.machine, self.line.now
        day, low, high = self._band(when)
        return ServiceDue(
            machine=machine.id,
            customer=machine.customer,
            model=machine.model,
            point=point.id,
            name=point.name,
            minutes=point.minutes,
            covers=point.covers,
            due_age=when.age,
            by=when.by,
            overdue=when.overdue,
            noted=when.noted,
            day=day,
            low=low,
            high=high,
            said=_sentence(point, when, now, day, low, high),
            used=when.used,
        )

    def _band(self, when: _When) -> tuple[date | None, date | None, date | None]:
        if when.day is None or self.line is None:
            return None, None, None
        day = date.fromordinal(when.day)
        if when.by == "months" or self.line.now >= when.age or self.use is None:
            return day, day, day
        read = self.line.times[-1].date().toordinal()
        weeks = self.use.weeks_to(when.age - self.line.now, self.within)
        low, high = (date.fromordinal(read + _days(each)) for each in weeks[1:])
        return day, low, high


def service_due(
    machines: Iterable[Machine],
    points: Mapping[str, Sequence[ServicePoint]],
    done: Iterable[Done],
    today: date,
    within: int = 28,
    *,
    noted_only: bool = False,
) -> Service:
    """What is overdue or falls due `within` days of `today`, hidden points first, then by day. `points` are the service
    points by model id. With `noted_only`, points never noted as done here are counted and not listed."""
    every = list(machines)
    known = fleet(every)
    last = last_done(done)
    return service_of(
        due_on(each, points.get(each.model, ()), last.get(each.id, {}), known, today, within, noted_only=noted_only)
        for each in every
    )


def due_on(
    machine: Machine,
    points: Iterable[ServicePoint],
    last: Mapping[str, Done],
    known: Fleet,
    today: date,
    within: int = 28,
    *,
    noted_only: bool = False,
    line: AgeLine | str | None = None,
) -> OfMachine:
    """What is overdue or falls due `within` days on one machine; `last` says when its points were seen to, `line` is
    its `age_line` where that was made before."""
    line = age_line(machine) if line is None else line
    if isinstance(line, str):
        return OfMachine(machine, silent=line)
    use, until = use_of(machine, known), today.toordinal() + within
    ahead = _Ahead(line, machine.duty, use.middle if use else None, today.toordinal())
    soon: list[tuple[ServicePoint, _When]] = []
    unknown: list[bool] = []
    for point in points:
        when = ahead.when(point, last.get(point.id))
        if when.overdue or (when.day is not None and when.day <= until):
            if not when.noted:
                unknown.append(bool(point.covers))
            if when.noted or not noted_only:
                soon.append((point, when))
    return OfMachine(machine, line, use, known.within, tuple(soon), len(unknown), sum(unknown))


def service_of(machines: Iterable[OfMachine], most: int | None = None) -> Service:
    """What is due on machines together (the first `most`), hidden points first, then by day."""
    every = list(machines)
    soon = [(_urgency(each, *due), each, due) for each in every for due in each.soon]
    first = heapq.nsmallest(len(soon) if most is None else most, soon, key=lambda row: row[0])
    lacking = [each for each in every if each.unknown]
    never = NeverNoted(sum(o.unknown for o in lacking), len(lacking), sum(o.hidden for o in lacking))
    dues = tuple(each.due(*due) for _, each, due in first)
    return Service(dues, tuple(each.silent for each in every if each.silent), never, len(soon))


#: After every day there is.
_NEVER = date.max.toordinal()


def _urgency(of: OfMachine, point: ServicePoint, when: _When) -> tuple[bool, int, int, str]:
    return not point.covers, _NEVER if when.day is None else when.day, of.machine.id, point.id


class _Ahead:
    """Days ahead of one machine, counted as `date.toordinal` does: asked for every point of every machine."""

    def __init__(self, line: AgeLine, duty: Duty, per_week: float | None, today: int) -> None:
        self.line, self.duty, self.per_week, self.today = line, duty, per_week, today
        self.now, self.read = line.now, line.times[-1].toordinal()
        self.first = line.since, line.times[0].toordinal()

    def when(self, point: ServicePoint, last: Done | None) -> _When:
        """When a point seen to `last` is due; one never noted counts from when the machine was first watched."""
        from_age, from_day = self.first if last is None else self._since(last)
        every, now, today = interval(point, self.duty), self.now, self.today
        due_age = from_age + every
        day, by = self._by_hours(due_age), _HOURS
        used = (now - from_age) / every if every else 1.0
        if point.months:
            month_day = from_day + round(point.months * MONTH)
            if day is None or month_day < day:
                day, by = month_day, _MONTHS
            used = max(used, (today - from_day) / (point.months * MONTH))
        overdue = now >= due_age or (day is not None and day < today)
        return _When(due_age, day, by, overdue, last is not None, max(used, 0.0))

    def _since(self, last: Done) -> tuple[float, int]:
        line, age = self.line, last.age
        if age is None:
            age = line.at(last.at, None)
        if age is None:
            age = line.ages[0] if last.at < line.times[0] else line.now
        return age, last.at.toordinal()

    def _by_hours(self, due_age: float) -> int | None:
        if self.now >= due_age:
            return self.today
        if self.per_week is None:
            return None
        return self.read + _days((due_age - self.now) / self.per_week)


def _days(weeks: float) -> int:
    return math.floor(min(weeks * 7, 36_500))


def _sentence(
    point: ServicePoint, when: _When, now: float, day: date | None, low: date | None, high: date | None
) -> str:
    first = "" if when.noted else ", never noted as done here"
    if now > when.age:
        return f"{point.name}: overdue by {hours(now - when.age)}{first}"
    if now == when.age:
        return f"{point.name}: due now{first}"
    if day is None or low is None or high is None:
        return f"{point.name}: due at {when.age:,.0f} h; when that is cannot be told{first}"
    if when.by == "months":
        return f"{point.name}: {'overdue since' if when.overdue else 'due on'} {day:%d %b %Y} by the calendar{first}"
    word = "probably overdue since" if when.overdue else "due about"
    return f"{point.name}: {word} {day:%d %b %Y} ({low:%d %b} to {high:%d %b %Y}) at {when.age:,.0f} h{first}"


def calls(dues: Iterable[ServiceDue], names: Mapping[int, str], today: date) -> tuple[Call, ...]:
    """The customers to ring for what is due, the earliest first; `names` are the customers'."""
    by_customer: dict[int, list[ServiceDue]] = {}
    for each in dues:
        by_customer.setdefault(each.customer, []).append(each)
    found = []
    for customer, theirs in by_customer.items():
        day = min(max(each.day or today, today) for each in theirs)
        late = sum(1 for each in theirs if each.overdue)
        machines = count(len({each.machine for each in theirs}), "machine")
        hidden = sum(1 for each in theirs if each.hidden)
        said = f"{names.get(customer, f'customer {customer}')}: {count(len(theirs), 'point')} due on {machines}"
        said += f", {late} of them overdue" if late else ""
        said += f", {hidden} behind covers" if hidden else ""
        found.append(Call(customer, day, tuple(theirs), said))
    return tuple(sorted(found, key=lambda call: (call.day, call.customer)))


def marginal(
    dues: Iterable[ServiceDue], covers: Mapping[str, CoverTimes], off: Collection[str]
) -> tuple[Marginal, ...]:
    """What each due point adds while the covers `off` are off anyhow, what adds least first; points whose covers are
    not known are left out."""
    found = []
    for each in dues:
        if all(cover in covers for cover in each.covers):
            adds = each.minutes + access_minutes(each.covers, covers, off)
            alone = each.minutes + access_minutes(each.covers, covers)
            said = f"{each.name}: {adds:.0f} min more now, {alone:.0f} min on its own"
            found.append(Marginal(each, adds, alone, said))
    return tuple(sorted(found, key=lambda one: (one.adds - one.alone, one.adds, one.due.point)))
