"""The yes before the work: who must be asked, what a yes covers, and what a no does."""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal
from typing import Any

import pytest
from aids.quick_shop import BOOK, START, QuickShop

from shopboard import shop
from shopboard.records import PartState, Payer, Stage, Step

D = Decimal


def diagnosed(**given: Any) -> QuickShop:
    quick = QuickShop()
    quick.to(Stage.DIAGNOSED, **given)
    return quick


# -- asking and answering ---------------------------------------------------------------------------------------------


def test_a_yes_is_kept_with_who_when_and_how() -> None:
    quick = diagnosed()
    quick.do(shop.approval.ask, 1, D(400), by="cy")
    assert quick.job().stage is Stage.APPROVAL
    quick.later(hours=2)
    quick.do(shop.approval.called, 1)
    quick.later(hours=1)
    step = quick.do(shop.approval.give, 1, "Mrs Hill", "phone", by="dee")
    said = quick.job().approval
    assert said is not None
    assert (said.asked, said.asked_by, said.asked_at) == (D("400.00"), "cy", START)
    assert (said.given, said.limit, said.said_by, said.how, said.at) == (True, D(400), "Mrs Hill", "phone", quick.now)
    assert len(said.calls) == 1
    assert step.why == "T-0001: Mrs Hill said yes to 400.00 EUR (phone); ready for a bay."


@pytest.mark.parametrize(("missing", "stage"), [(0, Stage.READY), (1, Stage.PARTS), (2, Stage.PARTS)])
def test_a_yes_leads_to_the_parts_or_to_a_bay(missing: int, stage: Stage) -> None:
    quick = diagnosed()
    for number in range(2):
        quick.do(shop.parts.need, 1, f"P-{number}", "seal kit", 1)
    quick.do(shop.parts.order, (1, 2), "north", None)
    for line in range(1, 3 - missing):
        quick.do(shop.parts.receive, line, 1)
    quick.do(shop.approval.ask, 1, D(400))
    quick.do(shop.approval.give, 1, "Mrs Hill", "phone")
    assert quick.job().stage is stage


@pytest.mark.parametrize(
    ("given", "amount", "stage"),
    [
        ({}, "0", Stage.APPROVAL),
        ({"spend_before_call": D(150)}, "150.00", Stage.READY),
        ({"spend_before_call": D(150)}, "150.01", Stage.APPROVAL),
        ({"spend_before_call": D(0)}, "1", Stage.APPROVAL),
        ({"payer": Payer.SHOP}, "9000", Stage.READY),
        ({"payer": Payer.WARRANTY}, "10", Stage.APPROVAL),
    ],
)
def test_who_needs_no_call(given: dict[str, Any], amount: str, stage: Stage) -> None:
    quick = diagnosed(**given)
    quick.do(shop.approval.ask, 1, D(amount))
    assert quick.job().stage is stage
    approval = quick.job().approval
    assert approval is not None and approval.given is (True if stage is Stage.READY else None)
    assert approval.how or stage is Stage.APPROVAL


def test_asking_a_higher_sum_keeps_the_earlier_yes_beside_it() -> None:
    quick = QuickShop()
    quick.to(Stage.REPAIR)
    quick.do(shop.approval.ask, 1, D(700))
    assert quick.job().stage is Stage.APPROVAL, "work stops for a new yes"
    assert shop.approval.agreed(quick.job()) == D(400)
    quick.do(shop.approval.ask, 1, D(390))
    said = quick.job().approval
    assert said is not None and (said.given, said.limit, said.said_by) == (True, D(400), "Mr Hill")
    assert quick.job().stage is Stage.READY


def test_a_sum_within_the_yes_does_not_stop_the_repair() -> None:
    quick = QuickShop()
    quick.to(Stage.REPAIR)
    quick.do(shop.approval.ask, 1, D(400))
    assert quick.job().stage is Stage.REPAIR


def test_a_higher_sum_for_finished_work_is_asked_without_sending_it_back() -> None:
    quick = QuickShop()
    quick.to(Stage.COLLECT)
    quick.do(shop.evidence.find, 1, "other", "stone in the belt", book=BOOK)
    quick.refuses(shop.closing.collect, 1, D(500), D(500), why="comes to 500.00 EUR and the yes was for 400.00 EUR")
    quick.do(shop.approval.ask, 1, D(500))
    assert quick.job().stage is Stage.COLLECT
    quick.refuses(shop.closing.collect, 1, D(400), D(400), why="nobody has said yes")
    quick.do(shop.approval.give, 1, "Mr Hill", "at the counter")
    assert quick.job().stage is Stage.COLLECT
    quick.do(shop.closing.collect, 1, D(500), D(500))


def test_a_yes_may_be_for_another_sum_than_asked() -> None:
    quick = diagnosed()
    quick.do(shop.approval.ask, 1, D(400))
    quick.do(shop.approval.give, 1, "Mrs Hill", "phone", D(300))
    assert shop.approval.agreed(quick.job()) == D(300)
    assert shop.approval.allowed(quick.state, quick.job()) == D(330), "10 % may be overrun here"


# -- what a yes covers ------------------------------------------------------------------------------------------------


def test_the_known_cost_is_own_work_and_priced_parts_with_tax() -> None:
    """90 min at 60 an hour and 2 parts at 12.50 are 115; with 20 % tax 138."""
    quick = diagnosed()
    quick.do(shop.evidence.find, 1, "charge-pump-worn", correction="renew-charge-pump", book=BOOK)
    quick.do(shop.parts.need, 1, "S-1", "seal", 2, price=D("12.50"))
    quick.do(shop.parts.need, 1, "S-2", "no price yet", 5)
    quick.do(shop.parts.need, 1, "S-3", "wrong one", 1, price=D(99))
    quick.do(shop.parts.send_back, 3)
    assert shop.approval.known_cost(quick.state, quick.job()) == D("138.00")


def test_without_an_operation_the_time_since_the_yes_counts() -> None:
    quick = diagnosed()
    quick.do(shop.stages.spend, 1, 50, "looking")
    quick.later(hours=1)
    quick.do(shop.approval.ask, 1, D(36))
    quick.do(shop.approval.give, 1, "Mrs Hill", "phone")
    quick.later(hours=1)
    quick.do(shop.stages.spend, 1, 30, "cleaning")
    assert shop.approval.known_cost(quick.state, quick.job()) == D("36.00")


@pytest.mark.parametrize(("price", "passes"), [("10.01", True), ("10.02", False)])
def test_work_past_the_yes_and_its_overrun_needs_a_new_one(price: str, passes: bool) -> None:
    """A yes to 109.10 and 10 % overrun let 120.01 pass: 90 min are 90.00, with a part of 10.01 and 20 % tax 120.01."""
    quick = diagnosed()
    quick.do(shop.evidence.find, 1, "charge-pump-worn", correction="renew-charge-pump", book=BOOK)
    quick.do(shop.approval.ask, 1, D("109.10"))
    quick.do(shop.approval.give, 1, "Mrs Hill", "phone")
    quick.do(shop.bays.put, 1, "1")
    quick.do(shop.stages.start_repair, 1)
    quick.do(shop.parts.need, 1, "S-1", "seal", 1, price=D(price))
    quick.do(shop.parts.order, (1,), "north", None)
    quick.do(shop.parts.receive, 1, 1)
    assert quick.job().stage is Stage.REPAIR
    if passes:
        quick.do(shop.parts.fit, 1)
        return
    told = quick.refuses(shop.parts.fit, 1, why="the yes was for 109.10 EUR")
    assert told.would_do == "ask for a new yes"
    quick.do(shop.stages.work_done, 1, "renew-charge-pump")
    quick.refuses(shop.stages.finish_repair, 1, why="the yes was for")
    quick.do(shop.approval.ask, 1, D(125))
    quick.do(shop.approval.give, 1, "Mrs Hill", "phone")
    quick.do(shop.stages.start_repair, 1)
    quick.do(shop.parts.fit, 1)


def test_work_found_after_the_yes_does_not_start_without_a_new_one() -> None:
    """240 min at 60 an hour with 20 % tax come to 288; the yes was for 200, and 10 % may be overrun."""
    quick = diagnosed()
    quick.do(shop.approval.ask, 1, D(200))
    quick.do(shop.approval.give, 1, "Mrs Hill", "phone")
    quick.do(shop.evidence.find, 1, "piston-wear", correction="rebuild-pump", book=BOOK)
    quick.do(shop.bays.put, 1, "2")
    quick.refuses(shop.stages.start_repair, 1, why="T-0001 comes to 288.00 EUR and the yes was for 200.00 EUR")
    quick.do(shop.approval.ask, 1, D(300))
    quick.do(shop.approval.give, 1, "Mrs Hill", "phone")
    quick.do(shop.stages.start_repair, 1)


def test_the_shops_own_job_needs_no_yes() -> None:
    quick = diagnosed(payer=Payer.SHOP)
    quick.do(shop.bays.put, 1, "1")
    quick.do(shop.stages.start_repair, 1)
    assert quick.job().stage is Stage.REPAIR and quick.job().approval is None


@pytest.mark.parametrize("payer", [Payer.CUSTOMER, Payer.WARRANTY])
def test_no_repair_without_a_yes(payer: Payer) -> None:
    quick = diagnosed(payer=payer, spend_before_call=D(100))
    quick.do(shop.bays.put, 1, "1")
    quick.refuses(shop.stages.start_repair, 1, why="T-0001 is being diagnosed, not ready for a bay")
    quick.do(shop.approval.ask, 1, D(400))
    quick.refuses(shop.stages.start_repair, 1, why="get the yes first")


# -- no ---------------------------------------------------------------------------------------------------------------


def test_a_no_closes_the_job_and_the_machine_stays() -> None:
    quick = QuickShop()
    quick.to(Stage.APPROVAL)
    quick.do(shop.stages.cover_off, 1, "floor-plate")
    step = quick.do(shop.approval.decline, 1, "Mrs Hill", "phone", "too dear", by="cy")
    job = quick.job()
    assert (job.stage, job.closed_at, job.left, job.declined_why) == (Stage.DECLINED, START, None, "too dear")
    assert job.approval is not None and (job.approval.given, job.approval.said_by) == (False, "Mrs Hill")
    assert step.why == "T-0001 declined by Mrs Hill (phone): too dear. To put back: floor-plate."


def test_a_no_before_any_sum_is_noted() -> None:
    quick = QuickShop()
    quick.to(Stage.ARRIVED)
    quick.do(shop.approval.decline, 1, "Mrs Hill", "at the counter", "sold it")
    assert quick.job().approval is None and "Mrs Hill (at the counter): sold it" in quick.job().notes[-1].text


@pytest.mark.parametrize("stage", [Stage.ROAD_TEST, Stage.COLLECT])
def test_finished_work_cannot_be_declined(stage: Stage) -> None:
    quick = QuickShop()
    quick.to(stage)
    quick.refuses(shop.approval.decline, 1, "Mrs Hill", "phone", "too dear", why="work on T-0001 is finished")


# -- refusals ---------------------------------------------------------------------------------------------------------

REFUSED: list[tuple[Stage, Callable[..., Step], tuple[Any, ...], str]] = [
    (Stage.ARRIVED, shop.approval.ask, (1, D(10)), "nobody has looked at T-0001 yet"),
    (Stage.DIAGNOSED, shop.approval.ask, (1, D(-1)), "estimate is negative (-1)"),
    (Stage.DIAGNOSED, shop.approval.ask, (1, D("1.005")), "round it to 2 decimals"),
    (Stage.DIAGNOSED, shop.approval.ask, (1, D("Infinity")), "not a sum of money"),
    (Stage.DIAGNOSED, shop.approval.ask, (1, D("1E+9")), "not a sum of money"),
    (Stage.DIAGNOSED, shop.approval.called, (1,), "nothing is asked for T-0001"),
    (Stage.DIAGNOSED, shop.approval.give, (1, "Mrs Hill", "phone"), "nothing is asked for T-0001"),
    (Stage.READY, shop.approval.give, (1, "Mrs Hill", "phone"), "nothing is asked for T-0001"),
    (Stage.APPROVAL, shop.approval.give, (1, " ", "phone"), "who said yes is blank"),
    (Stage.APPROVAL, shop.approval.give, (1, "Mrs Hill", ""), "how it was said is blank"),
    (Stage.APPROVAL, shop.approval.give, (1, "Mrs Hill", "phone", D(-5)), "sum agreed is negative"),
    (Stage.APPROVAL, shop.approval.decline, (1, "", "phone", "dear"), "who said no is blank"),
    (Stage.APPROVAL, shop.approval.decline, (1, "Mrs Hill", "", "dear"), "how it was said is blank"),
    (Stage.APPROVAL, shop.approval.decline, (1, "Mrs Hill", "phone", ""), "reason is blank"),
]


@pytest.mark.parametrize(("stage", "rule", "given", "why"), REFUSED)
def test_refused(stage: Stage, rule: Callable[..., Step], given: tuple[Any, ...], why: str) -> None:
    quick = QuickShop()
    quick.to(stage)
    quick.refuses(rule, *given, why=why)


def test_money_is_never_a_float() -> None:
    quick = diagnosed()
    with pytest.raises(TypeError, match="must be a Decimal, not float"):
        quick.do(shop.approval.ask, 1, 12.5)


def test_a_shop_without_cents_takes_whole_sums() -> None:
    quick = QuickShop(decimals=0)
    quick.to(Stage.DIAGNOSED)
    quick.refuses(shop.approval.ask, 1, D("9.5"), why="round it to whole units")
    quick.do(shop.approval.ask, 1, D("9.0"))
    approval = quick.job().approval
    assert approval is not None and str(approval.asked) == "9"


def test_lines_stay_with_a_declined_job_until_the_machine_leaves() -> None:
    quick = diagnosed()
    quick.do(shop.parts.need, 1, "S-1", "seal", 1)
    quick.do(shop.approval.decline, 1, "Mrs Hill", "phone", "too dear")
    quick.refuses(shop.parts.order, (1,), "north", None, why="takes remarks only")
    quick.do(shop.parts.send_back, 1)
    assert quick.line().state is PartState.RETURNED
