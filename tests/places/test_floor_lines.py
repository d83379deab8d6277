"""What the Floor says is so: what counts as late, which call is to make, where each machine is listed, once."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal

import pytest
from aids.line_shop import NOW, floor_of, job, part
from rich.cells import cell_len

from shopboard.places.floor_lines import calls_to_make, facts, floor_lines, late_jobs
from shopboard.places.job_words import ago_words, day_words, reason_words, spare_words
from shopboard.places.timeline import axis
from shopboard.records import Approval, Job, PartState, Stage

OPEN = [stage for stage in Stage if stage is not Stage.COLLECTED]


def test_every_machine_is_listed_once_in_its_bay_or_under_what_it_waits_for() -> None:
    jobs = [job(n, stage=stage, bay="1" if stage is Stage.REPAIR else "") for n, stage in enumerate(OPEN, 1)]
    keys = [row.key for row in floor_lines(floor_of(*jobs), 80)]
    assert sorted(k for k in keys if k and k.isdigit()) == sorted(str(j.id) for j in jobs)
    assert "bay:2" in keys and "bay:1" not in keys


@pytest.mark.parametrize("width", [80, 100, 109, 110, 160, 240])
def test_no_row_is_wider_than_the_screen(width: int) -> None:
    long = "x" * 300
    jobs = [job(n, stage=stage, complaint=long, machine_down=True, promise=NOW) for n, stage in enumerate(OPEN, 1)]
    rows = floor_lines(floor_of(*jobs, job(99, bay="1", complaint=long)), width)
    assert max(cell_len(row.text) for row in rows) <= width


@pytest.mark.parametrize(
    ("facts_of_it", "late"),
    [
        ({"promise": NOW - timedelta(seconds=1)}, True),
        ({"promise": NOW + timedelta(hours=7)}, False),  # 17:00 today
        ({"promise": None}, False),
        ({"promise": NOW - timedelta(days=1), "stage": Stage.COLLECT}, False),
        ({"promise": NOW - timedelta(days=1), "stage": Stage.DECLINED}, False),
    ],
)
def test_what_is_late(facts_of_it: dict[str, object], late: bool) -> None:
    floor = floor_of(job(**facts_of_it))
    assert bool(late_jobs(floor)) is late and f"late {int(late)}" in facts(floor)


def test_a_part_that_comes_after_the_promise_makes_late_today_already() -> None:
    waits = job(stage=Stage.PARTS, promise=NOW + timedelta(days=2))  # Thursday
    assert not late_jobs(floor_of(waits, part(state=PartState.ORDERED, expected=date(2026, 11, 26))))
    assert late_jobs(floor_of(waits, part(state=PartState.ORDERED, expected=date(2026, 11, 27))))


def test_calls_are_the_questions_open_and_the_machines_ready_the_longest_waiting_first() -> None:
    jobs = [job(n, stage=stage, since=NOW - timedelta(hours=n)) for n, stage in enumerate(OPEN, 1)]
    assert {j.stage for j in calls_to_make(floor_of(*jobs))} == {Stage.APPROVAL, Stage.COLLECT}
    since = [j.since for j in calls_to_make(floor_of(*jobs))]
    assert since == sorted(since)


@pytest.mark.parametrize(
    ("promised", "words"),
    [(-2, "late"), (0, "+0 d"), (1, "+1 d"), (6, "+4 d")],  # six days on is a Monday
)
def test_spare_in_words(promised: int, words: str) -> None:
    floor = floor_of(job(promise=NOW + timedelta(days=promised, hours=7)))
    assert spare_words(floor.ahead[1])[0] == words


def test_nothing_to_spare_that_can_be_told_without_a_date_from_the_supplier() -> None:
    waits = job(stage=Stage.PARTS, promise=NOW + timedelta(days=2))
    for expected in (None, date(2026, 11, 23)):
        floor = floor_of(waits, part(state=PartState.ORDERED, expected=expected))
        assert spare_words(floor.ahead[1])[0] == "undated"


def _reason(one: Job, width: int = 26) -> str:
    floor = floor_of(one)
    return reason_words(floor.state, one, NOW, floor.zone).cell(width).strip()


def test_a_narrow_row_keeps_the_sum_and_whether_somebody_called() -> None:
    asked = Approval(asked=Decimal("412.00"), asked_at=NOW - timedelta(hours=25), asked_by="ana")
    assert _reason(job(stage=Stage.APPROVAL, approval=asked)) == "412.00 asked, not called"


def test_a_machine_that_work_waits_for_says_so_in_whole() -> None:
    assert _reason(job(complaint="y" * 60, machine_down=True)).endswith("…, down")


@pytest.mark.parametrize(
    ("minutes", "words"), [(-5, "0 min"), (59.9, "59 min"), (60, "1 h"), (47 * 60 + 59, "47 h"), (48 * 60, "2 d")]
)
def test_how_long_ago(minutes: float, words: str) -> None:
    assert ago_words(NOW - timedelta(minutes=minutes), NOW) == words


@pytest.mark.parametrize(
    ("days", "words"), [(-1, "23 Nov"), (0, "today"), (1, "Wed"), (6, "Mon"), (7, "1 Dec"), (310, "30 Sep 2027")]
)
def test_days_by_name_while_the_name_means_one_day(days: int, words: str) -> None:
    floor = floor_of()
    assert day_words(NOW + timedelta(days=days), NOW, floor.zone) == words


def test_today_ends_at_midnight_in_the_shops_zone() -> None:
    """23:30 UTC on the 24th is half past midnight in Berlin."""
    floor = floor_of()
    assert day_words(NOW.replace(hour=22, minute=59), NOW, floor.zone) == "today"
    assert day_words(NOW.replace(hour=23, minute=30), NOW, floor.zone) == "Wed"


@pytest.mark.parametrize("width", [12, 22, 50, 120])
def test_the_hours_run_from_left_to_right_and_closed_time_takes_no_room(width: int) -> None:
    floor = floor_of()
    track = axis(floor.hours, NOW, width)
    columns = [track.column(NOW + timedelta(minutes=15 * n)) for n in range(400)]
    known = [c for c in columns if c is not None]
    assert known == sorted(known) and columns[: len(known)] == known and max(known) < width
    assert all(s.day.weekday() < 5 for s in track.stretches) and len(track.scale()) == width
