"""What the Floor says beside bays and machines: closed days, who is away, clocks that change, jobs without a plan."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import msgspec
import pytest
from aids.line_shop import BERLIN, BOOK, NOW, floor_of, job, shop_of
from aids.quick_shop import QuickShop
from rich.cells import cell_len

from shopboard.places.floor_lines import Floor, bay_lines, look, waiting_lines
from shopboard.places.planned import Planner
from shopboard.planning.closed_days import holidays_around
from shopboard.records import Closure, Operation, Person, Role, Stage
from shopboard.shop import closures, guards

VIENNA = ZoneInfo("Europe/Vienna")


def notes(floor: Floor, width: int = 160) -> list[str]:
    """What stands under the bays."""
    bays = len(floor.state.settings.bays)
    return [row.text for row in bay_lines(floor, width)[1 + bays :]]


def closed(*holidays: str, now: datetime = NOW, closed_days: tuple[str, ...] = ()) -> Floor:
    state = shop_of()
    days = tuple(date.fromisoformat(day) for day in closed_days)
    state.settings = msgspec.structs.replace(state.settings, closed_days=days)
    return look(state, BOOK, now, BERLIN, holidays={date.fromisoformat(day): "Founders' Day" for day in holidays})


def test_on_usual_days_nothing_is_said() -> None:
    assert notes(floor_of()) == []


def test_a_public_holiday_among_the_days_shown_is_named_and_takes_no_room() -> None:
    floor = closed("2026-11-26", "2026-11-28", "2027-03-01")  # a Thursday, a Saturday, a day far off
    assert notes(floor) == ["closed Thu 26 Nov (Founders' Day)"]
    assert notes(floor, 80) == ["closed Thu 26 Nov (Founders' Day)"]  # where only today is shown
    scale = bay_lines(floor, 160)[0].text
    assert "|Wed" in scale and "|Thu" not in scale.split("|Fri")[0]


def test_a_day_closed_today_is_said_as_today() -> None:
    assert notes(closed("2026-11-24", closed_days=("2026-11-25",))) == ["closed today (Founders' Day), Wed 25 Nov"]


def test_promises_are_counted_without_the_closed_days() -> None:
    """Promised for Friday; Thursday is a holiday, Wednesday closed: two days fewer to spare than in a usual week."""
    promised = job(stage=Stage.READY, promise=NOW + timedelta(days=3, hours=7), operations=())
    state = shop_of(promised)
    usual = look(state, BOOK, NOW, BERLIN, holidays={}).ahead[1].spare
    holiday = {date(2026, 11, 26): "a", date(2026, 11, 25): "b"}
    assert usual == 3 and look(state, BOOK, NOW, BERLIN, holidays=holiday).ahead[1].spare == 1


def test_holidays_are_looked_up_where_nobody_brings_them() -> None:
    """8 December is a holiday in Austria (Feiertagsruhegesetz); 2026 it is a Tuesday."""
    state = shop_of(job(stage=Stage.READY, promise=datetime(2026, 12, 8, 16, tzinfo=UTC)))
    state.settings = msgspec.structs.replace(state.settings, country="AT")
    now = datetime(2026, 12, 7, 9, tzinfo=UTC)
    assert look(state, BOOK, now, BERLIN).ahead[1].spare == 0
    assert look(state, BOOK, now, BERLIN, holidays={}).ahead[1].spare == 1
    assert notes(look(state, BOOK, now, BERLIN))[0].startswith("closed Tue 8 Dec (")
    assert date(2026, 12, 8) in holidays_around(state.settings, now.date())


def test_who_is_away_and_will_be_is_said_by_first_name() -> None:
    state = shop_of()
    people = (Person(id="ana", name="Ana Lund", roles=(Role.TECHNICIAN,)),)
    state.settings = msgspec.structs.replace(state.settings, people=people)
    midnight = datetime(2026, 11, 24, 23, tzinfo=UTC)
    state.closures[1] = Closure(id=1, person="ana", start=NOW, until=midnight, why="ill")
    state.closures[2] = Closure(
        id=2, person="ana", start=midnight + timedelta(days=2), until=midnight + timedelta(days=3)
    )
    state.closures[3] = Closure(id=3, person="ana", start=NOW - timedelta(days=9), until=NOW - timedelta(days=8))
    state.closures[4] = Closure(id=4, person="ana", start=NOW + timedelta(days=90), until=NOW + timedelta(days=91))
    state.closures[5] = Closure(id=5, start=NOW + timedelta(hours=4), until=midnight, why="stocktaking")
    assert notes(look(state, BOOK, NOW, BERLIN, holidays={})) == [
        "Ana is away until the end of Tue 24 Nov (ill); shop closed from Tue 24 Nov 14:00 until the end of the day "
        "(stocktaking); Ana is away on Fri 27 Nov"
    ]


def test_a_day_the_whole_shop_is_closed_is_said_once() -> None:
    state = shop_of()
    start = datetime(2026, 11, 24, 23, tzinfo=UTC)
    state.closures[1] = Closure(id=1, start=start, until=start + timedelta(days=1), why="stocktaking")
    assert notes(look(state, BOOK, NOW, BERLIN, holidays={})) == ["closed Wed 25 Nov (stocktaking)"]


@pytest.mark.parametrize(
    ("zone", "now", "said"),
    [
        ("Europe/Berlin", "2026-03-26T09:00", "clocks go forward an hour on Sun 29 Mar"),
        ("Europe/Berlin", "2026-10-23T09:00", "clocks go back an hour on Sun 25 Oct"),
        ("America/Toronto", "2026-10-30T14:00", "clocks go back an hour on Sun 1 Nov"),
        ("Australia/Lord_Howe", "2026-10-01T22:00", "clocks go forward 30 min on Sun 4 Oct"),
        ("Asia/Tokyo", "2026-03-26T09:00", None),
    ],
)
def test_clocks_that_change_among_the_days_shown(zone: str, now: str, said: str | None) -> None:
    """EU: last Sundays of March and October (2000/84/EC); Ontario: first Sunday of November; Lord Howe: by 30 min."""
    floor = look(shop_of(), BOOK, datetime.fromisoformat(now).replace(tzinfo=UTC), ZoneInfo(zone), holidays={})
    assert notes(floor) == ([said] if said else [])


def test_many_notes_are_two_rows_of_the_screen_s_width() -> None:
    floor = closed(*(f"2026-11-{day}" for day in range(24, 31)), *(f"2026-12-{day:02}" for day in range(1, 5)))
    rows = notes(floor, 80)
    assert len(rows) == 2 and rows[-1].endswith("…") and max(map(cell_len, rows)) <= 80


# -- what no plan can hold -------------------------------------------------------------------------------------------


def test_a_skill_nobody_has_is_one_line_for_all_jobs_that_need_it() -> None:
    quick = QuickShop(hours=dict.fromkeys(("mon", "tue", "wed", "thu", "fri"), "08:00-17:00"))
    for _ in range(4):
        id = quick.to(Stage.READY)
        work = Operation(id="o", name="weld the frame", minutes=60, skill="welding")
        quick.state.jobs[id] = guards.changed(quick.job(id), operations=(work,))
    made = next(iter(Planner(quick.state, BOOK, VIENNA).plan(quick.now, lambda: True, 0.0)))
    floor = look(quick.state, BOOK, quick.now, VIENNA, made, holidays={})
    assert notes(floor) == [
        "T-0001, T-0002 and 2 more cannot be planned: the repair needs welding, which nobody has: add the skill to a "
        "person in shop.toml"
    ]


def test_a_machine_in_a_bay_that_is_not_there_any_more_is_still_listed() -> None:
    rows = waiting_lines(floor_of(job(stage=Stage.REPAIR, bay="9")), 80)
    assert [row.key for row in rows if row.key] == ["1"]


def test_a_bay_that_is_down_says_so_with_a_machine_in_it_and_without() -> None:
    quick = QuickShop()
    quick.to(Stage.REPAIR)
    bay = quick.job().bay
    quick.do(closures.down, bay, quick.now + timedelta(hours=5), why="leaking")
    other = next(one.id for one in quick.state.settings.bays if one.id != bay)
    quick.do(closures.down, other, datetime(2026, 3, 2, 23, tzinfo=UTC))
    rows = [row.text for row in bay_lines(look(quick.state, BOOK, quick.now, VIENNA, holidays={}), 80)]
    assert any("T-0001" in row and row.endswith("bay is down") for row in rows)
    assert any(row.endswith("down until the end of Mon 02 Mar") for row in rows)
