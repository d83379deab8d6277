"""What may happen next: the moves tell just what the rules themselves allow."""

from __future__ import annotations

import inspect

import pytest
from aids.quick_shop import BOOK, START, QuickShop

from shopboard import shop
from shopboard.records import Stage
from shopboard.shop.moves import moves


def may(quick: QuickShop, job: int = 1) -> set[str]:
    return {move.name for move in moves(quick.state, quick.job(job), START) if not move.why_not}


def why_not(quick: QuickShop, name: str) -> str:
    (found,) = [move.why_not for move in moves(quick.state, quick.job(), START) if move.name == name]
    return found


#: The steps that carry a job on from each stage of the usual way, as the trade has them.
ONWARD = {
    Stage.ARRIVED: {"stages.diagnose", "bays.put", "approval.decline"},
    Stage.DIAGNOSED: {"approval.ask", "bays.put", "approval.decline"},
    Stage.APPROVAL: {"approval.ask", "approval.called", "approval.give", "approval.decline"},
    Stage.READY: {"approval.ask", "bays.put", "approval.decline"},
    Stage.REPAIR: {"approval.ask", "bays.put", "stages.finish_repair", "approval.decline"},
    Stage.ROAD_TEST: {"approval.ask", "bays.put", "bays.leave", "stages.road_test"},
    Stage.COLLECT: {"approval.ask", "bays.leave", "stages.road_test"},
}
CARRIES = {
    "stages.diagnose", "approval.ask", "approval.called", "approval.give", "approval.decline", "bays.put", "bays.swap",
    "bays.leave", "stages.start_repair", "stages.wait_for_parts", "stages.finish_repair", "stages.road_test",
    "closing.collect", "closing.machine_left", "parts.fit",
}  # fmt: skip


@pytest.mark.parametrize("stage", list(ONWARD))
def test_what_carries_a_job_on(stage: Stage) -> None:
    quick = QuickShop()
    quick.to(stage)
    assert may(quick) & CARRIES == ONWARD[stage]


def test_why_not_is_what_the_rule_would_say() -> None:
    quick = QuickShop()
    quick.to(Stage.READY)
    told = quick.refuses(shop.stages.start_repair, 1, why="in no bay")
    assert why_not(quick, "stages.start_repair") == str(told)
    quick.do(shop.bays.put, 1, "2")
    assert why_not(quick, "stages.start_repair") == ""


def test_putting_and_swapping_look_at_the_bays() -> None:
    quick = QuickShop()
    for bay in ("1", "2", "3"):
        quick.to(Stage.REPAIR, bay=bay)
    quick.to(Stage.READY)
    (put,) = [m for m in moves(quick.state, quick.job(4), START) if m.name == "bays.put"]
    assert "bay 1 holds T-0001 (in repair); bay 2 holds T-0002" in put.why_not
    (swap,) = [m for m in moves(quick.state, quick.job(4), START) if m.name == "bays.swap"]
    assert "T-0001 is in repair" in swap.why_not
    quick.do(shop.parts.need, 1, "S-1", "seal", 1)
    quick.do(shop.stages.wait_for_parts, 1)
    assert "bays.swap" in may(quick, 4)


def test_parts_moves_look_at_the_lines() -> None:
    quick = QuickShop()
    quick.to(Stage.REPAIR)
    steps = {"parts.order", "parts.receive", "parts.fit", "stages.wait_for_parts"}
    assert may(quick) & steps == set()
    quick.do(shop.parts.need, 1, "S-1", "seal", 1)
    assert may(quick) & steps == {"parts.order", "stages.wait_for_parts"}
    quick.do(shop.parts.order, (1,), "north", None)
    assert may(quick) & steps == {"parts.receive", "stages.wait_for_parts"}
    quick.do(shop.parts.receive, 1, 1)
    assert may(quick) & steps == {"parts.fit"}


def test_a_closed_job_may_only_be_remarked_on() -> None:
    quick = QuickShop()
    quick.to(Stage.REPAIR)
    quick.do(shop.evidence.find, 1, "other", "stone in the belt", book=BOOK)
    quick.do(shop.stages.finish_repair, 1)
    quick.do(shop.stages.road_test, 1, True, True, True)
    assert "closing.collect" in may(quick)
    quick.do(shop.closing.collect, 1, quick.state.settings.labour_rate, quick.state.settings.labour_rate)
    closed = quick.filed[1][0]
    assert [m.name for m in moves(quick.state, closed, START) if not m.why_not] == ["evidence.remark"]


def test_a_declined_machine_may_leave_once_its_covers_are_on() -> None:
    quick = QuickShop()
    quick.to(Stage.DIAGNOSED)
    quick.do(shop.stages.cover_off, 1, "deck")
    quick.do(shop.approval.decline, 1, "Mrs Hill", "phone", "too dear")
    assert may(quick) == {"stages.cover_on", "evidence.remark"}
    quick.do(shop.stages.cover_on, 1, "deck")
    assert may(quick) == {"closing.machine_left", "evidence.remark"}


def test_every_move_is_a_rule_and_says_what_it_does() -> None:
    quick = QuickShop()
    quick.to(Stage.ARRIVED)
    found = moves(quick.state, quick.job(), START)
    assert len({move.name for move in found}) == len(found)
    for move in found:
        room, name = move.name.split(".")
        rule = getattr(getattr(shop, room), name)
        assert list(inspect.signature(rule).parameters)[:3] == ["state", "now", "by"]
        assert move.title
