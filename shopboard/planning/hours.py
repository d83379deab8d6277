"""The shop's working time: which days have work and from when until when, and time counted in working minutes and days.

Everything that counts working time goes by this: the plan's axis, the hours on the Floor, days to spare.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import UTC, date, datetime, time, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from shopboard.records import Role, Settings
from shopboard.records.settings import DAYS

#: Nobody works for less than this; a shorter day is none.
LEAST = timedelta(minutes=15)
#: No shop is closed longer than this many days in a row; past it the calendar is empty.
FAR = 60

#: From when until when, UTC.
Opening = tuple[datetime, datetime]


def shift(settings: Settings, hours: Mapping[Any, str], day: date, zone: ZoneInfo) -> Opening | None:
    """From when until when one works on a day by a table of hours (an empty one: the shop's own), as UTC moments;
    None for not at all. Without any hours one works round the clock; hours that cannot be read are the shop's.
    """
    table: Mapping[Any, str] = hours or settings.hours
    if not table:
        return _at(day, time(), zone), _at(day + timedelta(days=1), time(), zone)
    text = table.get(DAYS[day.weekday()])
    if text is None:
        return None
    try:
        start, end = (_at(day, time.fromisoformat(clock), zone) for clock in text.split("-"))
    except ValueError:  # a person's hours are not checked where they are read
        return None if table is settings.hours else shift(settings, settings.hours, day, zone)
    return (start, end) if end > start else None


def _at(day: date, clock: time, zone: ZoneInfo) -> datetime:
    return datetime.combine(day, clock, zone).astimezone(UTC)


class OpenHours:
    """When the shop has work, day by day: from the first to the last minute at which it is open or a technician works.

    `closed` are days without work whatever the week says, with the reason (`closed_days.closed_around`). Days are kept
    once reckoned: make one of these for a whole drawing.

    >>> week = Settings(name="s", hours={"mon": "08:00-17:00", "tue": "08:00-17:00", "fri": "08:00-17:00"})
    >>> hours = OpenHours(week, ZoneInfo("UTC"), {date(2026, 12, 8): "holiday"})
    >>> hours.days_between(date(2026, 11, 24), date(2026, 11, 30))  # a Tuesday to a Monday: Fri, Mon
    2
    >>> hours.days_between(date(2026, 12, 7), date(2026, 12, 11))  # Tuesday is a holiday: Fri
    1
    """

    def __init__(self, settings: Settings, zone: ZoneInfo, closed: Mapping[date, str]) -> None:
        self.settings, self.zone, self.closed = settings, zone, closed
        people = [person.hours for person in settings.people if Role.TECHNICIAN in person.roles and person.hours]
        self._tables: list[Mapping[Any, str]] = [settings.hours, *people]
        self._known: dict[date, Opening | None] = {}

    def on(self, day: date) -> Opening | None:
        """From when until when there is work on a day, as UTC moments; None on a day without."""
        if day not in self._known:
            self._known[day] = None if day in self.closed else self._by_the_week(day)
        return self._known[day]

    def _by_the_week(self, day: date) -> Opening | None:
        known = [one for table in self._tables if (one := shift(self.settings, table, day, self.zone))]
        if not known:
            return None
        start, end = min(one[0] for one in known), max(one[1] for one in known)
        return (start, end) if end - start >= LEAST else None

    def days(self, first: date) -> Iterator[date]:
        """The days with work, from `first` on; ends after two months without one."""
        day, idle = first, 0
        while idle < FAR:
            idle += 1
            if self.on(day) is not None:
                idle = 0
                yield day
            day += timedelta(days=1)

    def shut(self, first: date, last: date) -> list[tuple[date, str]]:
        """The days from `first` to `last` that are closed although the week has work then, each with the reason."""
        found = [(day, why) for day, why in self.closed.items() if first <= day <= last]
        return sorted(pair for pair in found if self._by_the_week(pair[0]) is not None)

    def days_between(self, first: date, last: date) -> int:
        """Days with work after `first` up to and including `last`; negative when `last` comes before `first`."""
        if last < first:
            return -self.days_between(last, first)
        weeks, rest = divmod((last - first).days, 7)
        opened = [self._by_the_week(first + timedelta(days=n)) is not None for n in range(1, 8)]
        off = [day for day in self.closed if first < day <= last and opened[(day - first).days % 7 - 1]]
        return weeks * sum(opened) + sum(opened[:rest]) - len(off)

    def after(self, start: datetime, minutes: float) -> datetime:
        """The moment when `minutes` of working time have passed after `start`, UTC.

        A shop that never has work goes on round the clock.
        """
        left = timedelta(minutes=minutes)
        end = start
        for day in self.days(start.astimezone(self.zone).date()):
            hours = self.on(day)
            if hours is None or hours[1] <= start:
                continue
            begin = max(start, hours[0])
            if begin + left <= hours[1]:
                return begin + left
            left -= hours[1] - begin
            end = hours[1]
        return end + left
