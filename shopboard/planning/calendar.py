"""The shop's calendar as one axis of 15-minute slots: open hours, each person's hours, holidays, clock changes.

A day's slots run from the first to the last minute somebody works or the shop is open; days on which nobody does,
public holidays and the shop's closed days are not on the axis (`hours.OpenHours`). Slots are cut from UTC moments, so
that a day on which the clock changes has the slots it really has.
"""

from __future__ import annotations

from datetime import date, datetime, timedelta
from itertools import islice
from zoneinfo import ZoneInfo

from shopboard.records import Person, Role, Settings

from .closed_days import closed_days, holidays_around
from .hours import OpenHours, shift
from .tasks import SLOT, Calendar, Span
from .windows import ones

#: Open days on the axis from today on, and calendar days kept before it for promises and arrivals gone by.
OPEN_DAYS, DAYS_BACK = 120, 60


def shop_calendar(settings: Settings, now: datetime, open_days: int = OPEN_DAYS) -> Calendar:
    """The calendar from `now`'s day on: slot 0 is the first slot of today, or of the next day with work.

    Bays are open on the whole axis, people in their own hours (the shop's where they have none). Closures come on top.
    A shop without any hours works round the clock.
    """
    zone = ZoneInfo(settings.zone)
    people = [person for person in settings.people if Role.TECHNICIAN in person.roles]
    today = now.astimezone(zone).date()
    hours = OpenHours(settings, zone, closed_days(settings, holidays_around(settings, today)))
    spans = _before(hours, today) + _from(hours, today, open_days)
    end = spans[-1].first + spans[-1].slots if spans else 0
    ahead = [span for span in spans if span.first >= 0]
    return Calendar(
        tuple(spans),
        {bay.id: ones(0, end) for bay in settings.bays},
        {person.id: _mask(settings, person, ahead, zone) for person in people},
        settings.zone,
    )


def _before(hours: OpenHours, today: date) -> list[Span]:
    spans: list[Span] = []
    first = 0
    for back in range(1, DAYS_BACK + 1):
        span = _span(hours, today - timedelta(days=back), 0)
        if span:
            first -= span.slots
            spans.append(Span(span.day, first, span.start, span.slots))
    return spans[::-1]


def _from(hours: OpenHours, today: date, open_days: int) -> list[Span]:
    spans: list[Span] = []
    for day in islice(hours.days(today), open_days):
        first = spans[-1].first + spans[-1].slots if spans else 0
        span = _span(hours, day, first)
        spans += [span] if span else []
    return spans


def _span(hours: OpenHours, day: date, first: int) -> Span | None:
    """A day's slots from number `first` on; None on a day without work."""
    opened = hours.on(day)
    return Span(day, first, opened[0], (opened[1] - opened[0]) // SLOT) if opened else None


def _mask(settings: Settings, person: Person, spans: list[Span], zone: ZoneInfo) -> int:
    mask = 0
    for span in spans:
        hours = shift(settings, person.hours, span.day, zone)
        if hours:
            first = -((span.start - hours[0]) // SLOT)
            last = (hours[1] - span.start) // SLOT
            mask |= ones(span.first + max(0, first), span.first + min(span.slots, last))
    return mask
