"""The one registry of keys: footer, help, palette and README say what the keys do, and no digit does anything."""

from __future__ import annotations

import importlib
import pkgutil
import re
from collections import Counter as Count
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from aids.boards import open_board, screen_text, type_keys
from aids.desk import small_day
from rich.cells import cell_len
from textual.dom import DOMNode
from textual.widgets import Input

import shopboard.places
from shopboard.places import bench, counter, floor, office, parts
from shopboard.places.actions import ACTIONS, EVERYWHERE, PLACES, actions_at, footer_at, key_table, key_words, keys_at
from shopboard.places.app import Board
from shopboard.places.dialogs.find import PaletteDialog
from shopboard.places.help_lines import help_page
from shopboard.places.place import Place
from shopboard.places.widgets.form import Form
from shopboard.places.widgets.line_list import LineList

ROOT = Path(__file__).parents[2]
SCREENS: dict[str, type[Place]] = {
    "counter": counter.Counter,
    "floor": floor.Floor,
    "bench": bench.Bench,
    "parts": parts.Parts,
    "office": office.Office,
}


def _keys(kind: type[DOMNode]) -> set[str]:
    """Every key a class binds, its own and what it inherits."""
    return set(kind._merge_bindings().key_to_bindings)


def _kinds() -> Iterator[type[DOMNode]]:
    """Every app, screen, dialog and widget class of the places."""
    for module in pkgutil.walk_packages(shopboard.places.__path__, "shopboard.places."):
        for found in vars(importlib.import_module(module.name)).values():
            if isinstance(found, type) and issubclass(found, DOMNode):
                yield found


def test_every_place_of_the_registry_is_a_screen() -> None:
    assert SCREENS.keys() == PLACES.keys()
    assert all(kind.place == name for name, kind in SCREENS.items())


# -- what keys do ---------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("place", PLACES)
def test_every_action_has_its_method_where_it_works(place: str) -> None:
    for action in actions_at(place):
        method = f"action_{action.id.partition('(')[0]}"
        owner: Any = SCREENS[place] if place in action.places else Board
        assert callable(getattr(owner, method, None)), f"{place}: no {owner.__name__}.{method}"


@pytest.mark.parametrize("place", PLACES)
def test_every_key_of_the_registry_is_bound_and_nothing_else(place: str) -> None:
    own = {key for a in ACTIONS if place in a.places for key in a.keys.split(",")}
    assert _keys(SCREENS[place]) - _keys(Place) <= own <= _keys(SCREENS[place])


def test_the_board_binds_the_keys_of_everywhere() -> None:
    everywhere = {key for a in ACTIONS if EVERYWHERE in a.places for key in a.keys.split(",")}
    assert everywhere == {key for binding in Board.BINDINGS for key in binding.key.split(",")}  # type: ignore[union-attr]


@pytest.mark.parametrize("place", PLACES)
def test_no_key_means_two_things_at_a_place(place: str) -> None:
    keys = Count(key for action in actions_at(place) for key in action.keys.split(","))
    assert [key for key, times in keys.items() if times > 1] == []


@pytest.mark.parametrize("place", [place for place in PLACES if place != "counter"])
def test_no_list_takes_a_key_away_from_its_place(place: str) -> None:
    """Enter is both the list's and the place's: the list hands it on as the choice the place acts on."""
    here = {key for action in actions_at(place) for key in action.keys.split(",")}
    listed = {key for binding in LineList.BINDINGS for key in binding.key.split(",")}  # type: ignore[union-attr]
    assert here & listed <= {"enter"}


def test_no_text_field_takes_a_key_away_from_the_counter() -> None:
    """Ctrl+S is both the form's and the place's, with one meaning: all is answered."""
    here = {key for action in actions_at("counter") for key in keys_at("counter", action)}
    assert {"escape", "f1", "ctrl+s", "ctrl+n", "ctrl+p", "ctrl+q"} <= here
    assert here & (_keys(Input) | _keys(Form)) == {"ctrl+s"}


def test_no_digit_is_bound_anywhere() -> None:
    kinds = set(_kinds())
    assert {Board, LineList, PaletteDialog, *SCREENS.values()} <= kinds
    bound = {(kind.__name__, key) for kind in kinds for key in _keys(kind) if re.fullmatch(r"(.+\+)?\d", key)}
    handled = {(kind.__name__, n) for kind in kinds for n in dir(kind) if re.fullmatch(r"_?key_\d", n)}
    assert not bound | handled


def test_a_bound_digit_would_be_noticed() -> None:
    class Slip(LineList):
        BINDINGS = [("7", "choose", "no")]

    assert "7" in _keys(Slip) and re.fullmatch(r"(.+\+)?\d", "7") and re.fullmatch(r"(.+\+)?\d", "shift+7")


# -- what is said of keys -------------------------------------------------------------------------------------------


@pytest.mark.parametrize("place", PLACES)
async def test_the_footer_says_all_it_has_to_at_80_columns(place: str, tmp_path: Path) -> None:
    small_day(tmp_path / "shop")
    wanted = footer_at(place)
    assert 3 <= len(wanted) <= 7 and wanted[-1][1] == "help"
    async with open_board(tmp_path / "shop", size=(80, 24)) as pilot:
        await type_keys(pilot, PLACES[place][0])
        foot = screen_text(pilot.app).splitlines()[-1]
    assert foot.split() == " ".join(f"{key} {label}" for key, label in wanted).split()
    assert cell_len(foot) <= 80


def test_a_footer_names_no_key_that_is_text_there() -> None:
    assert all(len(key) > 1 for key, _ in footer_at("counter"))


@pytest.mark.parametrize("place", PLACES)
def test_the_palette_lists_exactly_the_registry(place: str) -> None:
    rows = PaletteDialog(place, PLACES[place][1]).found("", 100)
    assert [row.key for row in rows] == [action.id for action in actions_at(place)]


def test_the_palettes_of_all_places_leave_no_action_out() -> None:
    assert {action.id for place in PLACES for action in actions_at(place)} == {action.id for action in ACTIONS}
    assert all(set(action.places) <= {EVERYWHERE, *PLACES} for action in ACTIONS)


@pytest.mark.parametrize("place", PLACES)
def test_help_names_every_key_that_works_there(place: str) -> None:
    text = "\n".join(row.text for row in help_page(place)(100))
    for action in actions_at(place):
        keys = keys_at(place, action)
        if keys:
            assert re.search(rf"(?m)^{re.escape(key_words(','.join(keys)))}\s", text), action


def test_readme_shows_the_registrys_table() -> None:
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    found = re.search(r"<!-- keys -->\n(.*?)\n<!-- /keys -->", readme, re.DOTALL)
    assert found and found[1] == key_table()
