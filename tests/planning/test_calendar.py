"""The axis of slots: open hours, people's hours, holidays, days on which the clock changes."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from itertools import islice
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopboard.planning.calendar import DAYS_BACK, shop_calendar
from shopboard.planning.closed_days import closed_days, country_wrong, holidays_around, holidays_of, open_hours
from shopboard.planning.problem import with_closures
from shopboard.planning.tasks import SLOT
from shopboard.records import Bay, Closure, Person, Role, Settings
from shopboard.records.settings import DAYS

VIENNA = ZoneInfo("Europe/Vienna")
WEEK = {**dict.fromkeys(DAYS[:4], "08:00-17:00"), "fri": "08:00-15:00"}


def person(id: str, **more: object) -> Person:
    return Person(id=id, name=id.title(), roles=(Role.TECHNICIAN,), **more)  # type: ignore[arg-type]


def shop(**more: object) -> Settings:
    base = {"name": "s", "zone": "Europe/Vienna", "hours": WEEK, "bays": (Bay(id="1", name="lift"),)}
    return Settings(**{**base, "people": (person("ana"),), **more})  # type: ignore[arg-type]


def vienna(text: str) -> datetime:
    return datetime.fromisoformat(text).replace(tzinfo=VIENNA).astimezone(UTC)


NOW = vienna("2026-11-25T10:20")  # a Wednesday


def test_slot_nought_is_today_s_opening_and_friday_is_shorter() -> None:
    calendar = shop_calendar(shop(), NOW)
    assert calendar.moment(0) == vienna("2026-11-25T08:00")
    assert calendar.slot_at(NOW) == 9  # 10:15 to 10:30
    assert calendar.moment(36) == vienna("2026-11-26T08:00")
    assert calendar.end_moment(36) == vienna("2026-11-25T17:00")
    assert calendar.moment(72 + 28) == vienna("2026-11-30T08:00")
    assert calendar.words(100) == "Mon 30 Nov 08:00"
    assert calendar.words(100, end=True) == "Fri 27 Nov 15:00"


@pytest.mark.parametrize(
    ("when", "at", "from_", "deadline"),
    [
        ("2026-11-25T07:00", 0, 0, 0),
        ("2026-11-25T08:00", 0, 0, 0),
        ("2026-11-25T08:01", 0, 1, 0),
        ("2026-11-25T08:15", 1, 1, 1),
        ("2026-11-25T16:59", 35, 36, 35),
        ("2026-11-25T17:00", 36, 36, 36),
        ("2026-11-25T23:00", 36, 36, 36),
        ("2026-11-28T12:00", 100, 100, 100),  # a Saturday
        ("2026-11-24T17:00", 0, 0, 0),
        ("2026-11-24T16:45", -1, -1, -1),
        ("2026-11-24T08:00", -36, -36, -36),
    ],
)
def test_moments_and_slots(when: str, at: int, from_: int, deadline: int) -> None:
    calendar, moment = shop_calendar(shop(), NOW), vienna(when)
    assert (calendar.slot_at(moment), calendar.slot_from(moment), calendar.deadline(moment)) == (at, from_, deadline)


def test_a_moment_before_the_axis_has_its_first_slot() -> None:
    calendar = shop_calendar(shop(), NOW)
    assert calendar.slot_at(NOW - timedelta(days=DAYS_BACK + 30)) == calendar.spans[0].first < -1000


@given(st.integers(-500, 3000))
def test_slots_survive_the_way_to_moments_and_back(slot: int) -> None:
    calendar = shop_calendar(shop(), NOW)
    moment = calendar.moment(slot)
    assert calendar.slot_at(moment) == calendar.slot_from(moment) == slot
    assert calendar.slot_at(moment + SLOT / 2) == slot
    assert calendar.slot_from(moment + SLOT / 2) == slot + 1
    assert calendar.deadline(calendar.end_moment(slot)) == slot


def test_on_a_closed_day_slot_nought_is_the_next_opening() -> None:
    calendar = shop_calendar(shop(), vienna("2026-11-28T10:00"))
    assert calendar.moment(0) == vienna("2026-11-30T08:00")
    assert calendar.slot_at(vienna("2026-11-28T10:00")) == 0


# -- people ---------------------------------------------------------------------------------------------------------


def there(mask: int, first: int, end: int) -> list[int]:
    return [slot for slot in range(first, end) if mask >> slot & 1]


def test_people_have_their_own_hours_and_widen_the_day() -> None:
    bo = person("bo", hours={"wed": "07:00-12:10", "thu": "12:05-17:00"})
    calendar = shop_calendar(shop(people=(person("ana"), bo)), NOW)
    assert calendar.moment(0) == vienna("2026-11-25T07:00")
    assert there(calendar.people["bo"], 0, 40) == [*range(20)]  # to 12:00: the slot cut short is lost
    assert there(calendar.people["ana"], 0, 40) == [*range(4, 40)]
    thursday = calendar.slot_at(vienna("2026-11-26T12:15"))
    assert there(calendar.people["bo"], 40, 76) == [*range(thursday, 76)]
    assert there(calendar.people["bo"], 76, 104) == []  # no hours on Friday
    assert there(calendar.bays["1"], 0, 76) == [*range(76)]


def test_a_person_may_work_on_a_day_the_shop_is_closed() -> None:
    calendar = shop_calendar(shop(people=(person("ana"), person("bo", hours={"sat": "09:00-11:00"}))), NOW)
    saturday = calendar.slot_at(vienna("2026-11-28T09:00"))
    assert calendar.moment(saturday) == vienna("2026-11-28T09:00")
    assert there(calendar.people["bo"], 0, 200) == [*range(saturday, saturday + 8)]
    assert there(calendar.people["ana"], saturday, saturday + 8) == []


def test_only_technicians_are_planned_for() -> None:
    boss = Person(id="boss", name="Boss", roles=(Role.OWNER,))
    assert [*shop_calendar(shop(people=(person("ana"), boss)), NOW).people] == ["ana"]


@pytest.mark.parametrize("wrong", ["8-12", "morning", "25:00-26:00", ""])
def test_hours_that_cannot_be_read_are_the_shop_s(wrong: str) -> None:
    odd = shop_calendar(shop(people=(person("bo", hours={"wed": wrong}),)), NOW)
    assert there(odd.people["bo"], 0, 40) == [*range(36)]


def test_a_shop_without_hours_works_round_the_clock() -> None:
    calendar = shop_calendar(shop(hours={}), NOW, open_days=10)
    assert calendar.moment(0) == vienna("2026-11-25T00:00")
    assert calendar.end == 10 * 96
    assert there(calendar.people["ana"], 0, 960) == [*range(960)]


def test_hours_the_wrong_way_round_close_the_day() -> None:
    calendar = shop_calendar(shop(hours={"mon": "17:00-08:00", "tue": "08:00-09:00"}), NOW, open_days=3)
    assert [span.day.isoformat() for span in calendar.spans if span.first >= 0] == [
        "2026-12-01",
        "2026-12-08",
        "2026-12-15",
    ]


# -- clock changes --------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("day", "slots"), [("2026-03-29", 4 * 9 - 4), ("2026-10-25", 4 * 9 + 4), ("2026-10-18", 36)])
def test_a_day_on_which_the_clock_changes_has_the_slots_it_has(day: str, slots: int) -> None:
    """In Vienna the clock goes from 2:00 to 3:00 on the last Sunday of March, and back from 3:00 to 2:00 in October."""
    calendar = shop_calendar(shop(hours={"sun": "00:00-09:00"}), vienna(f"{day}T00:00"))
    assert calendar.spans[-120].day == date.fromisoformat(day)
    assert calendar.spans[-120].slots == slots
    assert calendar.end_moment(slots) == vienna(f"{day}T09:00")


@pytest.mark.parametrize("day", ["2026-03-30", "2026-10-26"])
def test_opening_stays_at_eight_by_the_clock_on_the_wall(day: str) -> None:
    calendar = shop_calendar(shop(), vienna("2026-03-27T09:00") if "03" in day else vienna("2026-10-23T09:00"))
    assert calendar.moment(28) == vienna(f"{day}T08:00")
    assert calendar.moment(28) - calendar.moment(0) != timedelta(days=3)


# -- holidays -------------------------------------------------------------------------------------------------------


def test_a_public_holiday_is_not_on_the_axis() -> None:
    """8 December is a holiday in Austria by law (Feiertagsruhegesetz)."""
    with_country = shop_calendar(shop(country="AT"), NOW)
    without = shop_calendar(shop(), NOW)
    holiday = date(2026, 12, 8)
    assert holiday in {span.day for span in without.spans}
    assert holiday not in {span.day for span in with_country.spans}
    assert holidays_around(shop(country="AT"), NOW.date())[holiday] == holidays_of(shop(country="at"), 2026)[holiday]


def test_a_region_has_its_own() -> None:
    """Family Day, third Monday of February, is kept in Ontario (Retail Business Holidays Act) and not in Quebec."""
    day = date(2026, 2, 16)
    assert holidays_of(shop(country="CA", region="ON"), 2026)[day]
    assert day not in holidays_of(shop(country="CA", region="QC"), 2026)


def test_the_shop_s_own_closed_days() -> None:
    closed = shop(closed_days=(date(2026, 11, 26),))
    assert closed_days(closed, {}) == {date(2026, 11, 26): "closed"}
    assert shop_calendar(closed, NOW).moment(36) == vienna("2026-11-27T08:00")


@given(st.dates(date(2026, 1, 1), date(2027, 6, 1)), st.sampled_from(["", "AT", "CA", "JP"]), st.booleans())
def test_days_on_the_axis_are_the_days_with_work_that_all_else_goes_by(
    day: date, country: str, saturdays: bool
) -> None:
    """The plan's axis, the Floor's hours and the days to spare have the same days, beginning and ending alike."""
    people = (person("ana"), person("bo", hours={"sat": "09:00-11:00"} if saturdays else {}))
    odd = shop(country=country, people=people, closed_days=(day + timedelta(days=3),))
    now = datetime(day.year, day.month, day.day, 9, tzinfo=VIENNA).astimezone(UTC)
    spans = [span for span in shop_calendar(odd, now, open_days=30).spans if span.first >= 0]
    hours = open_hours(odd, VIENNA, holidays_around(odd, day))
    assert [span.day for span in spans] == [*islice(hours.days(day), 30)]
    assert all(hours.on(span.day) == (span.start, span.start + span.slots * SLOT) for span in spans)
    last = spans[-1].day
    assert hours.days_between(day, last) == len([span for span in spans if span.day > day])


# -- the whole shop closed -------------------------------------------------------------------------------------------


def closure(start: str, until: str, **whose: str) -> Closure:
    return Closure(id=1, start=vienna(start), until=vienna(until), **whose)  # type: ignore[arg-type]


def test_a_closure_of_the_whole_shop_takes_everybody_and_every_bay() -> None:
    calendar = shop_calendar(shop(people=(person("ana"), person("bo"))), NOW)
    shut = with_closures(calendar, [closure("2026-11-26T12:00", "2026-11-27T00:00")])
    assert there(shut.people["ana"], 36, 72) == there(shut.people["bo"], 36, 72) == [*range(36, 52)]
    assert there(shut.bays["1"], 36, 72) == [*range(36, 52)] and there(shut.people["ana"], 72, 100) == [*range(72, 100)]
    bo = with_closures(calendar, [closure("2026-11-26T12:00", "2026-11-27T00:00", person="bo")])
    assert bo.people["ana"] == calendar.people["ana"] and bo.bays == calendar.bays


@pytest.mark.parametrize(
    ("start", "until", "gone"),
    [
        ("2026-11-26T00:00", "2026-11-27T00:00", ["2026-11-26"]),
        ("2026-11-26T08:00", "2026-11-26T17:00", ["2026-11-26"]),
        ("2026-11-26T08:01", "2026-11-26T17:00", []),  # somebody works for a minute
        ("2026-11-26T12:00", "2026-11-30T09:00", ["2026-11-27"]),
        ("2026-11-26T00:00", "2026-12-01T00:00", ["2026-11-26", "2026-11-27", "2026-11-30"]),
    ],
)
def test_days_that_a_closure_takes_whole_are_no_days_with_work(start: str, until: str, gone: list[str]) -> None:
    hours = open_hours(shop(), VIENNA, {}, [closure(start, until)])
    days = [date(2026, 11, 25) + timedelta(days=n) for n in range(7)]
    assert [str(day) for day in days if day.weekday() < 5 and hours.on(day) is None] == gone
    assert hours.days_between(date(2026, 11, 25), date(2026, 12, 1)) == 4 - len(gone)


@pytest.mark.parametrize(
    ("country", "region", "word"),
    [
        ("", "", None),
        ("AT", "", None),
        ("CA", "ON", None),
        ("XX", "", '"XX"'),
        ("AT", "ZZ", '"ZZ"'),
        ("Austria!", "", "Au"),
    ],
)
def test_a_country_nobody_knows_is_told_in_one_line_and_has_no_holidays(
    country: str, region: str, word: str | None
) -> None:
    odd = shop(country=country, region=region)
    said = country_wrong(odd)
    assert (said is None) == (word is None)
    assert said is None or (word and word in said and "\n" not in said)
    assert shop_calendar(odd, NOW).end > 0
