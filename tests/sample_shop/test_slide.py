"""Sliding dates: order kept, working days kept, the past before now and the future after it."""
# ruff: noqa: DTZ001 (hypothesis draws moments without a zone, and the wall shows none)

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sample_shop import SAMPLE_NOW, Slide, slide_to
from sample_shop.slide import is_working, working_day, working_index

ZONE = ZoneInfo("America/Toronto")
OPENS, CLOSES = time(7, 0), time(17, 30)

moments = st.datetimes(datetime(2022, 6, 1), datetime(2026, 6, 1)).map(lambda when: when.replace(tzinfo=UTC))
nows = st.datetimes(datetime(2024, 1, 1), datetime(2040, 1, 1)).map(lambda when: when.replace(tzinfo=UTC))
days = st.dates(date(2022, 6, 1), date(2026, 6, 1))


def local(*when: int) -> datetime:
    """A moment by the clock on the shop's wall."""
    return datetime(*when, tzinfo=ZONE)  # type: ignore[arg-type]


def wall(moment: datetime) -> datetime:
    """The same on the wall, without a zone."""
    return moment.astimezone(ZONE).replace(tzinfo=None)


def opening_days(first: date, last: date) -> int:
    """Days from Monday to Friday after `first` up to `last`, counted one by one."""
    return sum((first + timedelta(days=n)).weekday() < 5 for n in range(1, (last - first).days + 1))


@given(nows, moments, moments)
def test_never_changes_the_order_of_two_moments(now: datetime, one: datetime, other: datetime) -> None:
    slide = slide_to(now)
    first, second = sorted((one, other))
    assert slide.moment(first) <= slide.moment(second)


@given(nows, moments)
def test_past_stays_past_and_future_stays_future(now: datetime, when: datetime) -> None:
    moved = slide_to(now).moment(when)
    if when <= SAMPLE_NOW:
        assert moved <= now
    else:
        assert moved >= now


@given(nows, st.dates(date(2022, 6, 1), date(2025, 11, 17)).filter(is_working), st.integers(0, 629))
def test_a_working_moment_before_today_keeps_its_clock_and_its_count_of_days(
    now: datetime, day: date, minute: int
) -> None:
    when = datetime.combine(day, OPENS, ZONE) + timedelta(minutes=minute)
    slide = slide_to(now)
    moved = wall(slide.moment(when))
    assert moved.time() == wall(when).time()
    assert moved.weekday() < 5
    today = wall(slide.moment(SAMPLE_NOW)).date()
    assert opening_days(moved.date(), today) == opening_days(day, SAMPLE_NOW.date())


@given(nows, days, days)
def test_dates_keep_their_order_and_fall_on_working_days(now: datetime, one: date, other: date) -> None:
    slide = slide_to(now)
    first, second = sorted((one, other))
    assert slide.day(first) <= slide.day(second)
    assert slide.day(first).weekday() < 5


@given(nows, days)
def test_a_late_date_stays_late_and_a_coming_one_stays_to_come(now: datetime, day: date) -> None:
    today = now.astimezone(ZONE).date()
    moved = slide_to(now).day(day)
    if working_index(day) < working_index(SAMPLE_NOW.date()):
        assert moved < today
    else:
        assert moved >= today


@pytest.mark.parametrize(
    ("now", "became"),
    [
        pytest.param(local(2025, 11, 18, 10, 42), local(2025, 11, 18, 10, 42), id="its own moment"),
        pytest.param(local(2026, 11, 24, 15, 0), local(2026, 11, 24, 15, 0), id="an afternoon"),
        pytest.param(local(2028, 2, 29, 10, 0), local(2028, 2, 29, 10, 0), id="leap day"),
        pytest.param(local(2026, 3, 8, 3, 30), local(2026, 3, 6, 17, 30), id="the Sunday clocks go forward"),
        pytest.param(local(2026, 11, 1, 1, 30), local(2026, 10, 30, 17, 30), id="the Sunday clocks go back"),
        pytest.param(local(2027, 1, 1, 0, 0), local(2026, 12, 31, 17, 30), id="New Year's midnight"),
        pytest.param(local(2026, 11, 24, 7, 59), local(2026, 11, 23, 17, 30), id="before the first hour is over"),
        pytest.param(local(2026, 11, 24, 8, 0), local(2026, 11, 24, 8, 0), id="after the first hour"),
        pytest.param(local(2026, 11, 24, 16, 31), local(2026, 11, 24, 16, 31), id="in the last hour"),
        pytest.param(local(2026, 11, 24, 23, 0), local(2026, 11, 24, 17, 30), id="late at night"),
    ],
)
def test_the_samples_moment_becomes_now_or_the_last_closing_time(now: datetime, became: datetime) -> None:
    assert slide_to(now).moment(SAMPLE_NOW) == became


def test_yesterday_morning_of_the_sample_is_yesterday_morning() -> None:
    slide = slide_to(local(2026, 11, 23, 12, 0))  # a Monday
    assert wall(slide.moment(local(2025, 11, 17, 9, 30))) == datetime(2026, 11, 20, 9, 30)


def test_a_promise_for_this_afternoon_is_still_to_come_late_in_the_day() -> None:
    now = local(2026, 11, 24, 16, 50)
    assert wall(slide_to(now).moment(local(2025, 11, 18, 16, 0))).date() == date(2026, 11, 25)


@given(st.integers(700_000, 760_000).map(date.fromordinal))
def test_counting_working_days_there_and_back(day: date) -> None:
    if is_working(day):
        assert working_day(working_index(day)) == day
    else:
        assert working_day(working_index(day)) == day - timedelta(days=day.weekday() - 4)


def test_a_moment_without_a_zone_or_outside_the_hours_is_refused() -> None:
    with pytest.raises(ValueError, match="zone"):
        slide_to(SAMPLE_NOW.replace(tzinfo=None))
    with pytest.raises(ValueError, match="hours"):
        Slide(local(2025, 11, 16, 10, 0), SAMPLE_NOW, "America/Toronto", OPENS, CLOSES)
