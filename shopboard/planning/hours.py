"""The shop's working time: when it is open, and moments counted in working minutes."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from shopboard.records import Settings
from shopboard.records.settings import DAYS

#: No shop is closed longer than this many days in a row; past it the calendar is empty.
_FAR = 60


def opening(settings: Settings, day: date, zone: ZoneInfo) -> tuple[datetime, datetime] | None:
    """When the shop opens and closes on a day, as UTC moments; None when it is closed."""
    hours = settings.hours.get(DAYS[day.weekday()])  # type: ignore[call-overload]
    if hours is None:
        return None
    start, end = (time.fromisoformat(clock) for clock in hours.split("-"))
    if end <= start:
        return None
    return tuple(datetime.combine(day, clock, zone).astimezone(UTC) for clock in (start, end))  # type: ignore[return-value]


def open_days(settings: Settings, first: date) -> Iterator[date]:
    """The days the shop is open, from `first` on; ends after two months without one."""
    day, closed = first, 0
    while closed < _FAR:
        if DAYS[day.weekday()] in settings.hours:
            closed = 0
            yield day
        else:
            closed += 1
        day += timedelta(days=1)


def working_days_between(settings: Settings, first: date, last: date) -> int:
    """Open days after `first` up to and including `last`; negative when `last` comes before `first`.

    >>> week = Settings(name="s", hours={"mon": "08:00-17:00", "tue": "08:00-17:00", "fri": "08:00-17:00"})
    >>> working_days_between(week, date(2026, 11, 24), date(2026, 11, 30))  # a Tuesday to a Monday: Fri, Mon
    2
    """
    if last < first:
        return -working_days_between(settings, last, first)
    weeks, rest = divmod((last - first).days, 7)
    days = (DAYS[(first.weekday() + n) % 7] for n in range(1, rest + 1))
    return weeks * len(settings.hours) + sum(1 for day in days if day in settings.hours)


def after_working(settings: Settings, start: datetime, minutes: float, zone: ZoneInfo) -> datetime:
    """The moment when `minutes` of the shop's working time have passed after `start`, UTC.

    A shop that is never open works round the clock.
    """
    left = timedelta(minutes=minutes)
    end = start
    for day in open_days(settings, start.astimezone(zone).date()):
        hours = opening(settings, day, zone)
        if hours is None or hours[1] <= start:
            continue
        begin = max(start, hours[0])
        if begin + left <= hours[1]:
            return begin + left
        left -= hours[1] - begin
        end = hours[1]
    return end + left
