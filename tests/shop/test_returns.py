"""Cores and parts that go back: due, sent, credited; and what is agreed besides the sum."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from typing import Any

import pytest
from aids.quick_shop import BOOK, QuickShop

from shopboard import shop
from shopboard.records import CataloguePart, Payer, Return, ReturnKind, Stage, Table
from shopboard.shop.terms import worth_of

D = Decimal
UNIT = CataloguePart(number="XU", name="unit", supplier="north", price=D(900), core_charge=D(120), core_days=30)
SEAL = CataloguePart(number="S-1", name="seal", supplier="north", price=D(8), return_days=14)


def in_repair(**given: Any) -> QuickShop:
    """A job in repair with a unit and two seals here."""
    quick = QuickShop()
    quick.state.catalogue = {"XU": UNIT, "S-1": SEAL}
    quick.to(Stage.DIAGNOSED, **given)
    quick.do(shop.parts.need, 1, "XU", "", 1)
    quick.do(shop.parts.need, 1, "S-1", "", 2)
    quick.do(shop.parts.order, (1, 2), "north", None)
    quick.do(shop.approval.ask, 1, D(4000))
    quick.said_yes(1)
    for line, count in ((1, 1), (2, 2)):
        quick.do(shop.parts.receive, line, count)
    quick.do(shop.bays.put, 1, "2")
    quick.do(shop.stages.start_repair, 1)
    return quick


def entry(quick: QuickShop, id: int = 1) -> Return:
    return quick.state.returns[id]


def test_a_core_is_owed_from_the_day_its_part_is_fitted() -> None:
    quick = in_repair()
    assert quick.do(shop.parts.fit, 1).why.endswith("fitted; the old one goes back to the supplier by 2026-04-01.")
    owed = entry(quick)
    assert (owed.kind, owed.job, owed.credit, owed.due) == (ReturnKind.CORE, 1, D("120.00"), date(2026, 4, 1))
    quick.later(days=40)
    step = quick.do(shop.returns.send, 1, "RMA 7")
    assert step.why == "T-0001: core of 1 × unit sent back (RMA 7), 10 d after it was due."
    assert not quick.line(1).core
    step = quick.do(shop.returns.credit, 1, D(100))
    assert step.why == "T-0001: core of 1 × unit credited: 100.00 EUR, 20.00 EUR less than was to come."
    quick.refuses(shop.returns.credit, 1, D(1), why="was credited already")


def test_a_core_outlives_its_job() -> None:
    quick = in_repair()
    for line in (1, 2):
        quick.do(shop.parts.fit, line)
    quick.do(shop.evidence.find, 1, "other", "worn", book=BOOK)
    quick.do(shop.stages.finish_repair, 1)
    quick.do(shop.stages.road_test, 1, True, True, True)
    quick.do(shop.closing.collect, 1, D(4000), D(4000))
    assert 1 not in quick.state.jobs and entry(quick).sent_at is None
    quick.do(shop.returns.send, 1)
    quick.do(shop.returns.credit, 1, D(120))


def test_sending_the_core_at_the_line_sends_it_on_the_list_too() -> None:
    quick = in_repair()
    quick.do(shop.parts.fit, 1)
    quick.do(shop.parts.send_back, 1)
    assert entry(quick).sent_at == quick.now
    quick.refuses(shop.returns.send, 1, why="was sent already")


def test_parts_not_needed_are_owed_by_the_supplier() -> None:
    quick = in_repair()
    quick.do(shop.parts.send_back, 2)
    owed = entry(quick)
    assert (owed.kind, owed.quantity, owed.credit, owed.due) == (ReturnKind.PART, 2, D("16.00"), date(2026, 3, 16))
    assert owed.sent_at == quick.now


@pytest.mark.parametrize(
    ("amount", "why"),
    [
        (D("-1"), "the credit is negative"),
        (D("0.005"), "finer than the shop's money"),
        (D(121), "more than the 120.00 EUR to come"),
    ],
)
def test_credits_that_cannot_be(amount: Decimal, why: str) -> None:
    quick = in_repair()
    quick.do(shop.parts.fit, 1)
    quick.refuses(shop.returns.credit, 1, amount, why="is still here: send it first")
    quick.do(shop.returns.send, 1)
    quick.refuses(shop.returns.credit, 1, amount, why=why)


def test_a_return_that_never_was() -> None:
    quick = QuickShop()
    quick.refuses(shop.returns.send, 9, why="there is no return number 9")
    assert quick.state.next_id(Table.RETURNS) == 1


# -- what is agreed besides the sum -----------------------------------------------------------------------------------


def test_a_yes_binds_only_who_gave_it() -> None:
    quick = QuickShop()
    quick.to(Stage.APPROVAL)
    step = quick.do(shop.terms.pays, 1, Payer.WARRANTY)
    assert step.why.endswith(
        "the warranty pays, not the customer; what was agreed no longer counts: ask for approval anew."
    )
    assert quick.job().stage is Stage.DIAGNOSED and quick.job().approval is None
    quick.refuses(shop.terms.pays, 1, Payer.WARRANTY, why="paid by the warranty already")


def test_a_shops_own_yes_does_not_bind_a_customer() -> None:
    quick = QuickShop()
    quick.to(Stage.READY, payer=Payer.SHOP)
    quick.do(shop.bays.put, 1, "2")
    quick.do(shop.terms.pays, 1, Payer.CUSTOMER)
    quick.refuses(shop.stages.start_repair, 1, why="nobody has said yes")


def test_old_parts_are_kept_on_request_and_said_when_fitting() -> None:
    quick = in_repair()
    step = quick.do(shop.terms.keep_old_parts, 1, True)
    assert "but the supplier wants the core of unit back" in step.why
    assert "the customer wants to see the old one" in quick.do(shop.parts.fit, 2).why
    quick.refuses(shop.terms.keep_old_parts, 1, True, why="noted on T-0001 already")


def test_what_a_machine_is_worth() -> None:
    quick = QuickShop()
    quick.take_in()
    quick.do(shop.terms.worth, 1, D(2400), D(300))
    assert worth_of(quick.state.machines[1]) == (D("2400.00"), D("300.00"))
    quick.do(shop.terms.worth, 1, D(2000))
    assert worth_of(quick.state.machines[1]) == (D("2000.00"), None)
    quick.refuses(shop.terms.worth, 1, D("-1"), why="negative")
