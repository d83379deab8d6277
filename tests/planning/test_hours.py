"""Working time: open days, clock changes, closed days, and minutes that pass only while the shop is open."""

from __future__ import annotations

import doctest
from datetime import UTC, date, datetime, timedelta
from itertools import islice
from zoneinfo import ZoneInfo

import msgspec
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shopboard.planning import hours
from shopboard.planning.hours import OpenHours
from shopboard.records import Person, Role, Settings
from shopboard.records.settings import DAYS

BERLIN = ZoneInfo("Europe/Berlin")
WEEK = Settings(name="s", zone="Europe/Berlin", hours={**dict.fromkeys(DAYS[:4], "08:00-17:00"), "fri": "08:00-15:00"})


def local(text: str, zone: ZoneInfo = BERLIN) -> datetime:
    return datetime.fromisoformat(text).replace(tzinfo=zone)


def hours_of(week: Settings, *closed: str) -> OpenHours:
    return OpenHours(week, BERLIN, {date.fromisoformat(day): "closed" for day in closed})


def test_examples_in_the_docstrings() -> None:
    assert doctest.testmod(hours).failed == 0


# -- days -----------------------------------------------------------------------------------------------------------


def test_open_days_leave_out_the_closed_ones() -> None:
    days = [*islice(hours_of(WEEK).days(date(2026, 11, 27)), 3)]  # a Friday
    assert days == [date(2026, 11, 27), date(2026, 11, 30), date(2026, 12, 1)]


def test_a_shop_that_never_opens_has_no_day_with_work() -> None:
    never = Settings(name="s", hours={"mon": "17:00-08:00"})
    assert [*hours_of(never).days(date(2026, 11, 24))] == []


def test_closed_days_are_left_out() -> None:
    closed = hours_of(WEEK, "2026-11-30", "2026-12-05")  # a Monday and a Saturday
    assert [*islice(closed.days(date(2026, 11, 27)), 2)] == [date(2026, 11, 27), date(2026, 12, 1)]
    assert closed.on(date(2026, 11, 30)) is None and closed.on(date(2026, 12, 1)) is not None


def test_a_technician_who_works_on_saturday_makes_it_a_day_with_work() -> None:
    def week(role: Role) -> Settings:
        bo = Person(id="bo", name="Bo", roles=(role,), hours={"sat": "09:00-11:00", "mon": "07:00-16:00"})
        return msgspec.structs.replace(WEEK, people=(bo,))

    at_work, elsewhere = hours_of(week(Role.TECHNICIAN)), hours_of(week(Role.COUNTER))
    assert at_work.on(date(2026, 11, 28)) == (local("2026-11-28T09:00"), local("2026-11-28T11:00"))
    assert at_work.on(date(2026, 11, 30)) == (local("2026-11-30T07:00"), local("2026-11-30T17:00"))
    assert elsewhere.on(date(2026, 11, 28)) is None
    assert at_work.days_between(date(2026, 11, 27), date(2026, 11, 30)) == 2
    assert elsewhere.days_between(date(2026, 11, 27), date(2026, 11, 30)) == 1


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
    assert hours_of(WEEK).days_between(date.fromisoformat(first), date.fromisoformat(last)) == days


names = st.sets(st.sampled_from(DAYS), min_size=1)
weeks = names.map(lambda open_: Settings(name="s", hours=dict.fromkeys(open_, "08:00-12:00")))
days = st.dates(date(2020, 1, 1), date(2030, 12, 31))


@given(weeks, days, st.integers(0, 900), st.data())
def test_working_days_are_the_open_days_counted_one_by_one(
    week: Settings, first: date, ahead: int, data: st.DataObject
) -> None:
    off = data.draw(st.sets(st.integers(-9, ahead + 9), max_size=12))
    found = OpenHours(week, BERLIN, {first + timedelta(days=n): "closed" for n in off})
    last = first + timedelta(days=ahead)
    one_by_one = sum(
        DAYS[(first + timedelta(days=n)).weekday()] in week.hours and n not in off for n in range(1, ahead + 1)
    )
    assert found.days_between(first, last) == one_by_one
    if ahead:
        assert found.days_between(last, first) == -one_by_one


def test_a_promise_in_a_far_century_is_counted_at_once() -> None:
    """From Tuesday 2026-11-24 to Friday 9999-12-31: 416,016 whole weeks, and Wednesday to Friday."""
    assert (date(9999, 12, 31) - date(2026, 11, 24)).days == 416_016 * 7 + 3
    assert hours_of(WEEK).days_between(date(2026, 11, 24), date(9999, 12, 31)) == 416_016 * 5 + 3


# -- opening --------------------------------------------------------------------------------------------------------


def test_opening_is_the_same_clock_time_in_summer_and_winter() -> None:
    winter = hours_of(WEEK).on(date(2026, 11, 24))
    summer = hours_of(WEEK).on(date(2026, 7, 14))
    assert winter == (datetime(2026, 11, 24, 7, tzinfo=UTC), datetime(2026, 11, 24, 16, tzinfo=UTC))
    assert summer == (datetime(2026, 7, 14, 6, tzinfo=UTC), datetime(2026, 7, 14, 15, tzinfo=UTC))
    assert hours_of(WEEK).on(date(2026, 11, 28)) is None


@pytest.mark.parametrize(("day", "length"), [("2026-03-29", 22), ("2026-10-25", 24), ("2026-10-18", 23)])
def test_a_day_on_which_the_clock_is_changed_is_as_long_as_it_is(day: str, length: int) -> None:
    """In Berlin 2026-03-29 has 23 hours and 2026-10-25 has 25."""
    sundays = Settings(name="s", hours={"sun": "00:00-23:00"})
    opened = hours_of(sundays).on(date.fromisoformat(day))
    assert opened is not None and opened[1] - opened[0] == timedelta(hours=length)


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
    assert hours_of(WEEK).after(local(start), minutes) == local(end)


def test_no_minute_passes_on_a_closed_day() -> None:
    closed = hours_of(WEEK, "2026-11-25")
    assert closed.after(local("2026-11-24T16:30"), 31) == local("2026-11-26T08:01")


def test_a_shop_without_hours_works_round_the_clock() -> None:
    assert hours_of(Settings(name="s")).after(local("2026-11-28T22:00"), 180) == local("2026-11-29T01:00")


moments = st.integers(0, 365 * 24 * 60).map(lambda minute: datetime(2026, 1, 1, tzinfo=UTC) + timedelta(minutes=minute))


@settings(max_examples=60)
@given(moments, st.integers(0, 5000), st.integers(0, 5000))
def test_working_on_is_the_same_as_working_it_all(start: datetime, first: int, then: int) -> None:
    """Cut anywhere, the work ends at the same moment, in open hours, and never earlier than the clock allows."""
    between = hours_of(WEEK).after(start, first)
    end = hours_of(WEEK).after(start, first + then)
    if first and then:
        assert hours_of(WEEK).after(between, then) == end
    assert end - start >= timedelta(minutes=first + then)
    day = hours_of(WEEK).on(end.astimezone(BERLIN).date())
    assert day is not None and day[0] <= end <= day[1]
