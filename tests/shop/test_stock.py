"""Bins: what lies there, what is kept for whom, and how a line takes from them."""

from __future__ import annotations

from decimal import Decimal

import pytest
from aids.quick_shop import BOOK, QuickShop

from shopboard import shop
from shopboard.records import CataloguePart, PartState, Stage

D = Decimal


def with_seals(*quantities: int) -> QuickShop:
    """A job being diagnosed, and so many seals in one bin after the other."""
    quick = QuickShop()
    quick.to(Stage.DIAGNOSED)
    for number, quantity in enumerate(quantities, 1):
        quick.do(shop.stock.lay, "S-1", quantity, name="seal", bin=f"A-{number}")
    return quick


def test_pieces_laid_into_a_bin_add_up() -> None:
    quick = with_seals(3)
    step = quick.do(shop.stock.lay, "S-1", 2)
    assert step.why == "2 × seal (S-1) laid into bin A-1: 5 there now."
    assert [(e.bin, e.quantity) for e in quick.state.stock.values()] == [("A-1", 5)]


def test_a_line_keeps_what_lies_free_and_takes_it() -> None:
    quick = with_seals(3)
    step = quick.do(shop.parts.need, 1, "S-1", "seal", 2)
    assert step.why == "T-0001 needs 2 × seal (S-1); 2 kept for it in bin A-1."
    assert (quick.line().reserved, shop.stock.free(quick.state, "S-1")) == (2, 1)
    quick.do(shop.stock.take, 1)
    line = quick.line()
    assert (line.state, line.received, line.from_bin, line.reserved) == (PartState.RECEIVED, 2, 2, 0)
    assert shop.stock.lying(quick.state, "S-1") == 1


def test_where_only_some_lie_there_the_rest_is_a_line_of_its_own() -> None:
    quick = with_seals(1, 2)
    quick.do(shop.parts.need, 1, "S-1", "seal", 5)
    assert [(p.quantity, p.reserved) for p in quick.state.parts.values()] == [(3, 3), (2, 0)]
    quick.refuses(shop.parts.order, (1,), "north", why="lies in bin A-1 and A-2 for T-0001")
    quick.do(shop.parts.order, (2,), "north", None)
    quick.do(shop.stock.take, 1)
    assert [e.quantity for e in quick.state.stock.values()] == [0, 0]


def test_what_is_kept_for_one_job_is_not_free_for_another() -> None:
    quick = with_seals(2)
    quick.do(shop.parts.need, 1, "S-1", "seal", 2)
    quick.to(Stage.DIAGNOSED)
    quick.do(shop.parts.need, 2, "S-1", "seal", 1)
    assert quick.line(2).reserved == 0
    quick.refuses(shop.stock.take, 2, why="0 × seal lie here for it and 1 are needed")
    quick.do(shop.stock.release, 1)
    quick.do(shop.stock.reserve, 2)
    quick.refuses(shop.stock.reserve, 1, why="1 × seal lie free and 2 are needed")


def test_the_last_part_taken_makes_the_job_ready() -> None:
    quick = with_seals(1)
    quick.do(shop.parts.need, 1, "S-1", "seal", 1)
    quick.do(shop.approval.ask, 1, D(400))
    quick.said_yes(1)
    assert quick.job().stage is Stage.PARTS
    assert quick.do(shop.stock.take, 1).why.endswith("no part is missing any more, T-0001 is ready for a bay.")
    assert quick.job().stage is Stage.READY


def test_what_came_from_a_bin_goes_back_into_it_and_is_owed_by_nobody() -> None:
    quick = with_seals(2)
    quick.do(shop.parts.need, 1, "S-1", "seal", 2)
    quick.do(shop.stock.take, 1)
    assert "laid back into the bin" in quick.do(shop.parts.send_back, 1).why
    assert shop.stock.lying(quick.state, "S-1") == 2 and not quick.state.returns


def test_a_line_of_the_bin_is_laid_in_when_it_comes() -> None:
    quick = with_seals(1)
    quick.do(shop.parts.need, None, "S-1", "seal", 4)
    assert quick.line().reserved == 0, "the bin keeps nothing of itself for itself"
    quick.do(shop.parts.order, (1,), "north", None)
    quick.do(shop.parts.receive, 1, 3)
    quick.do(shop.parts.receive, 1, 1)
    assert (shop.stock.lying(quick.state, "S-1"), quick.line().stocked) == (5, 4)
    quick.refuses(shop.stock.put_away, 1, why="nothing of seal is here to put away")


def test_what_came_for_a_declined_job_is_put_away() -> None:
    quick = QuickShop()
    quick.to(Stage.DIAGNOSED)
    quick.do(shop.parts.need, 1, "S-1", "seal", 2)
    quick.do(shop.parts.order, (1,), "north", None)
    quick.do(shop.parts.receive, 1, 2)
    quick.do(shop.approval.decline, 1, "Mrs Hill", "phone", "too dear")
    quick.do(shop.closing.machine_left, 1)
    quick.do(shop.stock.put_away, 1, "B-2")
    assert [(e.bin, e.quantity) for e in quick.state.stock.values()] == [("B-2", 2)]


def test_a_count_is_written_down_and_cannot_break_what_is_promised() -> None:
    quick = with_seals(5)
    quick.do(shop.parts.need, 1, "S-1", "seal", 3)
    step = quick.do(shop.stock.count, 1, 4, by="bo")
    assert step.why == "bin A-1 counted: 4 × seal (S-1), 5 were written down."
    assert quick.state.stock[1].counted_by == "bo"
    quick.refuses(shop.stock.count, 1, 2, why="3 × seal are kept for T-0001, more than 2")


@pytest.mark.parametrize(
    ("number", "quantity", "name", "why"),
    [
        ("S-1", 0, "seal", "the quantity cannot be 0"),
        ("S-1", -2, "seal", "the quantity cannot be -2"),
        (" ", 1, "seal", "the part number is blank"),
        ("X-9", 1, "", "nothing here knows a part X-9"),
    ],
)
def test_what_cannot_be_laid(number: str, quantity: int, name: str, why: str) -> None:
    QuickShop().refuses(shop.stock.lay, number, quantity, name=name, why=why)


def test_parts_toml_says_where_a_part_lies() -> None:
    quick = QuickShop()
    quick.state.catalogue = {"O-1": CataloguePart(number="O-1", name="drive oil", bin="C-4")}
    assert quick.do(shop.stock.lay, "o-1", 6).why == "6 × drive oil (O-1) laid into bin C-4: 6 there now."


# -- splits -----------------------------------------------------------------------------------------------------------


def ordered(quantity: int) -> QuickShop:
    quick = QuickShop()
    quick.to(Stage.DIAGNOSED)
    quick.do(shop.parts.need, 1, "S-1", "seal", quantity)
    quick.do(shop.parts.order, (1,), "north", None)
    return quick


def test_some_of_a_line_are_put_off_and_the_rest_comes_as_before() -> None:
    quick = ordered(5)
    step = quick.do(shop.parts.back_order, 1, None, 2)
    assert step.why == "T-0001: 2 × seal back-ordered, no date given; 3 × seal ordered as before."
    found = [(p.id, p.quantity, p.state) for p in quick.state.parts.values()]
    assert found == [(1, 3, PartState.ORDERED), (2, 2, PartState.BACK_ORDERED)]
    assert quick.line(2).supplier == "north" and quick.line(2).ordered_at == quick.line(1).ordered_at


def test_what_has_come_of_a_line_is_here_once_the_rest_is_put_off() -> None:
    quick = ordered(5)
    quick.do(shop.parts.receive, 1, 3)
    assert quick.do(shop.parts.split, 1, 2).why == "T-0001: 5 × seal split into 3 × seal and 2 × seal."
    assert (quick.line(1).state, quick.line(2).state) == (PartState.RECEIVED, PartState.ORDERED)


def test_pieces_are_neither_lost_nor_made_by_splitting() -> None:
    quick = ordered(7)
    quick.do(shop.parts.receive, 1, 2)
    for quantity in (1, 2):
        quick.do(shop.parts.back_order, 1, None, quantity)
    lines = list(quick.state.parts.values())
    assert (sum(p.quantity for p in lines), sum(p.received for p in lines)) == (7, 2)


@pytest.mark.parametrize(
    ("quantity", "why"),
    [(0, "cannot be 0"), (-1, "cannot be -1"), (5, "no more than 5 × seal"), (6, "more than the 5 still to come")],
)
def test_splits_that_cannot_be(quantity: int, why: str) -> None:
    ordered(5).refuses(shop.parts.split, 1, quantity, why=why)


def test_the_whole_rest_put_off_stays_one_line() -> None:
    quick = ordered(2)
    quick.do(shop.parts.back_order, 1, None, 2)
    assert [p.state for p in quick.state.parts.values()] == [PartState.BACK_ORDERED]


# -- bad input: one clear line each -----------------------------------------------------------------------------------


def test_bad_input_gets_one_clear_line() -> None:
    quick = ordered(2)
    quick.do(shop.evidence.find, 1, "charge-pump-worn", correction="renew-charge-pump", book=BOOK)
    need = shop.parts.need
    quick.refuses(need, 1, "S-2", "seal", -3, why="the quantity cannot be -3: type a whole number, 1 or more")
    quick.refuses(
        need, 1, "S-2", "seal", 1, price=D("1.005"), why="finer than the shop's money: round it to 2 decimals"
    )
    quick.refuses(shop.parts.receive, 1, 3, why="3 × seal is more than the 2 still to come: receive those")
    quick.do(need, 1, "S-3", "gasket", 1)
    quick.refuses(shop.parts.order, (2,), "gone & sons", None, why="there is no supplier gone & sons: take north")
    quick.state.catalogue = {"S-1": CataloguePart(number="S-1", name="seal")}
    quick.refuses(need, 1, "S-9", "", 1, why="parts.toml has no part S-9: type its name too")
    quick.refuses(shop.approval.ask, 1, D(98), why="98.00 EUR is below the estimate of 108.00 EUR: ask for that sum")
    quick.do(shop.approval.ask, 1, D(110))
    step = quick.do(shop.approval.give, 1, "Mr Hill", "phone", D(90))
    assert "below the estimate of 108.00 EUR: no work before it is agreed or cut down" in step.why


def test_a_line_of_a_deleted_supplier_can_be_ordered_elsewhere() -> None:
    quick = QuickShop(suppliers=())
    quick.to(Stage.DIAGNOSED)
    quick.do(shop.parts.need, 1, "S-1", "seal", 1)
    quick.refuses(shop.parts.order, (1,), "north", why="there is no supplier north: add one to shop.toml")
