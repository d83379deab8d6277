"""The shop's calendar as one axis of 15-minute slots: open hours, each person's hours, holidays, clock changes.

A day's slots run from the first to the last minute somebody works or the shop is open; days on which nobody does,
public holidays and the shop's closed days are not on the axis. Slots are cut from UTC moments, so that a day on which
the clock changes has the slots it really has.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import UTC, date, datetime, time, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from shopboard.records import Person, Role, Settings
from shopboard.records.settings import DAYS

from .closed_days import closed_why
from .tasks import SLOT, Calendar, Span
from .windows import ones

#: Open days on the axis from today on, and calendar days kept before it for promises and arrivals gone by.
OPEN_DAYS, DAYS_BACK = 120, 60
#: After so many days in a row without work the axis ends.
_FAR = 60

_Hours = tuple[datetime, datetime]


def shop_calendar(settings: Settings, now: datetime, open_days: int = OPEN_DAYS) -> Calendar:
    """The calendar from `now`'s day on: slot 0 is the first slot of today, or of the next day with work.

    Bays are open on the whole axis, people in their own hours (the shop's where they have none). Closures come on top.
    A shop without any hours works round the clock.
    """
    zone = ZoneInfo(settings.zone)
    people = [person for person in settings.people if Role.TECHNICIAN in person.roles]
    today = now.astimezone(zone).date()
    spans = _before(settings, people, today, zone) + _from(settings, people, today, zone, open_days)
    end = spans[-1].first + spans[-1].slots if spans else 0
    ahead = [span for span in spans if span.first >= 0]
    return Calendar(
        tuple(spans),
        {bay.id: ones(0, end) for bay in settings.bays},
        {person.id: _mask(settings, person, ahead, zone) for person in people},
        settings.zone,
    )


def _before(settings: Settings, people: list[Person], today: date, zone: ZoneInfo) -> list[Span]:
    spans: list[Span] = []
    first = 0
    for back in range(1, DAYS_BACK + 1):
        day = today - timedelta(days=back)
        span = _span(settings, people, day, zone)
        if span:
            first -= span.slots
            spans.append(Span(day, first, span.start, span.slots))
    return spans[::-1]


def _from(settings: Settings, people: list[Person], today: date, zone: ZoneInfo, open_days: int) -> list[Span]:
    spans: list[Span] = []
    day, first, idle = today, 0, 0
    while len(spans) < open_days and idle < _FAR:
        span = _span(settings, people, day, zone)
        idle = 0 if span else idle + 1
        if span:
            spans.append(Span(day, first, span.start, span.slots))
            first += span.slots
        day += timedelta(days=1)
    return spans


def _span(settings: Settings, people: list[Person], day: date, zone: ZoneInfo) -> Span | None:
    """A day's open time, its slots not yet numbered; None when nobody works."""
    if closed_why(settings, day):
        return None
    hours = [_on(settings, settings.hours, day, zone), *(_on(settings, person.hours, day, zone) for person in people)]
    known = [one for one in hours if one]
    if not known:
        return None
    start, end = min(one[0] for one in known), max(one[1] for one in known)
    return Span(day, 0, start, (end - start) // SLOT) if end - start >= SLOT else None


def _on(settings: Settings, hours: Mapping[Any, str], day: date, zone: ZoneInfo) -> _Hours | None:
    """Opening and closing on a day by one table of hours (an empty one: the shop's), UTC."""
    table: Mapping[Any, str] = hours or settings.hours
    if not table:
        return _at(day, time(), zone), _at(day + timedelta(days=1), time(), zone)
    text = table.get(DAYS[day.weekday()])
    if text is None:
        return None
    try:
        start, end = (_at(day, time.fromisoformat(clock), zone) for clock in text.split("-"))
    except ValueError:  # a person's hours are not checked where they are read
        return None if table is settings.hours else _on(settings, settings.hours, day, zone)
    return (start, end) if end > start else None


def _at(day: date, clock: time, zone: ZoneInfo) -> datetime:
    return datetime.combine(day, clock, zone).astimezone(UTC)


def _mask(settings: Settings, person: Person, spans: list[Span], zone: ZoneInfo) -> int:
    mask = 0
    for span in spans:
        hours = _on(settings, person.hours, span.day, zone)
        if hours:
            first = -((span.start - hours[0]) // SLOT)
            last = (hours[1] - span.start) // SLOT
            mask |= ones(span.first + max(0, first), span.first + min(span.slots, last))
    return mask
