"""What is ahead of a job: minutes left, parts to come, the day it could be done, and the days to spare."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from aids.quick_shop import BOOK

from shopboard.planning.closed_days import open_hours
from shopboard.planning.outlook import DIAGNOSIS_MINUTES, ROAD_TEST_MINUTES, minutes_left, outlook
from shopboard.records import Job, Operation, PartLine, PartState, Settings, ShopState, Stage
from shopboard.records.settings import DAYS

BERLIN = ZoneInfo("Europe/Berlin")
WEEK = Settings(name="s", zone="Europe/Berlin", hours=dict.fromkeys(DAYS[:5], "08:00-17:00"))


def local(text: str) -> datetime:
    return datetime.fromisoformat(text).replace(tzinfo=BERLIN)


NOW = local("2026-11-24T10:00")  # a Tuesday


def job(**given: Any) -> Job:
    return Job(id=1, customer=1, machine=1, arrived=NOW, since=NOW, complaint="weak", **given)


def work(id: str, minutes: float, *covers: str, done: bool = False) -> Operation:
    return Operation(id=id, name=id, minutes=minutes, covers=covers, done=done)


def part(id: int, state: PartState, expected: str | None = None) -> PartLine:
    day = date.fromisoformat(expected) if expected else None
    return PartLine(id=id, job=1, number="n", name="seal", quantity=1, state=state, needed_at=NOW, expected=day)


def ahead(job: Job, *parts: PartLine, now: datetime = NOW, week: Settings = WEEK) -> Any:
    state = ShopState(settings=week, models={}, jobs={1: job}, parts={p.id: p for p in parts})
    return outlook(state, job, BOOK, now, open_hours(state.settings, BERLIN, {}))


# -- minutes --------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("stage", "minutes"),
    [
        (Stage.ARRIVED, DIAGNOSIS_MINUTES + ROAD_TEST_MINUTES),
        (Stage.REPAIR, DIAGNOSIS_MINUTES + ROAD_TEST_MINUTES),  # nobody has said yet what is to be done
        (Stage.ROAD_TEST, ROAD_TEST_MINUTES),
        (Stage.COLLECT, 0.0),
        (Stage.DECLINED, 0.0),
    ],
)
def test_minutes_by_stage_while_no_work_is_named(stage: Stage, minutes: float) -> None:
    assert minutes_left(job(stage=stage), BOOK) == minutes


def test_a_cover_is_counted_once_and_work_done_not_at_all() -> None:
    """By hand: the floor plate of the small book takes 8 minutes off and 10 on, the shaft guard under it 5 and 6."""
    both = job(stage=Stage.REPAIR, operations=(work("a", 30, "floor-plate"), work("b", 60, "shaft-guard")))
    assert minutes_left(both, BOOK) == 30 + 60 + (8 + 10) + (5 + 6) + 20
    one = job(stage=Stage.REPAIR, operations=(work("a", 30, "floor-plate", done=True), work("b", 60, "floor-plate")))
    assert minutes_left(one, BOOK) == 60 + 18 + 20


def test_a_cover_that_is_off_must_only_go_back_on() -> None:
    off = job(stage=Stage.REPAIR, operations=(work("a", 30, "floor-plate"),), covers_off=("floor-plate",))
    assert minutes_left(off, BOOK) == 30 + 10 + 20
    done = job(stage=Stage.REPAIR, operations=(work("a", 30, done=True),), covers_off=("floor-plate",))
    assert minutes_left(done, BOOK) == 10 + 20


# -- when -----------------------------------------------------------------------------------------------------------


def test_work_without_parts_starts_now() -> None:
    found = ahead(job(stage=Stage.REPAIR, operations=(work("a", 100),)))
    assert found.ready == local("2026-11-24T12:00") and found.parts_by is None and not found.parts_unknown


@pytest.mark.parametrize(
    ("expected", "ready"),
    [
        ("2026-11-26", "2026-11-26T09:00"),  # comes Thursday: from opening
        ("2026-11-25", "2026-11-25T09:00"),
        ("2026-11-24", "2026-11-24T11:00"),  # due today: from now
        ("2026-11-20", "2026-11-24T11:00"),  # late: nothing better is known
        ("2026-11-28", "2026-11-30T09:00"),  # comes on a Saturday: nobody is there before Monday
    ],
)
def test_work_waits_for_its_last_part(expected: str, ready: str) -> None:
    held = job(stage=Stage.PARTS, operations=(work("a", 40),))
    lines = (part(1, PartState.ORDERED, expected), part(2, PartState.RECEIVED, "2026-12-20"))
    found = ahead(held, *lines)
    assert found.ready == local(ready) and found.parts_by == date.fromisoformat(expected)


@pytest.mark.parametrize("state", [PartState.NEEDED, PartState.ORDERED, PartState.BACK_ORDERED])
def test_a_part_without_a_date_is_said(state: PartState) -> None:
    assert ahead(job(stage=Stage.PARTS), part(1, state)).parts_unknown


@pytest.mark.parametrize("state", [PartState.RECEIVED, PartState.FITTED, PartState.RETURNED])
def test_a_part_that_is_here_or_gone_holds_nothing_up(state: PartState) -> None:
    found = ahead(job(stage=Stage.READY), part(1, state))
    assert not found.parts_unknown and found.parts_by is None


# -- promise --------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("promise", "spare"),
    [
        ("2026-11-24T17:00", 0),
        ("2026-11-25T17:00", 1),
        ("2026-11-27T17:00", 3),
        ("2026-11-29T17:00", 3),  # a Sunday: three open days lie between
        ("2026-11-30T17:00", 4),
        ("2026-11-23T17:00", -1),
    ],
)
def test_days_to_spare(promise: str, spare: int) -> None:
    assert ahead(job(stage=Stage.REPAIR, operations=(work("a", 40),), promise=local(promise))).spare == spare


def test_work_that_ends_at_closing_is_on_time_and_a_minute_more_is_not() -> None:
    """7 hours stand between now and closing: 400 minutes of work and 20 of road test fill them."""
    today = local("2026-11-24T17:00")
    fits = ahead(job(stage=Stage.REPAIR, operations=(work("a", 400),), promise=today))
    over = ahead(job(stage=Stage.REPAIR, operations=(work("a", 401),), promise=today))
    assert (fits.spare, over.spare) == (0, -1)


def test_late_is_after_the_promised_moment_and_not_at_it() -> None:
    held = job(stage=Stage.REPAIR, operations=(work("a", 1),), promise=NOW)
    assert not ahead(held).late
    assert ahead(held, now=NOW + timedelta(seconds=1)).late


def test_a_finished_machine_is_not_late_for_its_owner_to_come() -> None:
    done = job(stage=Stage.COLLECT, promise=NOW - timedelta(days=3))
    assert not ahead(done).late
    assert ahead(job(stage=Stage.ROAD_TEST, promise=NOW - timedelta(days=3))).late


def test_the_day_is_the_shops_own_also_near_midnight() -> None:
    """23:30 UTC on the 24th is the 25th in Berlin: a promise for the 25th has no day to spare any more."""
    late_evening = local("2026-11-25T00:30")
    held = job(stage=Stage.REPAIR, operations=(work("a", 10),), promise=local("2026-11-25T17:00"))
    assert ahead(held, now=late_evening).spare == 0


def test_nothing_promised_nothing_to_spare() -> None:
    found = ahead(job())
    assert found.spare is None and not found.late


def test_a_shop_without_hours_still_gets_an_answer() -> None:
    found = ahead(job(promise=NOW), week=Settings(name="s"))
    assert found.ready == NOW + timedelta(minutes=80) and found.spare == 0
