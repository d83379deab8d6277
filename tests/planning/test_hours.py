"""Working time: open days, clock changes, closed days, and minutes that pass only while the shop is open."""

from __future__ import annotations

import doctest
from datetime import UTC, date, datetime, timedelta
from itertools import islice
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shopboard.planning import hours
from shopboard.planning.hours import after_working, open_days, opening, working_days_between
from shopboard.records import Settings
from shopboard.records.settings import DAYS

BERLIN = ZoneInfo("Europe/Berlin")
WEEK = Settings(name="s", zone="Europe/Berlin", hours={**dict.fromkeys(DAYS[:4], "08:00-17:00"), "fri": "08:00-15:00"})


def local(text: str, zone: ZoneInfo = BERLIN) -> datetime:
    return datetime.fromisoformat(text).replace(tzinfo=zone)


def test_examples_in_the_docstrings() -> None:
    assert doctest.testmod(hours).failed == 0


# -- days -----------------------------------------------------------------------------------------------------------


def test_open_days_leave_out_the_closed_ones() -> None:
    days = [*islice(open_days(WEEK, date(2026, 11, 27)), 3)]  # a Friday
    assert days == [date(2026, 11, 27), date(2026, 11, 30), date(2026, 12, 1)]


def test_a_shop_that_never_opens_has_no_open_day() -> None:
    assert [*open_days(Settings(name="s"), date(2026, 11, 24))] == []


@pytest.mark.parametrize(
    ("first", "last", "days"),
    [
        ("2026-11-24", "2026-11-24", 0),
        ("2026-11-24", "2026-11-25", 1),
        ("2026-11-27", "2026-11-29", 0),  # Friday to Sunday
        ("2026-11-27", "2026-11-30", 1),
        ("2026-11-29", "2026-11-30", 1),  # from a closed day
        ("2026-11-30", "2026-11-27", -1),
        ("2026-11-30", "2026-11-29", -1),  # Monday back to Sunday: one day too late
        ("2026-11-24", "2026-12-01", 5),
    ],
)
def test_working_days_between(first: str, last: str, days: int) -> None:
    assert working_days_between(WEEK, date.fromisoformat(first), date.fromisoformat(last)) == days


weeks = st.sets(st.sampled_from(DAYS)).map(lambda open_: Settings(name="s", hours=dict.fromkeys(open_, "08:00-12:00")))
days = st.dates(date(2020, 1, 1), date(2030, 12, 31))


@given(weeks, days, st.integers(0, 900))
def test_working_days_are_the_open_days_counted_one_by_one(week: Settings, first: date, ahead: int) -> None:
    last = first + timedelta(days=ahead)
    one_by_one = sum(DAYS[(first + timedelta(days=n)).weekday()] in week.hours for n in range(1, ahead + 1))
    assert working_days_between(week, first, last) == one_by_one
    if ahead:
        assert working_days_between(week, last, first) == -one_by_one


def test_a_promise_in_a_far_century_is_counted_at_once() -> None:
    """From Tuesday 2026-11-24 to Friday 9999-12-31: 416,016 whole weeks, and Wednesday to Friday."""
    assert (date(9999, 12, 31) - date(2026, 11, 24)).days == 416_016 * 7 + 3
    assert working_days_between(WEEK, date(2026, 11, 24), date(9999, 12, 31)) == 416_016 * 5 + 3


# -- opening --------------------------------------------------------------------------------------------------------


def test_opening_is_the_same_clock_time_in_summer_and_winter() -> None:
    winter = opening(WEEK, date(2026, 11, 24), BERLIN)
    summer = opening(WEEK, date(2026, 7, 14), BERLIN)
    assert winter == (datetime(2026, 11, 24, 7, tzinfo=UTC), datetime(2026, 11, 24, 16, tzinfo=UTC))
    assert summer == (datetime(2026, 7, 14, 6, tzinfo=UTC), datetime(2026, 7, 14, 15, tzinfo=UTC))
    assert opening(WEEK, date(2026, 11, 28), BERLIN) is None


@pytest.mark.parametrize(("day", "length"), [("2026-03-29", 22), ("2026-10-25", 24), ("2026-10-18", 23)])
def test_a_day_on_which_the_clock_is_changed_is_as_long_as_it_is(day: str, length: int) -> None:
    """In Berlin 2026-03-29 has 23 hours and 2026-10-25 has 25."""
    sundays = Settings(name="s", hours={"sun": "00:00-23:00"})
    hours = opening(sundays, date.fromisoformat(day), BERLIN)
    assert hours is not None and hours[1] - hours[0] == timedelta(hours=length)


# -- minutes --------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("start", "minutes", "end"),
    [
        ("2026-11-24T10:00", 60, "2026-11-24T11:00"),
        ("2026-11-24T16:30", 30, "2026-11-24T17:00"),  # to the minute of closing
        ("2026-11-24T16:30", 31, "2026-11-25T08:01"),
        ("2026-11-24T17:00", 1, "2026-11-25T08:01"),
        ("2026-11-24T23:59", 60, "2026-11-25T09:00"),
        ("2026-11-25T00:00", 60, "2026-11-25T09:00"),  # midnight
        ("2026-11-27T14:00", 90, "2026-11-30T08:30"),  # over a weekend, after a short Friday
        ("2026-11-28T12:00", 60, "2026-11-30T09:00"),  # from a closed day
        ("2026-11-24T08:00", 9 * 60, "2026-11-24T17:00"),
        ("2026-11-24T08:00", 9 * 60 + 1, "2026-11-25T08:01"),
        ("2026-03-27T14:30", 60, "2026-03-30T08:30"),  # over the night of the clock change
    ],
)
def test_minutes_pass_while_the_shop_is_open(start: str, minutes: float, end: str) -> None:
    assert after_working(WEEK, local(start), minutes, BERLIN) == local(end)


def test_a_shop_without_hours_works_round_the_clock() -> None:
    assert after_working(Settings(name="s"), local("2026-11-28T22:00"), 180, BERLIN) == local("2026-11-29T01:00")


moments = st.integers(0, 365 * 24 * 60).map(lambda minute: datetime(2026, 1, 1, tzinfo=UTC) + timedelta(minutes=minute))


@settings(max_examples=60)
@given(moments, st.integers(0, 5000), st.integers(0, 5000))
def test_working_on_is_the_same_as_working_it_all(start: datetime, first: int, then: int) -> None:
    """Cut anywhere, the work ends at the same moment, in open hours, and never earlier than the clock allows."""
    between = after_working(WEEK, start, first, BERLIN)
    end = after_working(WEEK, start, first + then, BERLIN)
    if first and then:
        assert after_working(WEEK, between, then, BERLIN) == end
    assert end - start >= timedelta(minutes=first + then)
    day = opening(WEEK, end.astimezone(BERLIN).date(), BERLIN)
    assert day is not None and day[0] <= end <= day[1]
