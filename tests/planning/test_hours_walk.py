"""Working time by an independent route: the clock on the wall, walked minute by minute."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

from hypothesis import example, given
from hypothesis import strategies as st

from shopboard.planning.hours import OpenHours
from shopboard.records import Settings

BERLIN = ZoneInfo("Europe/Berlin")
WEEK = Settings(name="s", hours=dict.fromkeys(("mon", "tue", "wed", "thu", "fri"), "08:00-17:00"))
NEW_YEAR = datetime(2026, 1, 1, tzinfo=UTC)


@given(st.integers(0, 2 * 365 * 24 * 60), st.integers(1, 3000))
@example((datetime(2026, 3, 27, 15, 59, tzinfo=UTC) - NEW_YEAR) // timedelta(minutes=1), 2)  # the clocks change then
@example((datetime(2026, 10, 23, 14, 59, tzinfo=UTC) - NEW_YEAR) // timedelta(minutes=1), 2)
def test_minutes_counted_one_by_one(after_new_year: int, minutes: int) -> None:
    start = walk = NEW_YEAR + timedelta(minutes=after_new_year)
    left = minutes
    while left:
        local = walk.astimezone(BERLIN)
        left -= local.weekday() < 5 and 8 <= local.hour < 17
        walk += timedelta(minutes=1)
    assert OpenHours(WEEK, BERLIN, {}).after(start, minutes) == walk
