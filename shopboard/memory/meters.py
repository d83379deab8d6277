"""Ages from hour meters: over replaced meters, between readings, and a sentence where a meter cannot be true."""

from __future__ import annotations

from bisect import bisect_right
from datetime import datetime

import msgspec

from shopboard.records import Machine


class AgeLine(msgspec.Struct, frozen=True):
    """Ages of one machine over time: at each of `times` it had run `ages` hours, `carried` of them on earlier meters.
    `since` is the age it is watched from: 0, or that of its first reading if it was first seen used."""

    times: tuple[datetime, ...]
    ages: tuple[float, ...]
    carried: tuple[float, ...]
    since: float

    @property
    def now(self) -> float:
        """The age at the last reading [h]."""
        return self.ages[-1]

    def at(self, when: datetime, shown: float | None) -> float | None:
        """The age [h] when the meter showed `shown`, or, if it was not read, between the readings around `when`;
        None where neither can be told (before the first or after the last reading, or a figure that cannot be)."""
        place = bisect_right(self.times, when)
        if shown is not None:
            age = (self.carried[place - 1] if place else 0.0) + shown
            low, high = (self.ages[place - 1] if place else 0.0), self._after(place)
            return age if low - 1 <= age <= high + 1 else None
        if not 0 < place < len(self.times):
            return self.ages[-1] if place and when == self.times[-1] else None
        span = (self.times[place] - self.times[place - 1]).total_seconds()
        part = (when - self.times[place - 1]).total_seconds() / span if span else 0.0
        return self.ages[place - 1] + part * (self.ages[place] - self.ages[place - 1])

    def _after(self, place: int) -> float:
        return self.ages[place] if place < len(self.ages) else float("inf")


def age_line(machine: Machine) -> AgeLine | str:
    """The machine's ages over time, or the sentence that says why they cannot be told.

    >>> from datetime import UTC, datetime
    >>> from shopboard.records import HourReading, Layout
    >>> seen = [HourReading(at=datetime(2026, 1, day, tzinfo=UTC), hours=h) for day, h in ((1, 900), (9, 890))]
    >>> age_line(Machine(id=7, customer=1, model="m", layout=Layout.IN_LINE, readings=tuple(seen)))
    'machine 7: its meter shows 890 h after 900 h and no new meter was noted'
    """
    readings = sorted(machine.readings, key=lambda reading: reading.at)
    if not readings:
        return f"machine {machine.id}: its meter was never read"
    ages: list[float] = []
    carried: list[float] = []
    before, last = 0.0, readings[0].hours
    for reading in readings:
        if not 0 <= reading.hours < float("inf"):
            return f"machine {machine.id}: a reading of {reading.hours:g} h cannot be"
        if reading.new_meter and ages:
            before += last
        elif reading.hours < last:
            return (
                f"machine {machine.id}: its meter shows {reading.hours:g} h after {last:g} h and no new meter was noted"
            )
        last = reading.hours
        carried.append(before)
        ages.append(before + last)
    since = ages[0] if machine.first_seen_used else 0.0
    return AgeLine(tuple(reading.at for reading in readings), tuple(ages), tuple(carried), since)
