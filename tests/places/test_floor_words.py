"""What Floor, Parts and Office say: late and at risk to the day, groups in working order, true counts."""

from __future__ import annotations

import doctest
import re
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from aids.quick_shop import BOOK

from shopboard.places import job_words
from shopboard.places.floor_lines import Floor, calls_to_make, facts, floor_lines, late_jobs, look
from shopboard.places.job_words import ago_words, awaited, day_words, parts_words, reason_words, spare_words
from shopboard.places.lines import plain
from shopboard.places.office_lines import late_because, office_lines, what_to_say
from shopboard.places.parts_lines import facts as parts_facts
from shopboard.places.parts_lines import frees, groups, parts_lines
from shopboard.planning.outlook import Outlook
from shopboard.records import (
    Approval,
    Bay,
    ClosedJob,
    Comeback,
    Customer,
    Job,
    Layout,
    Machine,
    Model,
    PartLine,
    PartState,
    Settings,
    ShopState,
    Spell,
    Stage,
    Supplier,
)
from shopboard.records.settings import DAYS

BERLIN = ZoneInfo("Europe/Berlin")
SETTINGS = Settings(
    name="s",
    zone="Europe/Berlin",
    hours=dict.fromkeys(DAYS[:5], "08:00-17:00"),
    bays=(Bay(id="1", name="lift"), Bay(id="2", name="yard")),
    suppliers=(Supplier(id="north", name="North Parts", phone="555 7"), Supplier(id="seal", name="Seal House")),
)


def local(text: str) -> datetime:
    return datetime.fromisoformat(text).replace(tzinfo=BERLIN)


NOW = local("2026-11-24T10:00")  # a Tuesday
DAY = timedelta(days=1)


def job(id: int = 1, **given: Any) -> Job:
    usual: dict[str, Any] = {"arrived": NOW - DAY, "since": NOW - DAY, "complaint": "will not pull"}
    return Job(id=id, customer=1, machine=id, **{**usual, **given})


def part(id: int, state: PartState, expected: str | None = None, **given: Any) -> PartLine:
    usual: dict[str, Any] = {"job": 1, "number": f"N{id}", "name": f"part {id}", "quantity": 1, "supplier": "north"}
    day = date.fromisoformat(expected) if expected else None
    return PartLine(id=id, state=state, needed_at=NOW, expected=day, **{**usual, **given})


def floor(*jobs: Job, parts: tuple[PartLine, ...] = (), closed: tuple[ClosedJob, ...] = ()) -> Floor:
    state = ShopState(
        settings=SETTINGS,
        models={"h": Model(id="h", name="Heron 22", layout=Layout.IN_LINE)},
        customers={1: Customer(id=1, name="Kestrel Vineyard", phone="555 0142")},
        machines={j.machine: Machine(id=j.machine, customer=1, model="h", layout=Layout.IN_LINE) for j in jobs},
        jobs={j.id: j for j in jobs},
        parts={p.id: p for p in parts},
        closed={c.id: c for c in closed},
    )
    return look(state, BOOK, NOW, BERLIN)


def test_examples_in_the_docstrings() -> None:
    assert doctest.testmod(job_words).failed == 0


# -- days and times -------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("moment", "words"),
    [
        ("2026-11-24T00:00", "today"),
        ("2026-11-24T23:59", "today"),
        ("2026-11-25T00:00", "Wed"),
        ("2026-11-30T23:59", "Mon"),  # six days on
        ("2026-12-01T00:00", "1 Dec"),  # seven: its name would be today's
        ("2026-11-23T23:59", "23 Nov"),
        ("2027-09-20T12:00", "20 Sep"),  # 300 days on
        ("2027-09-21T12:00", "21 Sep 2027"),
    ],
)
def test_a_day_near_is_named_and_one_further_off_is_dated(moment: str, words: str) -> None:
    assert day_words(local(moment), NOW, BERLIN) == words


def test_the_day_is_the_shops_own_not_greenwichs() -> None:
    assert day_words(datetime(2026, 11, 24, 23, 30, tzinfo=UTC), NOW, BERLIN) == "Wed"
    assert day_words(None, NOW, BERLIN) == "–"


@pytest.mark.parametrize(
    ("minutes", "words"),
    [(0, "0 min"), (59, "59 min"), (60, "1 h"), (119, "1 h"), (2879, "47 h"), (2880, "2 d"), (-5, "0 min")],
)
def test_how_long_ago(minutes: int, words: str) -> None:
    assert ago_words(NOW - timedelta(minutes=minutes), NOW) == words


@pytest.mark.parametrize(
    ("spare", "late", "unknown", "words", "role"),
    [
        (3, False, False, "+3 d", ""),
        (0, False, False, "+0 d", "wait"),  # at risk: no day to spare
        (-1, False, False, "−1 d late", "late"),
        (-1, False, True, "−1 d late", "late"),
        (2, False, True, "undated", "wait"),  # a part without a date: the days are not to be trusted
        (5, True, False, "late", "late"),
        (None, False, False, "no date", "soft"),
    ],
)
def test_spare_is_said_in_words(spare: int | None, late: bool, unknown: bool, words: str, role: str) -> None:
    ahead = Outlook(minutes=10, parts_by=None, parts_unknown=unknown, ready=NOW, spare=spare, late=late)
    assert spare_words(ahead) == (words, role)


# -- the Floor ------------------------------------------------------------------------------------------------------


def test_late_are_those_past_their_promise_and_those_that_cannot_make_it() -> None:
    """80 minutes of work stand before a machine that nobody has looked at: till 11:20, or the next morning."""
    on_time = job(1, promise=local("2026-11-24T17:00"))
    past = job(2, promise=NOW - timedelta(seconds=1))
    at_it = job(3, promise=NOW)
    waits = job(4, stage=Stage.PARTS, promise=local("2026-11-26T17:00"))
    done = job(5, stage=Stage.COLLECT, promise=NOW - DAY)
    no = job(6, stage=Stage.DECLINED, promise=NOW - DAY, closed_at=NOW)
    undated = job(7)
    parts = (part(1, PartState.ORDERED, "2026-11-27", job=4),)
    shop = floor(on_time, past, at_it, waits, done, no, undated, parts=parts)
    assert [j.id for j in late_jobs(shop)] == [2, 4]
    assert shop.ahead[4].spare == -1 and shop.ahead[3].spare == 0


def test_calls_are_for_estimates_and_finished_machines_longest_waiting_first() -> None:
    asked = job(1, stage=Stage.APPROVAL, since=NOW - 2 * DAY)
    ready = job(2, stage=Stage.COLLECT, since=NOW - 3 * DAY)
    shop = floor(asked, ready, job(3, stage=Stage.REPAIR, bay="1"))
    assert [j.id for j in calls_to_make(shop)] == [2, 1]
    assert facts(shop) == "bays 1 of 2    late 0    to call 2"


def test_what_waits_is_grouped_and_a_machine_in_a_bay_stands_only_there() -> None:
    shop = floor(job(1), job(2, stage=Stage.READY), job(3, stage=Stage.REPAIR, bay="1", person="x"), job(4))
    text = plain(floor_lines(shop, 80))
    heads = [row for row in text.splitlines() if row.startswith(("arrived", "ready for a bay"))]
    assert [head.split("  ")[0] for head in heads] == ["arrived", "ready for a bay"]
    assert all(text.count(f"T-000{n}") == 1 for n in (1, 2, 3, 4))
    assert text.index("T-0003") < text.index("arrived") < text.index("T-0001") < text.index("ready for a bay")


def test_a_machine_that_work_waits_for_comes_first_then_the_nearest_promise() -> None:
    jobs = (
        job(1),
        job(2, promise=NOW + 3 * DAY),
        job(3, promise=NOW + DAY),
        job(4, machine_down=True),
    )
    rows = [row.key for row in floor_lines(floor(*jobs), 80) if row.key and not row.key.startswith("bay:")]
    assert rows == ["4", "3", "2", "1"]


def test_an_empty_shop_says_what_to_do() -> None:
    assert "press n to take one in" in plain(floor_lines(floor(), 80))


# -- parts ----------------------------------------------------------------------------------------------------------


def test_the_part_that_holds_a_job_up_longest_is_named() -> None:
    lines = (
        part(1, PartState.ORDERED, "2026-11-26"),
        part(2, PartState.BACK_ORDERED),
        part(3, PartState.RECEIVED),
        part(4, PartState.ORDERED, "2026-11-28"),
    )
    shop = floor(job(stage=Stage.PARTS), parts=lines)
    assert [p.id for p in awaited(shop.state, shop.state.jobs[1])] == [2, 4, 1]
    assert str(reason_words(shop.state, shop.state.jobs[1], NOW, BERLIN).cell(40)).rstrip() == "part 2 no date +2"


@pytest.mark.parametrize(
    ("state", "expected", "words"),
    [
        (PartState.NEEDED, None, "part 1 not ordered"),
        (PartState.ORDERED, "2026-11-23", "part 1 1 d late"),
        (PartState.ORDERED, "2026-11-24", "part 1 due today"),
        (PartState.PARTLY_RECEIVED, "2026-11-25", "part 1 due Wed"),
        (PartState.ORDERED, None, "part 1 no date"),
    ],
)
def test_a_part_is_late_from_the_day_after_its_date(state: PartState, expected: str | None, words: str) -> None:
    assert parts_words([part(1, state, expected)], NOW, BERLIN).cell(40).rstrip() == words
    assert parts_words([], NOW, BERLIN).cell(40).rstrip() == "all parts here"


def test_part_lines_stand_in_the_order_one_would_work_them() -> None:
    lines = (
        part(1, PartState.NEEDED),
        part(2, PartState.ORDERED, "2026-11-24"),
        part(3, PartState.ORDERED, "2026-11-23"),
        part(4, PartState.BACK_ORDERED),
        part(5, PartState.RECEIVED),
        part(6, PartState.PARTLY_RECEIVED, "2026-11-01"),
        part(7, PartState.NEEDED, supplier="seal"),
        part(8, PartState.NEEDED, supplier=""),
        part(9, PartState.FITTED),
        part(10, PartState.RETURNED),
    )
    shop = floor(job(stage=Stage.PARTS), parts=lines)
    found = [(group.title, [p.id for p in group.lines]) for group in groups(shop.state, NOW.date(), BERLIN)]
    assert found[:3] == [("late", [6, 3]), ("arriving", [2]), ("on order, no date", [4])]
    assert sorted(ids for _, ids in found[3:6]) == [[1], [7], [8]]
    assert found[-1] == ("received, to be fitted", [5])
    assert sum(len(ids) for _, ids in found) == 8
    assert parts_facts(shop.state, NOW.date()) == "late 2    on order 4    to order 3"
    keys = [row.key for row in parts_lines(shop.state, NOW, BERLIN, 80) if row.key]
    assert keys == [str(id) for _, ids in found for id in ids]


def test_only_the_last_part_awaited_frees_its_job() -> None:
    two = (part(1, PartState.ORDERED), part(2, PartState.ORDERED), part(3, PartState.RECEIVED))
    shop = floor(job(stage=Stage.PARTS), parts=two)
    assert not frees(shop.state, two[0])
    one = (part(1, PartState.ORDERED), part(3, PartState.RECEIVED), part(4, PartState.ORDERED, job=None))
    shop = floor(job(stage=Stage.PARTS), parts=one)
    assert frees(shop.state, one[0]) and not frees(shop.state, one[2])


# -- the Office -----------------------------------------------------------------------------------------------------


def test_why_a_job_is_late() -> None:
    waits = job(1, stage=Stage.PARTS)
    shop = floor(waits, parts=(part(1, PartState.ORDERED, "2026-11-20"),))
    assert "part 1" in str(late_because(shop, waits)) and "4 d late" in str(late_because(shop, waits))
    asked = job(1, stage=Stage.APPROVAL, since=NOW - DAY)
    assert str(late_because(floor(asked), asked)).startswith("waits for a yes since 23 Nov")
    stands = job(1, stage=Stage.READY, since=NOW - 3 * DAY)
    assert "3 d" in str(late_because(floor(stands), stands))


def test_what_to_say_on_the_phone() -> None:
    approval = Approval(asked=Decimal("412.00"), asked_at=NOW - DAY, asked_by="ana", calls=(NOW - timedelta(hours=3),))
    asked = job(1, stage=Stage.APPROVAL, approval=approval)
    said = what_to_say(floor(asked).state, asked, NOW, BERLIN)
    assert "412.00 EUR" in said and "may we go ahead?" in said and "once" in said and "3 h ago" in said
    done = job(1, stage=Stage.COLLECT, since=NOW - DAY)
    said = what_to_say(floor(done).state, done, NOW, BERLIN)
    assert "Your Heron 22" in said and "since 23 Nov" in said


def closed(id: int, days_ago: float, *, comeback_of: int | None = None, promise: datetime | None = None) -> ClosedJob:
    return ClosedJob(
        id=id, customer=1, machine=id, complaint="c", stage=Stage.COLLECTED, arrived=NOW - 200 * DAY,
        closed_at=NOW - timedelta(days=days_ago), minutes=90.0, comeback_of=comeback_of, promise=promise,
    )  # fmt: skip


def numbers(floor: Floor, about: str) -> list[str]:
    row = next(row.text for row in office_lines(floor, 80) if row.text.strip().startswith(about))
    return re.findall(r"\d+(?:\.\d+)?", row.removeprefix(about))


def test_the_owners_figures_count_to_the_boundary() -> None:
    old = [
        closed(101, 6.99, comeback_of=90),
        closed(102, 7.0),
        closed(103, 89.99, promise=NOW),
        closed(104, 90.0, comeback_of=91, promise=NOW - 95 * DAY),
        closed(105, 364.9, promise=NOW - 364.9 * DAY),
        closed(106, 366, promise=NOW),
    ]
    spent = (Spell(by="ana", at=NOW - 6.9 * DAY, minutes=90), Spell(by="ana", at=NOW - 7.1 * DAY, minutes=600))
    shop = floor(job(1, spent=spent, comeback=Comeback(of=101)), closed=tuple(old))
    assert numbers(shop, "closed in 7 days:") == ["2", "3.0"]
    assert numbers(shop, "closed in the last 90 days:") == ["3", "1"]
    assert numbers(shop, "closed in the last year:") == ["3", "2"]
    assert "ana 1.5 h" in plain(office_lines(shop, 80))
    assert "after T-0101" in plain(office_lines(shop, 80))
