"""Sliding the sample's dates: what happened on the sample's today happens today, wherever today falls.

The sample was written for one moment, a working morning. Between two shop-days time is stretched or squeezed; inside
the shop's hours the clock on the wall stays as it is. Everything goes by a line of straight pieces that never turns
back, so no two events ever change their order.
"""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

#: Closer than this to opening or closing, a working day is taken for not yet begun, or for over.
EDGE = timedelta(hours=1)
_TICK = timedelta(microseconds=1)


def working_index(day: date) -> int:
    """A number that grows by one from each working day (Monday to Friday) to the next; a weekend counts as its Friday.

    >>> working_index(date(2026, 3, 9)) - working_index(date(2026, 3, 6))
    1
    """
    weeks, weekday = divmod(day.toordinal() - 1, 7)
    return weeks * 5 + min(weekday, 4)


def working_day(index: int) -> date:
    """The working day with this number.

    >>> working_day(working_index(date(2026, 3, 8)))
    datetime.date(2026, 3, 6)
    """
    weeks, weekday = divmod(index, 5)
    return date.fromordinal(weeks * 7 + weekday + 1)


def is_working(day: date) -> bool:
    """Whether the shop is open that day of the week."""
    return day.weekday() < 5


class Slide:
    """The line from the sample's time to the time of whoever looks at it now.

    `moment(sample_now)` is `now`, or the last closing time before `now` when the shop is shut; what came before it
    stays in the past, what was to come stays to come.
    """

    def __init__(self, sample_now: datetime, now: datetime, zone: str, opens: time, closes: time) -> None:
        """`sample_now` must lie inside the hours of a working day; both moments need a zone (else ValueError)."""
        if sample_now.tzinfo is None or now.tzinfo is None:
            raise ValueError("a moment needs its zone")
        self._zone, self._opens, self._closes = ZoneInfo(zone), opens, closes
        self._sample_now = sample_now.astimezone(UTC)
        self._opening: dict[date, datetime] = {}
        self._closing: dict[date, datetime] = {}
        today = sample_now.astimezone(self._zone).date()
        if not is_working(today) or not self._open(today) <= self._sample_now <= self._close(today):
            raise ValueError("the sample's moment must lie in the shop's hours")
        self._today = working_index(today)
        self._anchor(now.astimezone(UTC))

    def _open(self, day: date) -> datetime:
        if day not in self._opening:
            self._opening[day] = datetime.combine(day, self._opens, self._zone).astimezone(UTC)
        return self._opening[day]

    def _close(self, day: date) -> datetime:
        if day not in self._closing:
            self._closing[day] = datetime.combine(day, self._closes, self._zone).astimezone(UTC)
        return self._closing[day]

    def _anchor(self, now: datetime) -> None:
        """Which day takes the sample's past today, and until when; which day takes the rest of it, and from when."""
        day = now.astimezone(self._zone).date()
        index, opening, closing = working_index(day), self._open(day), self._close(day)
        if not is_working(day):
            past, ahead = index, index + 1
        elif now < opening + EDGE:
            past, ahead = index - 1, index
        elif now <= closing - EDGE:
            past = ahead = index
        else:
            past, ahead = index, index + 1
        self._past_shift, self._ahead_shift = past - self._today, ahead - self._today
        self._past_end = min(now, self._close(working_day(past)))
        self._ahead_start = max(now, self._open(working_day(ahead)))

    def moment(self, when: datetime) -> datetime:
        """The moment (UTC, whole seconds) at which something of the sample happened, or will."""
        when = when.astimezone(UTC)
        if when <= self._sample_now:
            return self._on(when, self._past_shift, past=True).replace(microsecond=0)
        ahead = self._on(when, self._ahead_shift, past=False)
        return ahead.replace(microsecond=0) + timedelta(seconds=1 if ahead.microsecond else 0)

    def day(self, when: date) -> date:
        """The day for a date without a time: the sample's today and later count on from the next day of work."""
        shift = self._past_shift if working_index(when) < self._today else self._ahead_shift
        return working_day(working_index(when) + shift)

    def _on(self, when: datetime, shift: int, *, past: bool) -> datetime:
        index = working_index(when.astimezone(self._zone).date())
        if when < self._open(working_day(index)):
            index -= 1
        begin, end = self._open(working_day(index)), self._close(working_day(index))
        to_begin, to_end = self._open(working_day(index + shift)), self._close(working_day(index + shift))
        if index == self._today and past:
            end, to_end = self._sample_now, self._past_end
        elif index == self._today and when <= end:
            begin, to_begin = self._sample_now, self._ahead_start
        if when > end:
            begin, to_begin = end, to_end
            end, to_end = self._open(working_day(index + 1)), self._open(working_day(index + 1 + shift))
        return _between(when, begin, end, to_begin, to_end)


def _between(when: datetime, begin: datetime, end: datetime, to_begin: datetime, to_end: datetime) -> datetime:
    """Where `when` between `begin` and `end` lies between `to_begin` and `to_end`, by straight rule."""
    passed, whole, to_whole = (when - begin) // _TICK, (end - begin) // _TICK, (to_end - to_begin) // _TICK
    return to_begin + (passed * to_whole // whole if whole else 0) * _TICK
