"""Kits: which numbers a correction's parts are on this machine, and asking for them in one step."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest
from aids.quick_shop import QuickShop

from shopboard import shop
from shopboard.records import CataloguePart, Machine, Stage
from shopboard.records.machines import Layout
from shopboard.records.stock import serial_key
from shopboard.shop.catalogue import by_name, sent_instead
from shopboard.trouble import Book, load_book

D = Decimal
BOOK_TEXT = """
[symptom.slow]
name = "slow"
otherwise = "rarely"
[check.look]
name = "look"
how = "Look."
where = "yard"
minutes = 1
[check.look.outcomes]
right = { name = "right", normal = true }
wrong = { name = "wrong", otherwise = "rarely" }
[cause.worn]
name = "pump worn"
weight = "common"
correction = ["reseal"]
shows = { slow = "usually" }
answers.look = { wrong = "often" }
[correction.reseal]
name = "reseal the pump"
minutes = 60
parts = [{ name = "seal kit" }, { name = "drive oil", quantity = 4 }, { name = "odd clip" }]
"""


def part(number: str, name: str, **more: Any) -> CataloguePart:
    return CataloguePart(number=number, name=name, **more)


PARTS = (
    part("SK-1", "seal kit", serials_to="K-99", supplier="north", price=D("60.00")),
    part("SK-2", "seal kit", serials_from="K-100", supplier="north", price=D("70.00")),
    part("OIL", "oil, ten litres", known_as=("drive oil",), supplier="gone", price=D("9.00")),
)


@pytest.fixture(scope="module")
def book() -> Book:
    return load_book({"one.toml": BOOK_TEXT})


def with_parts(serial: str = "K-20") -> QuickShop:
    from shopboard.shop.intake import NewMachine

    quick = QuickShop()
    quick.state.catalogue = {each.number: each for each in PARTS}
    quick.to(Stage.DIAGNOSED, machine=NewMachine(model="kestrel-20", serial=serial))
    return quick


def test_the_kit_is_asked_for_with_the_finding_in_one_step(book: Book) -> None:
    quick = with_parts()
    step = quick.do(shop.kits.find, 1, "worn", correction="reseal", book=book)
    assert step.why == (
        "T-0001, found: pump worn; to do: reseal the pump; needs 1 × seal kit (SK-1) and 4 × oil, ten litres (OIL); "
        "not asked for: odd clip: parts.toml has none of that name."
    )
    found = [(p.number, p.quantity, p.price, p.supplier) for p in quick.state.parts.values()]
    assert found == [("SK-1", 1, D("60.00"), "north"), ("OIL", 4, D("9.00"), "")], "a supplier nobody knows is left out"
    quick.refuses(shop.kits.ask, 1, "reseal", book=book, why="odd clip: parts.toml has none of that name")


@pytest.mark.parametrize(("serial", "number"), [("K-99", "SK-1"), ("k 0100", "SK-2"), ("K-2000", "SK-2")])
def test_the_serial_decides_which_number_it_is(book: Book, serial: str, number: str) -> None:
    quick = with_parts(serial)
    quick.do(shop.evidence.find, 1, "worn", correction="reseal", book=book)
    quick.do(shop.kits.ask, 1, "reseal", book=book)
    assert quick.line().number == number


def test_without_a_serial_nothing_is_guessed(book: Book) -> None:
    quick = with_parts("")
    kit = shop.kits.kit(quick.state, quick.job(), "reseal", book)
    assert [each.number for each, _ in kit.parts] == ["OIL"]
    assert "the serial decides between SK-1 or SK-2: read its plate" in kit.left_out[0]


def test_a_number_of_other_serials_is_refused_with_the_one_that_fits() -> None:
    quick = with_parts("K-20")
    quick.refuses(
        shop.parts.need,
        1,
        "SK-2",
        "",
        1,
        why="SK-2 fits serials from K-100, and this machine is kestrel-20 K-20: take SK-1",
    )
    assert "needs 1 × seal kit (SK-1)" in quick.do(shop.parts.need, 1, "sk-1", "", 1).why


def test_what_is_sent_instead_is_asked_for() -> None:
    quick = with_parts()
    chain = {"A": part("A", "clip", replaced_by="B"), "B": part("B", "clip", replaced_by="C"), "C": part("C", "clip")}
    quick.state.catalogue = chain
    assert sent_instead(quick.state, chain["A"]).number == "C"
    assert "needs 2 × clip (C, sent instead of A)" in quick.do(shop.parts.need, 1, "A", "", 2).why


def test_a_part_for_the_model_goes_before_one_for_all_and_two_alike_are_not_guessed() -> None:
    quick = QuickShop()
    machine = Machine(id=1, customer=1, model="kestrel-20", layout=Layout.IN_LINE)
    own = {"G": part("G", "filter"), "K": part("K", "filter", models=("kestrel-20",))}
    quick.state.catalogue = own
    chosen = by_name(quick.state, "Filter", machine).part
    assert chosen is not None and chosen.number == "K"
    quick.state.catalogue = {"G": part("G", "filter"), "H": part("H", "filter")}
    assert by_name(quick.state, "filter", machine).why_not == "G or H go by that name"


@pytest.mark.parametrize(
    ("low", "high"), [("F24-0299", "F24-0310"), ("F24-99", "F24-100"), ("A1", "B1"), ("LS-2", "LS-10")]
)
def test_serials_are_compared_as_people_count(low: str, high: str) -> None:
    assert serial_key(low) < serial_key(high)


def test_a_serial_of_another_shape_does_not_fit_by_chance() -> None:
    broken = part("A", "seal", serials_from="F24-0100")
    assert broken.fits("any", "T34-0200") is None and broken.fits("any", "F24-0200") and not broken.fits("any", "F24-9")


def test_a_core_and_its_charge_come_with_the_number() -> None:
    quick = with_parts()
    quick.state.catalogue = {"XU": part("XU", "unit", price=D(900), core_charge=D(120))}
    quick.do(shop.parts.need, 1, "XU", "", 1)
    assert (quick.line().core, quick.line().core_charge) == (True, D("120.00"))
    assert shop.approval.known_cost(quick.state, quick.job()) == D("1224.00"), "1020 with 20 % tax"
