"""parts.toml: read whole, or one line that says which entry is wrong and what would be right."""

from __future__ import annotations

from decimal import Decimal
from pathlib import Path

import pytest
from aids.store_steps import take_in

from shopboard.records import Return, ReturnKind, ShopState, Step, Stock, Table
from shopboard.store import ShopUnusable, new_shop, open_shop, read_catalogue, read_settings, verify

GOOD = '[[part]]\nnumber = "SK-1"\nname = "seal kit"\nprice = "64.00"\ncore_charge = 20\nserials_to = "K-99"\n'


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    new_shop(tmp_path / "shop")
    return tmp_path / "shop"


def test_a_new_shops_file_is_only_remarks(folder: Path) -> None:
    assert read_catalogue(folder, read_settings(folder)) == {} == open_shop(folder).state.catalogue


def test_a_shop_without_the_file_has_no_list(folder: Path) -> None:
    (folder / "parts.toml").unlink()
    assert open_shop(folder).state.catalogue == {}


def test_the_example_in_a_new_shop_is_right_once_its_remarks_are_taken_away(folder: Path) -> None:
    text = (folder / "parts.toml").read_text("utf-8")
    example = "\n".join(line.removeprefix("# ") for line in text.splitlines() if " = " in line or "[[" in line)
    extra = '\n[[part]]\nnumber = "SK-211"\nname = "seal kit"\n'
    (folder / "parts.toml").write_text(example + extra, "utf-8")
    part = open_shop(folder).state.catalogue["SK-210"]
    assert (part.price, part.core_days, part.replaced_by, part.bin) == (Decimal("64.00"), 30, "SK-211", "A-3")


@pytest.mark.parametrize(
    ("text", "why"),
    [
        (
            GOOD.replace("64.00", "64.005"),
            "parts.toml: part[1].price: 64.005 is finer than the shop's money: 2 decimals",
        ),
        (GOOD.replace("64.00", "-1"), "parts.toml: part[1].price: -1 is out of range"),
        (GOOD.replace("20", '"NaN"'), "parts.toml: part[1].core_charge: NaN is out of range"),
        (GOOD.replace("price", "prise"), 'parts.toml: part[1].prise: is not known here: did you mean "price"?'),
        (GOOD + GOOD, 'parts.toml: part[2].number: "SK-1" is used twice'),
        (
            GOOD + 'replaced_by = "SK-9"\n',
            'part[1].replaced_by: "SK-9" is no part of this file: write a [[part]] for it',
        ),
        (GOOD + 'replaced_by = "SK-1"\n', "part[1].replaced_by: each is replaced by the other"),
        (GOOD + "core_days = -3\n", "parts.toml: part[1].core_days: -3 is out of range: it must be at least 0"),
        ('[[part]]\nname = "x"\n', "parts.toml: part[1].number: is missing"),
        ('[[part]]\nnumber = " "\nname = "x"\n', "parts.toml: part[1]: number or name is blank: write both"),
        ('[part]\nnumber = "x"\n', "parts.toml: part: is not a list: write each part as [[part]], with two brackets"),
        ("[[parts]]\n", "parts.toml: parts: is not known here: write each part as [[part]]"),
        ("[[part]\n", "parts.toml: cannot be read"),
    ],
)
def test_what_is_wrong_is_one_line(folder: Path, text: str, why: str) -> None:
    (folder / "parts.toml").write_text(text, "utf-8")
    with pytest.raises(ShopUnusable) as told:
        open_shop(folder)
    assert why in str(told.value) and "\n" not in str(told.value)


def test_a_supplier_that_is_gone_does_not_shut_the_shop_and_is_told(folder: Path) -> None:
    (folder / "parts.toml").write_text(GOOD + 'supplier = "gone"\nmodels = ["ghost"]\n', "utf-8")
    open_shop(folder).close()
    told = [f"{fault.where}: {fault.why}" for fault in verify(folder)]
    assert 'parts.toml: SK-1: comes from "gone", whom shop.toml does not know' in told
    assert 'parts.toml: SK-1: fits model "ghost", which models.toml does not know' in told


def test_bins_and_returns_are_kept_at_rest_and_undone(folder: Path) -> None:
    def kept(state: ShopState, now: object) -> Step:
        stock = Stock(id=state.next_id(Table.STOCK), number="S-1", name="seal", bin="A", quantity=4)
        back = Return(
            id=state.next_id(Table.RETURNS), kind=ReturnKind.CORE, line=1, number="S-1", name="seal", since=now,
            credit=Decimal("12.50"),
        )  # fmt: skip
        return Step("counted", (stock, back))

    store = open_shop(folder)
    store.commit("me", take_in())
    store.commit("me", kept)
    store.checkpoint()
    store.commit("me", kept)
    seen = (dict(store.state.stock), dict(store.state.returns))
    again = open_shop(folder)
    assert (again.state.stock, again.state.returns) == seen and again.state.next_id(Table.STOCK) == 3
    again.undo("me")
    assert set(again.state.stock) == {1} == set(open_shop(folder).state.returns)
    assert [fault.why for fault in verify(folder) if "field-20" not in fault.why] == []
