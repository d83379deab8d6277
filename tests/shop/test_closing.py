"""How a job ends: nothing leaves unsafe, unsettled or not understood."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest
from aids.quick_shop import BOOK, QuickShop

from shopboard import shop
from shopboard.records import Payer, Stage

D = Decimal


def ready_machine(**given: Any) -> QuickShop:
    """A machine ready to collect, its cause found and confirmed."""
    quick = QuickShop()
    quick.to(Stage.REPAIR, **given)
    quick.do(shop.evidence.find, 1, "low-oil", correction="top-up", book=BOOK)
    quick.do(shop.stages.work_done, 1, "top-up")
    quick.do(shop.stages.finish_repair, 1)
    quick.do(shop.stages.road_test, 1, True, True, True)
    quick.do(shop.evidence.confirm, 1, "low-oil")
    return quick


def declined(**given: Any) -> QuickShop:
    quick = QuickShop()
    quick.to(Stage.APPROVAL, **given)
    quick.do(shop.approval.decline, 1, "Mrs Hill", "phone", "too dear")
    return quick


# -- collected --------------------------------------------------------------------------------------------------------


def test_a_paid_machine_leaves() -> None:
    quick = ready_machine()
    quick.later(hours=3)
    step = quick.do(shop.closing.collect, 1, D("120.5"), D("120.50"), by="cy")
    job = quick.filed[1][0]
    assert (job.stage, job.closed_at, job.left, job.bay, job.bay_since) == (
        Stage.COLLECTED,
        quick.now,
        quick.now,
        "",
        None,
    )
    settled = job.settlement
    assert settled is not None
    assert (settled.total, settled.paid, settled.by, settled.released_on_word_of) == (
        D("120.50"),
        D("120.50"),
        "cy",
        "",
    )
    assert step.why == "T-0001 collected: 120.50 EUR, paid."
    assert quick.state.job_in_bay("2") is None


def test_an_unpaid_machine_leaves_on_a_word_that_is_named() -> None:
    quick = ready_machine()
    quick.refuses(shop.closing.collect, 1, D(120), D(20), why="100.00 EUR of T-0001 is not paid")
    quick.refuses(shop.closing.collect, 1, D(120), D(20), " ", why="name who says it may leave unpaid")
    step = quick.do(shop.closing.collect, 1, D(120), D(20), "Dee")
    assert step.why == "T-0001 collected: 120.00 EUR, 100.00 EUR of it open on the word of Dee."
    settled = quick.filed[1][0].settlement
    assert settled is not None and settled.released_on_word_of == "Dee"


def test_a_word_that_was_not_needed_is_not_kept() -> None:
    quick = ready_machine()
    quick.do(shop.closing.collect, 1, D(120), D(120), "Dee")
    settled = quick.filed[1][0].settlement
    assert settled is not None and settled.released_on_word_of == ""


@pytest.mark.parametrize(
    ("total", "paid", "why"),
    [
        (D(-1), D(0), "total is negative (-1)"),
        (D(10), D(-1), "sum paid is negative"),
        (D(10), D("10.01"), "more than the 10.00 due"),
        (D("1.999"), D(0), "finer than the shop's money"),
        (D("440.01"), D("440.01"), "comes to 440.01 EUR and the yes was for 400.00 EUR"),
        (D("sNaN"), D(0), "not a sum of money"),
    ],
)
def test_sums_that_do_not_settle(total: Decimal, paid: Decimal, why: str) -> None:
    ready_machine().refuses(shop.closing.collect, 1, total, paid, why=why)


@pytest.mark.parametrize("total", [D(0), D(440)])
def test_sums_at_the_bounds_settle(total: Decimal) -> None:
    ready_machine().do(shop.closing.collect, 1, total, total)


def test_the_shops_own_job_has_no_bound() -> None:
    ready_machine(payer=Payer.SHOP).do(shop.closing.collect, 1, D(9000), D(0), "Dee")


def test_a_machine_that_was_not_tested_stays() -> None:
    quick = QuickShop()
    quick.to(Stage.ROAD_TEST)
    quick.refuses(shop.closing.collect, 1, D(9), D(9), why="has had no road test")
    quick.do(shop.stages.road_test, 1, False, True, True)
    quick.refuses(shop.closing.collect, 1, D(9), D(9), why="failed its road test")


def test_the_cause_must_be_known() -> None:
    quick = QuickShop()
    quick.to(Stage.COLLECT)
    quick.refuses(shop.closing.collect, 1, D(9), D(9), why="cause of T-0001 is not known")
    quick.do(shop.evidence.find, 1, "low-oil", book=BOOK)
    quick.refuses(shop.closing.collect, 1, D(9), D(9), why="cause of T-0001 is not known")
    quick.do(shop.evidence.confirm, 1, "low-oil")
    quick.do(shop.closing.collect, 1, D(9), D(9))


def test_another_cause_in_words_is_a_known_one() -> None:
    quick = QuickShop()
    quick.to(Stage.COLLECT)
    quick.do(shop.evidence.find, 1, "other", "a stone in the belt", book=BOOK)
    quick.do(shop.closing.collect, 1, D(9), D(9))


def test_a_machine_leaves_once() -> None:
    quick = ready_machine()
    quick.do(shop.closing.collect, 1, D(9), D(9))
    quick.refuses(shop.closing.collect, 1, D(9), D(9), why="T-0001 is collected and takes remarks only")
    quick.refuses(shop.closing.machine_left, 1, why="T-0001 is collected and takes remarks only")


# -- declined and gone ------------------------------------------------------------------------------------------------


def test_a_declined_machine_leaves_unrepaired_and_that_is_said() -> None:
    quick = declined()
    quick.later(days=1)
    step = quick.do(shop.closing.machine_left, 1)
    job = quick.filed[1][0]
    assert (job.stage, job.left, job.bay) == (Stage.DECLINED, quick.now, "")
    assert job.closed_at != job.left, "it was closed when it was declined"
    assert step.why == (
        "T-0001 left unrepaired after it was declined; not road tested, brake and interlocks not proved."
    )
    quick.refuses(shop.closing.machine_left, 1, why="takes remarks only")


def test_covers_go_back_on_before_it_leaves() -> None:
    quick = QuickShop()
    quick.to(Stage.DIAGNOSED)
    quick.do(shop.stages.cover_off, 1, "floor-plate")
    quick.do(shop.approval.decline, 1, "Mrs Hill", "phone", "too dear")
    quick.refuses(shop.closing.machine_left, 1, why="covers off: floor-plate: put them back before it leaves")
    quick.refuses(shop.stages.cover_off, 1, "deck", why="takes remarks only")
    quick.do(shop.stages.cover_on, 1, "floor-plate")
    quick.do(shop.closing.machine_left, 1)


def test_the_diagnostic_fee_is_paid_or_somebody_answers_for_it() -> None:
    """A fee of 45.00 is 54.00 with 20 % tax."""
    quick = declined(diagnostic_fee=D(45))
    quick.refuses(shop.closing.machine_left, 1, why="54.00 EUR of T-0001 is not paid")
    quick.refuses(shop.closing.machine_left, 1, D(60), why="more than the 54.00 due")
    step = quick.do(shop.closing.machine_left, 1, D(54))
    assert step.why.endswith("To pay was 54.00 EUR, paid.")
    other = declined(diagnostic_fee=D(45))
    step = other.do(shop.closing.machine_left, 1, word_of="Dee")
    assert step.why.endswith("54.00 EUR, 54.00 EUR of it open on the word of Dee.")


def test_a_no_charges_the_fee_and_what_is_off_put_back() -> None:
    """A floor plate that takes 10 min to put back at 60.00 an hour is 10.00; with a fee of 45.00 and 20 % tax 66.00."""
    quick = QuickShop()
    quick.state.covers = BOOK.covers
    assert BOOK.covers["floor-plate"].on == 10
    quick.to(Stage.APPROVAL, diagnostic_fee=D(45))
    quick.do(shop.stages.cover_off, 1, "floor-plate")
    step = quick.do(shop.approval.decline, 1, "Mrs Hill", "phone", "too dear")
    assert step.why.endswith("To put back: floor-plate. To pay: 66.00 EUR, tax with it.")
    quick.do(shop.stages.cover_on, 1, "floor-plate")
    quick.refuses(shop.closing.machine_left, 1, D(45), why="21.00 EUR of T-0001 is not paid")
    quick.do(shop.closing.machine_left, 1, D(66))
    assert quick.filed[1][0].settlement.total == D(66)  # type: ignore[union-attr]


def test_a_machine_not_declined_does_not_just_leave() -> None:
    quick = QuickShop()
    quick.to(Stage.APPROVAL)
    quick.refuses(shop.closing.machine_left, 1, why="waiting for approval, not declined")
