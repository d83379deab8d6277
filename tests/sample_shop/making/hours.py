"""The shop's working time: moments by working days from the sample's today, and who is there."""

from __future__ import annotations

from datetime import UTC, datetime, time, timedelta
from zoneinfo import ZoneInfo

from sample_shop import SAMPLE_NOW
from sample_shop.slide import working_day, working_index

ZONE = ZoneInfo("America/Toronto")
#: The sample's moment: a Tuesday, 10:42 on the wall.
NOW = SAMPLE_NOW
TODAY = working_index(NOW.astimezone(ZONE).date())
OPENS, CLOSES = time(7, 0), time(17, 30)
DAY_MINUTES = 630


def at(days: int, clock: str) -> datetime:
    """The moment `days` working days from the sample's today, at a time on the wall such as "14:05"."""
    hour, minute = clock.split(":")
    return datetime.combine(working_day(TODAY + days), time(int(hour), int(minute)), ZONE).astimezone(UTC)


def day_of(moment: datetime) -> int:
    """The moment's day, in working days from the sample's today."""
    return working_index(moment.astimezone(ZONE).date()) - TODAY


def when(words: str) -> datetime:
    """The moment written as days and clock, such as "-3 14:05"."""
    days, clock = words.split()
    return at(int(days), clock)


def minutes_of(moment: datetime) -> int:
    """The moment on the axis of working minutes (nights and weekends vanish); before opening counts as opening."""
    local = moment.astimezone(ZONE)
    into = (local.hour - OPENS.hour) * 60 + local.minute - OPENS.minute
    if local.weekday() > 4:
        into = DAY_MINUTES
    return working_index(local.date()) * DAY_MINUTES + max(0, min(into, DAY_MINUTES))


def moment_of(minutes: int) -> datetime:
    """The moment at this working minute."""
    day, into = divmod(minutes, DAY_MINUTES)
    opening = datetime.combine(working_day(day), OPENS, ZONE)
    return (opening + timedelta(minutes=into)).astimezone(UTC)


def later(moment: datetime, minutes: float) -> datetime:
    """So many working minutes later."""
    return moment_of(minutes_of(moment) + max(1, round(minutes)))


def clock(moment: datetime) -> str:
    """The time on the wall, as 14:05."""
    return f"{moment.astimezone(ZONE):%H:%M}"


#: When people who do not keep the shop's hours are here, and on which day of the week (Monday 0) one never is.
_HERE = {"marek": ("07:00", "15:55"), "jun": ("09:00", "17:30"), "sabe": ("07:30", "15:55"), "dell": ("07:00", "15:25")}
_AWAY = {"sabe": 2}


def there(person: str, moment: datetime) -> datetime:
    """This moment if the person is here then, else when they next are."""
    comes, goes = _HERE.get(person, ("07:00", "17:30"))
    while True:
        local = moment.astimezone(ZONE)
        day = day_of(moment)
        if local.weekday() == _AWAY.get(person) or clock(moment) > goes:
            moment = at(day + 1, comes)
        elif clock(moment) < comes:
            moment = at(day, comes)
        else:
            return moment
