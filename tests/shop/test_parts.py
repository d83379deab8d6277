"""Parts from needed to fitted or sent back: states, quantities, and what each step does to the job."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, date, datetime
from decimal import Decimal
from typing import Any

import pytest
from aids.quick_shop import BOOK, START, QuickShop

from shopboard import shop
from shopboard.records import PartState, Stage, Step

TODAY = date(2026, 3, 2)


def needed(quantity: int = 3, stage: Stage = Stage.REPAIR, **given: Any) -> QuickShop:
    """A shop with job 1 at this stage and one line needed for it."""
    quick = QuickShop()
    quick.to(stage)
    quick.do(shop.parts.need, 1, "S-1", "seal", quantity, **given)
    return quick


def brought_to(state: PartState) -> QuickShop:
    """A shop in which line 1, of three pieces, stands in this state and its job is in repair."""
    quick = needed(core=True)
    steps: dict[PartState, tuple[Callable[..., Step], tuple[Any, ...]]] = {
        PartState.ORDERED: (shop.parts.order, ((1,), "north", date(2026, 3, 9), "N-77")),
        PartState.BACK_ORDERED: (shop.parts.back_order, (1, date(2026, 3, 20))),
        PartState.PARTLY_RECEIVED: (shop.parts.receive, (1, 1)),
        PartState.RECEIVED: (shop.parts.receive, (1, 2)),
        PartState.FITTED: (shop.parts.fit, (1,)),
    }
    for reached, (rule, given) in steps.items():
        if quick.line().state is state:
            return quick
        if state is PartState.RETURNED:
            break
        quick.do(rule, *given)
        assert quick.line().state is reached
    if state is PartState.RETURNED:
        quick.do(shop.parts.send_back, 1)
    assert quick.line().state is state
    return quick


def test_a_line_from_needed_to_fitted() -> None:
    quick = needed(2, price=Decimal("12.5"), supplier="north", lead_class="seals", core=True)
    line = quick.line()
    assert (line.job, line.number, line.name, line.quantity, line.received) == (1, "S-1", "seal", 2, 0)
    assert (line.state, line.needed_at, line.price, line.supplier) == (
        PartState.NEEDED,
        START,
        Decimal("12.50"),
        "north",
    )
    assert (line.lead_class, line.core) == ("seals", True)
    assert quick.steps[-1].why == "T-0001 needs 2 × seal (S-1)."
    quick.later(hours=1)
    step = quick.do(shop.parts.order, (1,), "north", date(2026, 3, 9), "N-77")
    line = quick.line()
    assert (line.ordered_at, line.expected, line.order_reference) == (quick.now, date(2026, 3, 9), "N-77")
    assert step.why == "Ordered from North Parts: 2 × seal for T-0001, expected 2026-03-09 (N-77)."
    quick.later(days=3)
    quick.do(shop.parts.back_order, 1, None)
    assert (quick.line().back_ordered_at, quick.line().expected) == (quick.now, None)
    quick.do(shop.parts.receive, 1, 1)
    assert (quick.line().state, quick.line().received_at) == (PartState.PARTLY_RECEIVED, None)
    assert quick.steps[-1].why == "T-0001: received 1 (now 1 of 2) × seal."
    quick.do(shop.parts.receive, 1, 1)
    assert (quick.line().state, quick.line().received_at) == (PartState.RECEIVED, quick.now)
    step = quick.do(shop.parts.fit, 1)
    assert quick.line().state is PartState.FITTED
    assert step.why == "T-0001: 2 × seal fitted; the old one goes back to the supplier."
    quick.do(shop.parts.send_back, 1)
    assert (quick.line().state, quick.line().core, quick.line().note) == (PartState.FITTED, False, "core sent back")
    quick.refuses(shop.parts.send_back, 1, why="is fitted")


ALLOWED: dict[str, tuple[Callable[..., Step], tuple[Any, ...], frozenset[PartState]]] = {
    "order": (shop.parts.order, ((1,), "north", None), frozenset({PartState.NEEDED})),
    "back_order": (
        shop.parts.back_order,
        (1, None),
        frozenset({PartState.ORDERED, PartState.PARTLY_RECEIVED, PartState.BACK_ORDERED}),
    ),
    "receive": (
        shop.parts.receive,
        (1, 1),
        frozenset({PartState.ORDERED, PartState.PARTLY_RECEIVED, PartState.BACK_ORDERED}),
    ),
    "fit": (shop.parts.fit, (1,), frozenset({PartState.RECEIVED})),
    "send_back": (shop.parts.send_back, (1,), frozenset(PartState) - {PartState.RETURNED}),
}


@pytest.mark.parametrize("state", list(PartState))
@pytest.mark.parametrize("name", list(ALLOWED))
def test_each_step_from_each_state(name: str, state: PartState) -> None:
    rule, given, allowed = ALLOWED[name]
    quick = brought_to(state)
    if state in allowed:
        quick.do(rule, *given)
    else:
        quick.refuses(rule, *given, why=f"seal for T-0001 is {state}, not")


REFUSED: list[tuple[Callable[..., Step], tuple[Any, ...], dict[str, Any], str]] = [
    (shop.parts.need, (1, "", "seal", 1), {}, "part number is blank"),
    (shop.parts.need, (1, "S-1", " ", 1), {}, "part's name is blank"),
    (shop.parts.need, (1, "S-1", "seal", 0), {}, "quantity cannot be 0"),
    (shop.parts.need, (1, "S-1", "seal", -2), {}, "quantity cannot be -2"),
    (shop.parts.need, (1, "S-1", "seal", 1.5), {}, "quantity cannot be 1.5"),
    (shop.parts.need, (1, "S-1", "seal", True), {}, "quantity cannot be True"),
    (shop.parts.need, (1, "S-1", "seal", 1), {"supplier": "ghost"}, "no supplier ghost: take north"),
    (shop.parts.need, (1, "S-1", "seal", 1), {"price": Decimal("-0.01")}, "price is negative"),
    (shop.parts.need, (1, "S-1", "seal", 1), {"price": Decimal("0.001")}, "finer than the shop's money"),
    (shop.parts.need, (9, "S-1", "seal", 1), {}, "no T-0009 here"),
    (shop.parts.order, ((), "north", None), {}, "no line is picked"),
    (shop.parts.order, ((1, 9), "north", None), {}, "no line of parts number 9"),
    (shop.parts.order, ((1,), "", None), {}, "no supplier (blank)"),
    (shop.parts.order, ((1,), "north", date(2026, 3, 1)), {}, "2026-03-01 is in the past"),
    (shop.parts.fit, (9,), {}, "no line of parts number 9"),
]


@pytest.mark.parametrize(("rule", "given", "named", "why"), REFUSED)
def test_refused(rule: Callable[..., Step], given: tuple[Any, ...], named: dict[str, Any], why: str) -> None:
    needed().refuses(rule, *given, why=why, **named)


def test_no_more_comes_than_was_ordered() -> None:
    quick = needed(3)
    quick.do(shop.parts.order, (1,), "north", None)
    for wrong, why in ((4, "more than the 3 still to come"), (0, "cannot be 0"), (-1, "cannot be -1")):
        quick.refuses(shop.parts.receive, 1, wrong, why=why)
    quick.do(shop.parts.receive, 1, 2)
    quick.refuses(shop.parts.receive, 1, 2, why="more than the 1 still to come")
    quick.refuses(shop.parts.fit, 1, why="partly received")
    quick.do(shop.parts.receive, 1, 1)
    assert quick.line().received == 3


def test_today_is_the_shops_own_day() -> None:
    """In Vienna it is 00:30 on 3 March when UTC still has 23:30 on 2 March."""
    quick = needed()
    quick.now = datetime(2026, 3, 2, 23, 30, tzinfo=UTC)
    quick.refuses(shop.parts.order, (1,), "north", TODAY, why="in the past")
    quick.do(shop.parts.order, (1,), "north", date(2026, 3, 3))
    quick.refuses(shop.parts.back_order, 1, TODAY, why="in the past")


# -- what parts do to their job ---------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("stage", "after"),
    [
        (Stage.ARRIVED, Stage.ARRIVED),
        (Stage.DIAGNOSED, Stage.DIAGNOSED),
        (Stage.APPROVAL, Stage.APPROVAL),
        (Stage.READY, Stage.PARTS),
        (Stage.REPAIR, Stage.REPAIR),
        (Stage.ROAD_TEST, Stage.ROAD_TEST),
    ],
)
def test_what_a_need_does_to_the_stage(stage: Stage, after: Stage) -> None:
    quick = needed(stage=stage)
    assert quick.job().stage is after
    assert ("waits for parts now" in quick.steps[-1].why) == (after is Stage.PARTS)


def test_the_last_part_makes_the_job_ready() -> None:
    quick = needed(2, Stage.READY)
    quick.do(shop.parts.need, 1, "S-2", "filter", 1)
    quick.do(shop.parts.order, (1, 2), "north", None)
    quick.do(shop.parts.receive, 2, 1)
    assert quick.job().stage is Stage.PARTS
    quick.do(shop.parts.receive, 1, 1)
    assert quick.job().stage is Stage.PARTS
    step = quick.do(shop.parts.receive, 1, 1)
    assert quick.job().stage is Stage.READY and "T-0001 is ready for a bay" in step.why
    assert len(step.puts) == 2


def test_striking_out_the_last_missing_part_makes_the_job_ready() -> None:
    quick = needed(1, Stage.READY)
    step = quick.do(shop.parts.send_back, 1)
    assert quick.job().stage is Stage.READY
    assert step.why.startswith("T-0001: 1 × seal not needed after all; no part is missing")


def test_parts_of_another_job_change_nothing() -> None:
    quick = needed(1, Stage.READY)
    quick.to(Stage.READY)
    quick.do(shop.parts.need, 2, "S-2", "filter", 1)
    step = quick.do(shop.parts.order, (1, 2), "north", None)
    assert step.subject is None and "for T-0001 and 1 × filter for T-0002" in step.why
    quick.do(shop.parts.receive, 1, 1)
    assert (quick.job(1).stage, quick.job(2).stage) == (Stage.READY, Stage.PARTS)


@pytest.mark.parametrize("stage", [Stage.READY, Stage.ROAD_TEST, Stage.DIAGNOSED])
def test_parts_are_fitted_in_repair_only(stage: Stage) -> None:
    quick = needed(1, stage)
    quick.do(shop.parts.order, (1,), "north", None)
    quick.do(shop.parts.receive, 1, 1)
    quick.refuses(shop.parts.fit, 1, why="parts are fitted in repair")


def test_a_part_on_the_way_still_comes_for_a_declined_machine() -> None:
    quick = needed(2, Stage.APPROVAL)
    quick.do(shop.parts.order, (1,), "north", None)
    quick.do(shop.approval.decline, 1, "Mrs Hill", "phone", "too dear")
    quick.do(shop.parts.back_order, 1, None)
    quick.do(shop.parts.receive, 1, 2)
    assert quick.job().stage is Stage.DECLINED
    quick.do(shop.parts.send_back, 1)
    assert quick.steps[-1].why == "T-0001: 2 × seal sent back (2 had come)."


# -- the bin ----------------------------------------------------------------------------------------------------------


def test_the_bin_has_lines_of_its_own() -> None:
    quick = QuickShop()
    quick.do(shop.parts.need, None, "F-1", "filter", 5)
    assert quick.line().job is None and quick.steps[-1].why == "the bin needs 5 × filter (F-1)."
    quick.do(shop.parts.order, (1,), "north", None)
    quick.do(shop.parts.receive, 1, 5)
    quick.refuses(shop.parts.fit, 1, why="lies in the bin for no job")
    quick.do(shop.parts.send_back, 1)


@pytest.mark.parametrize(
    ("state", "job", "after"),
    [
        (PartState.NEEDED, 1, PartState.RETURNED),
        (PartState.ORDERED, None, PartState.ORDERED),
        (PartState.RECEIVED, None, PartState.RECEIVED),
        (PartState.RETURNED, 1, PartState.RETURNED),
    ],
)
def test_lines_of_a_declined_machine_that_left(state: PartState, job: int | None, after: PartState) -> None:
    quick = brought_to(state)
    quick.do(shop.approval.decline, 1, "Mrs Hill", "phone", "too dear")
    quick.do(shop.closing.machine_left, 1)
    line = quick.line() if job is None else quick.filed[1][1][0]
    assert (line.job, line.state) == (job, after)
    if job is None:
        assert line.note == "came for T-0001, declined"


def test_a_closed_jobs_parts_are_closed_with_it() -> None:
    quick = brought_to(PartState.FITTED)
    quick.do(shop.evidence.find, 1, "other", "seal torn", book=BOOK)
    quick.do(shop.stages.finish_repair, 1)
    quick.do(shop.stages.road_test, 1, True, True, True)
    quick.do(shop.closing.collect, 1, Decimal(9), Decimal(9))
    quick.refuses(shop.parts.send_back, 1, why="no line of parts number 1 here")
    quick.refuses(shop.parts.need, 1, "S-1", "seal", 1, why="T-0001 is collected and takes remarks only")
