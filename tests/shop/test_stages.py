"""The stages: who may go where, the covers, the time, and the road test before a machine leaves."""

from __future__ import annotations

import math
from collections.abc import Callable
from decimal import Decimal
from typing import Any

import pytest
from aids.quick_shop import BOOK, START, QuickShop

from shopboard import shop
from shopboard.records import PartState, Payer, Stage, Step

RULES: dict[str, tuple[Callable[..., Step], tuple[Any, ...], frozenset[Stage]]] = {
    "diagnose": (shop.stages.diagnose, (1,), frozenset({Stage.ARRIVED})),
    "ask": (shop.approval.ask, (1, Decimal(900)), frozenset(Stage) - {Stage.ARRIVED, Stage.COLLECTED, Stage.DECLINED}),
    "give": (shop.approval.give, (1, "Mrs Hill", "phone"), frozenset({Stage.APPROVAL})),
    "start_repair": (shop.stages.start_repair, (1,), frozenset({Stage.READY})),
    "finish_repair": (shop.stages.finish_repair, (1,), frozenset({Stage.REPAIR})),
    "road_test": (shop.stages.road_test, (1, True, True, True), frozenset({Stage.ROAD_TEST, Stage.COLLECT})),
    "fail_test": (shop.stages.road_test, (1, False, False, False), frozenset({Stage.ROAD_TEST, Stage.COLLECT})),
    "collect": (shop.closing.collect, (1, Decimal(9), Decimal(9)), frozenset({Stage.COLLECT})),
    "left": (shop.closing.machine_left, (1,), frozenset({Stage.DECLINED})),
    "decline": (
        shop.approval.decline,
        (1, "Mrs Hill", "phone", "dear"),
        frozenset(Stage) - {Stage.ROAD_TEST, Stage.COLLECT, Stage.COLLECTED, Stage.DECLINED},
    ),
}


def at(stage: Stage) -> QuickShop:
    """A shop with job 1 at this stage, its cause known and, where that can be, its machine in bay 2."""
    quick = QuickShop()
    if stage in (Stage.DECLINED, Stage.COLLECTED, Stage.PARTS):
        quick.to(Stage.COLLECT if stage is Stage.COLLECTED else Stage.READY)
    else:
        quick.to(stage)
    quick.do(shop.evidence.find, 1, "other", "stone in the belt", book=BOOK)
    if stage is Stage.DECLINED:
        quick.do(shop.approval.decline, 1, "Mrs Hill", "phone", "too dear")
    if stage is Stage.COLLECTED:
        quick.do(shop.closing.collect, 1, Decimal(9), Decimal(9))
    if stage in (Stage.READY, Stage.PARTS):
        quick.do(shop.bays.put, 1, "2")
    if stage is Stage.PARTS:
        quick.do(shop.parts.need, 1, "S-1", "seal", 1)
    return quick


@pytest.mark.parametrize("stage", list(Stage))
@pytest.mark.parametrize("name", list(RULES))
def test_each_step_from_each_stage(name: str, stage: Stage) -> None:
    rule, given, allowed = RULES[name]
    quick = at(stage)
    if stage in allowed:
        quick.do(rule, *given)
    else:
        quick.refuses(rule, *given, why="T-0001")


def test_a_job_keeps_count_of_how_long_it_stands_in_a_stage() -> None:
    quick = QuickShop()
    quick.to(Stage.ARRIVED)
    quick.later(hours=1)
    quick.do(shop.stages.diagnose, 1, "ana")
    assert quick.job().since == quick.now
    begun = quick.now
    quick.later(hours=1)
    quick.do(shop.stages.diagnose, 1, "bo")
    assert (quick.job().since, quick.job().person) == (begun, "bo"), "handing over does not start it anew"


# -- people -----------------------------------------------------------------------------------------------------------


def test_who_signs_does_the_work_if_a_technician() -> None:
    quick = QuickShop()
    quick.take_in()
    quick.do(shop.stages.diagnose, 1, by="cy")
    assert quick.job().person == ""
    quick.do(shop.approval.ask, 1, Decimal(10))
    quick.do(shop.approval.give, 1, "Mrs Hill", "phone")
    quick.do(shop.bays.put, 1, "1")
    quick.refuses(shop.stages.start_repair, 1, by="cy", why="Cy is not a technician here: give it to ana or bo")
    quick.do(shop.stages.start_repair, 1, by="bo")
    assert quick.job().person == "bo"


@pytest.mark.parametrize(
    ("person", "why"),
    [
        ("zed", "nobody called zed works here: give it to ana"),
        ("dee", "Dee is not a technician here"),
        ("bo", "Bo has not the skill hydrostat, which “rebuild the pump” asks for: give it to ana"),
    ],
)
def test_work_goes_to_somebody_who_can_do_it(person: str, why: str) -> None:
    quick = QuickShop()
    quick.to(Stage.DIAGNOSED)
    quick.do(shop.evidence.find, 1, "piston-wear", correction="rebuild-pump", book=BOOK)
    quick.do(shop.approval.ask, 1, Decimal(400))
    quick.do(shop.approval.give, 1, "Mrs Hill", "phone")
    quick.refuses(shop.bays.put, 1, "2", person, why=why)
    quick.do(shop.bays.put, 1, "2")
    quick.refuses(shop.stages.start_repair, 1, person, why=why)
    quick.do(shop.stages.start_repair, 1, "ana")
    quick.refuses(shop.stages.start_repair, 1, person, why=why)


def test_diagnosis_asks_for_a_technician_and_no_skill() -> None:
    quick = QuickShop()
    quick.take_in()
    quick.refuses(shop.stages.diagnose, 1, "cy", why="Cy is not a technician here")
    quick.do(shop.stages.diagnose, 1, "bo")
    quick.refuses(shop.stages.diagnose, 1, "bo", why="being diagnosed, not arrived")
    quick.refuses(shop.stages.diagnose, 1, why="being diagnosed, not arrived")


def test_nobody_with_the_skill_says_so() -> None:
    quick = QuickShop()
    quick.state.settings = quick.state.settings.__class__(
        **{f: getattr(quick.state.settings, f) for f in quick.state.settings.__struct_fields__ if f != "people"},
        people=quick.state.settings.people[1:],
    )
    quick.take_in()
    quick.do(shop.evidence.find, 1, "piston-wear", correction="rebuild-pump", book=BOOK, by="bo")
    quick.refuses(shop.bays.put, 1, "2", "bo", by="bo", why="add a technician with that skill to shop.toml")


# -- repair -----------------------------------------------------------------------------------------------------------


def test_repair_is_in_a_bay_that_fits_only() -> None:
    quick = QuickShop()
    quick.to(Stage.READY)
    quick.refuses(shop.stages.start_repair, 1, why="repair is in a bay only")
    quick.do(shop.bays.put, 1, "1")
    quick.do(shop.evidence.find, 1, "piston-wear", correction="rebuild-pump", book=BOOK)
    quick.refuses(shop.stages.start_repair, 1, why="bay 1 has no clean bench, which “rebuild the pump” needs")
    quick.do(shop.bays.put, 1, "2")
    quick.do(shop.stages.start_repair, 1)
    assert quick.steps[-1].why == "T-0001 is in repair, Ana on it."


def test_a_part_missed_in_repair_stops_it_only_when_the_technician_says_so() -> None:
    quick = at(Stage.REPAIR)
    quick.refuses(shop.stages.wait_for_parts, 1, why="no part is missing")
    quick.do(shop.parts.need, 1, "S-1", "seal", 1)
    assert quick.job().stage is Stage.REPAIR
    quick.do(shop.stages.wait_for_parts, 1)
    assert (quick.job().stage, quick.job().bay) == (Stage.PARTS, "2")
    quick.do(shop.bays.leave, 1)
    quick.do(shop.parts.order, (1,), "north", None)
    quick.do(shop.parts.receive, 1, 1)
    assert quick.job().stage is Stage.READY


def test_the_shops_own_job_may_wait_for_parts_from_its_diagnosis() -> None:
    quick = QuickShop()
    quick.to(Stage.DIAGNOSED, payer=Payer.SHOP)
    quick.do(shop.parts.need, 1, "S-1", "seal", 1)
    quick.do(shop.bays.put, 1, "1")
    quick.refuses(shop.stages.start_repair, 1, why="still lacks parts: seal (needed)")
    quick.do(shop.stages.wait_for_parts, 1)
    other = QuickShop()
    other.to(Stage.DIAGNOSED)
    other.do(shop.parts.need, 1, "S-1", "seal", 1)
    other.refuses(shop.stages.wait_for_parts, 1, why="nobody has said yes")


# -- what must be closed before a road test ---------------------------------------------------------------------------


def open_work(quick: QuickShop) -> tuple[str, Callable[[], Step]]:
    quick.do(shop.evidence.find, 1, "low-oil", correction="top-up", book=BOOK)
    return "work to do: top up the oil", lambda: quick.do(shop.stages.work_done, 1, "top-up")


def open_cover(quick: QuickShop) -> tuple[str, Callable[[], Step]]:
    quick.do(shop.stages.cover_off, 1, "floor-plate")
    return "covers off: floor-plate", lambda: quick.do(shop.stages.cover_on, 1, "floor-plate")


def received_part(quick: QuickShop) -> tuple[str, Callable[[], Step]]:
    quick.do(shop.parts.need, 1, "S-1", "seal", 1)
    quick.do(shop.parts.order, (1,), "north", None)
    quick.do(shop.parts.receive, 1, 1)
    return "not fitted: seal (received)", lambda: quick.do(shop.parts.fit, 1)


def part_to_return(quick: QuickShop) -> tuple[str, Callable[[], Step]]:
    why, _ = received_part(quick)
    return why, lambda: quick.do(shop.parts.send_back, 1)


def missing_part(quick: QuickShop) -> tuple[str, Callable[[], Step]]:
    quick.do(shop.parts.need, 1, "S-1", "seal", 1)
    return "still lacks parts: seal (needed)", lambda: quick.do(shop.parts.send_back, 1)


OPEN = [open_work, open_cover, received_part, part_to_return, missing_part]


@pytest.mark.parametrize("leave_open", OPEN)
def test_nothing_open_before_the_repair_is_finished(leave_open: Callable[..., Any]) -> None:
    quick = at(Stage.REPAIR)
    why, close = leave_open(quick)
    quick.refuses(shop.stages.finish_repair, 1, why=why)
    close()
    quick.do(shop.stages.finish_repair, 1)


@pytest.mark.parametrize("leave_open", [open_work, missing_part])
def test_nothing_found_since_before_the_road_test_or_collection(leave_open: Callable[..., Any]) -> None:
    quick = at(Stage.ROAD_TEST)
    why, _ = leave_open(quick)
    quick.refuses(shop.stages.road_test, 1, True, True, True, why=why)
    quick.do(shop.stages.road_test, 1, False, True, True, "as found since")
    assert quick.job().stage is Stage.REPAIR


def test_work_found_on_a_finished_machine_keeps_it_here() -> None:
    quick = at(Stage.COLLECT)
    open_work(quick)
    quick.refuses(shop.closing.collect, 1, Decimal(9), Decimal(9), why="work to do: top up the oil")
    quick.refuses(shop.parts.need, 1, "S-1", "seal", 1, why="ready to collect: fail the road test first")
    quick.refuses(shop.stages.cover_off, 1, "deck", why="its covers stay on")


# -- road test --------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("passed", "interlocks", "brake", "stage", "words"),
    [
        (True, True, True, Stage.COLLECT, "passed, interlocks and brake proved: ready to collect"),
        (True, False, True, Stage.ROAD_TEST, "passed, but it stays: interlocks not proved"),
        (True, True, False, Stage.ROAD_TEST, "passed, but it stays: brake not proved"),
        (True, False, False, Stage.ROAD_TEST, "passed, but it stays: interlocks and brake not proved"),
        (False, True, True, Stage.REPAIR, "failed: back in repair"),
        (False, False, False, Stage.REPAIR, "failed: back in repair"),
    ],
)
def test_the_outcome_of_a_road_test(passed: bool, interlocks: bool, brake: bool, stage: Stage, words: str) -> None:
    quick = at(Stage.ROAD_TEST)
    step = quick.do(shop.stages.road_test, 1, passed, interlocks, brake, "on the hill", by="bo")
    assert quick.job().stage is stage
    assert step.why == f"T-0001, road test {words} – on the hill."
    test = quick.job().road_test
    assert test is not None
    assert (test.passed, test.interlocks_proved, test.brake_proved) == (passed, interlocks, brake)
    assert (test.by, test.at, test.note) == ("bo", START, "on the hill")


def test_a_machine_that_fails_outside_a_bay_is_in_line_for_one() -> None:
    quick = at(Stage.ROAD_TEST)
    quick.do(shop.bays.leave, 1)
    quick.do(shop.stages.road_test, 1, False, True, True)
    assert quick.job().stage is Stage.READY


def test_one_that_fails_for_want_of_a_part_waits_for_it() -> None:
    quick = at(Stage.ROAD_TEST)
    missing_part(quick)
    quick.do(shop.bays.leave, 1)
    quick.do(shop.stages.road_test, 1, False, True, True)
    assert quick.job().stage is Stage.PARTS
    quick.do(shop.parts.send_back, 1)
    assert quick.job().stage is Stage.READY


def test_a_machine_ready_to_collect_may_be_tested_again() -> None:
    quick = at(Stage.COLLECT)
    quick.do(shop.stages.road_test, 1, True, True, False)
    assert quick.job().stage is Stage.ROAD_TEST
    quick.refuses(shop.closing.collect, 1, Decimal(9), Decimal(9), why="brake of T-0001 not proved")
    quick.do(shop.stages.road_test, 1, True, True, True)
    quick.do(shop.closing.collect, 1, Decimal(9), Decimal(9))


# -- time, work, covers -----------------------------------------------------------------------------------------------


def test_time_is_booked_to_who_signs_and_the_bay() -> None:
    quick = at(Stage.REPAIR)
    quick.do(shop.stages.spend, 1, 42.5, "seals", by="bo")
    spell = quick.job().spent[-1]
    assert (spell.by, spell.minutes, spell.bay, spell.what, spell.at) == ("bo", 42.5, "2", "seals", START)
    assert quick.steps[-1].why == "T-0001: 42.5 min spent on seals."


@pytest.mark.parametrize("minutes", [0, -1, math.nan, math.inf, 1440.5, True])
def test_no_time_and_more_than_a_day_are_refused(minutes: float) -> None:
    at(Stage.REPAIR).refuses(shop.stages.spend, 1, minutes, why="time spent")


def test_a_whole_day_may_be_booked() -> None:
    at(Stage.REPAIR).do(shop.stages.spend, 1, 1440)


def test_work_is_marked_once() -> None:
    quick = at(Stage.REPAIR)
    quick.refuses(shop.stages.work_done, 1, "top-up", why="nothing is left to do")
    open_work(quick)
    quick.refuses(shop.stages.work_done, 1, "rebuild-pump", why="rebuild-pump is not to do on T-0001: to do: top-up")
    quick.do(shop.stages.work_done, 1, "top-up")
    quick.refuses(shop.stages.work_done, 1, "top-up", why="nothing is left to do")
    arrived = at(Stage.READY)
    open_work(arrived)
    arrived.refuses(shop.stages.work_done, 1, "top-up", why="ready for a bay, not in repair")


def test_covers_come_off_once_and_go_on_once() -> None:
    quick = at(Stage.DIAGNOSED)
    quick.refuses(shop.stages.cover_on, 1, "deck", why="no cover is off")
    quick.refuses(shop.stages.cover_off, 1, "  ", why="cover is blank")
    quick.do(shop.stages.cover_off, 1, "deck")
    quick.do(shop.stages.cover_off, 1, "shield")
    quick.refuses(shop.stages.cover_off, 1, "deck", why="deck is off T-0001 already")
    quick.refuses(shop.stages.cover_on, 1, "plate", why="plate is not off T-0001: off are deck and shield")
    quick.do(shop.stages.cover_on, 1, "deck")
    assert quick.job().covers_off == ("shield",)


def test_lines_sent_back_count_for_nothing() -> None:
    quick = at(Stage.REPAIR)
    missing_part(quick)
    quick.do(shop.parts.send_back, 1)
    assert quick.line().state is PartState.RETURNED
    quick.do(shop.stages.finish_repair, 1)
