"""When a greased joint is due: by hours and duty, by months, and the date from the machine's own use per week.

Intervals are the machine's own manual's (a shop keeps them with the model); nothing here invents one.
"""

from __future__ import annotations

from datetime import date, timedelta
from typing import NamedTuple

from shopboard.records import Duty, HourReading, ServicePoint


class Due(NamedTuple):
    """`hours_left` on the meter until the point is due (negative: overdue), the meter reading `at_hours` when it is,
    the `day` it falls on (None without a known use) and which limit decides: "hours" or "months"."""

    hours_left: float
    at_hours: float
    day: date | None
    by: str


def use_per_week(readings: tuple[HourReading, ...]) -> float | None:
    """Hours a week, from the first meter reading to the last, over replaced meters; None within a week or from one.

    >>> from datetime import UTC, datetime
    >>> seen = [HourReading(at=datetime(2026, m, 1, tzinfo=UTC), hours=h) for m, h in ((1, 900), (3, 959))]
    >>> round(use_per_week(tuple(seen)), 2)
    7.0
    """
    if len(readings) < 2:
        return None
    ran, last = 0.0, readings[0].hours
    for reading in readings[1:]:
        ran += reading.hours if reading.new_meter else reading.hours - last
        last = reading.hours
    weeks = (readings[-1].at - readings[0].at) / timedelta(weeks=1)
    return ran / weeks if weeks >= 1 else None


def interval(point: ServicePoint, duty: Duty) -> float:
    """The point's interval [h] at this duty.

    >>> joint = ServicePoint(id="rear_joint", name="rear joint", normal_hours=50, severe_hours=25)
    >>> interval(joint, Duty.SEVERE)
    25
    """
    return point.severe_hours if duty is Duty.SEVERE else point.normal_hours


def due(
    point: ServicePoint,
    duty: Duty,
    last_hours: float,
    last_day: date,
    now_hours: float,
    today: date,
    per_week: float | None,
) -> Due:
    """When the point is due next: done last at `last_hours` on `last_day`, meter now at `now_hours` on `today`, used
    `per_week` hours a week. The earlier of hours and months counts; an overdue point is due today.

    >>> joint = ServicePoint(id="rear_joint", name="rear joint", normal_hours=50, severe_hours=25)
    >>> due(joint, Duty.NORMAL, 900, date(2026, 1, 1), 936, date(2026, 3, 1), 7)
    Due(hours_left=14, at_hours=950, day=datetime.date(2026, 3, 15), by='hours')
    """
    at_hours = last_hours + interval(point, duty)
    left = at_hours - now_hours
    by_hours = None
    if left <= 0:
        by_hours = today
    elif per_week:
        by_hours = today + timedelta(weeks=left / per_week)
    by_months = max(today, last_day + timedelta(days=round(point.months * 365.25 / 12))) if point.months else None
    if by_months and (by_hours is None or by_months < by_hours):
        return Due(left, at_hours, by_months, "months")
    return Due(left, at_hours, by_hours, "hours")
