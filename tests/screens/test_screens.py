"""Every place, dialog and empty state as text at 80×24 and 160×45, and the pictures README shows.

A golden is a screen that a person looked at and found right; `pytest --update-goldens` writes all of them anew.
"""

from __future__ import annotations

import shutil
from collections.abc import Sequence
from pathlib import Path

import pytest
from aids import memory_shop
from aids.boards import screen_text, settled
from aids.goldens import board_at, compare, picture, press
from aids.screen_shop import BOOK, ON_THE_BENCH, screen_shop
from aids.shops import Clock, make_shop
from rich.cells import cell_len

from shopboard.places.knowing import KnowingApp
from shopboard.places.knowledge import Answer

HERE = Path(__file__).parent
SIZES = {"80x24": (80, 24), "160x45": (160, 45)}
PICTURE = (100, 30)

_BENCH = (f"={ON_THE_BENCH}", "enter")
_WHO = ("n", "=Mole Lane", "enter", "=555 0199", "enter", "=ferrow", "enter", "=F24-0400", "enter", "=88", "enter")
_MODEL = ("n", "=Mole Lane", "enter", "=555 0199", "enter", "=ferrow", "enter")
_TROUBLE = (*_WHO, "=no power on hills", "enter", "down")

#: What is pressed for each screen, beginning on the Floor.
SCREENS: dict[str, tuple[str, ...]] = {
    "floor": (),
    "floor-next-step": ("@T-0006", "s"),
    "floor-history": ("@T-0004", "h"),
    "floor-help": ("?",),
    "who": ("i",),
    "find": ("/", "=ferrow"),
    "palette": ("ctrl+p",),
    "counter-fresh": ("n",),
    "counter-known-customer": ("n", "=hill"),
    "counter-known-machine": ("n", "=hill", "enter", "down"),
    "counter-symptoms": _TROUBLE,
    "counter-question": (*_TROUBLE, "enter", "enter", "down"),
    "counter-taken-in": (*_TROUBLE, "enter", "enter", "down", "enter", "ctrl+s"),
    "counter-help": ("n", "f1"),
    "bench": _BENCH,
    "bench-causes": (*_BENCH, "tab", "down"),
    "bench-to-do": ("@T-0004", "enter"),
    "bench-outcome": (*_BENCH, "@case drain", "enter"),
    "bench-any-check": (*_BENCH, "a"),
    "bench-finding": (*_BENCH, "d"),
    "bench-tree": (*_BENCH, "t"),
    "bench-says": (*_BENCH, "tab", "x"),
    "bench-part": (*_BENCH, "r"),
    "bench-estimate": (*_BENCH, "e"),
    "bench-estimate-firm": ("@T-0004", "enter", "e"),
    "closed-job": ("=1", "enter"),
    "parts": ("p",),
    "parts-receive": ("p", "@seal kit", "enter"),
    "parts-order": ("p", "@guard bolts", "enter"),
    "parts-bins": ("p", "e"),
    "parts-returns": ("p", "v"),
    "office": ("o",),
    "office-end": ("o", "end"),
    "office-history": ("o", "a"),
    "office-history-filtered": ("o", "a", "=by:ana bay"),
    "office-pin": ("o", "y"),
    "locked": ("ctrl+l",),
    "approval": ("@T-0006", "s", "@record the yes", "enter"),
    "road-test": ("@T-0003", "s", "@record the road test", "enter"),
}
EMPTY: dict[str, tuple[str, ...]] = {
    "empty-floor": (),
    "empty-bench": ("b",),
    "empty-parts": ("p",),
    "empty-office": ("o",),
    "empty-find": ("/",),
}
#: Screens that show what closed jobs teach, which is handed to the board before the keys.
LEARNED: dict[str, tuple[str, ...]] = {
    "memory-office": ("o", "end"),
    "memory": ("o", "m"),
    "memory-cell": ("o", "m", "down", "down", "down", "enter"),
    "memory-held": ("o", "m", "enter"),
    "memory-leads": ("o", "m", "down", "enter"),
    "memory-service": ("o", "m", "down", "down", "enter"),
    "memory-counter": (*_MODEL, "enter"),
}
PICTURES = {
    "floor": ("The Floor", ()),
    "counter": ("The Counter", SCREENS["counter-question"]),
    "bench": ("The Bench", SCREENS["bench"]),
}


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Clock]:
    """The shop of the screens, and the clock that stands at its moment."""
    folder = tmp_path_factory.mktemp("screens") / "shop"
    return folder, screen_shop(folder)


@pytest.fixture(scope="module")
def empty_shop(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Clock]:
    """A shop on its first morning."""
    folder, clock = tmp_path_factory.mktemp("empty") / "shop", Clock()
    make_shop(folder, clock).close()
    return folder, clock


async def _compare(
    name: str,
    shop: tuple[Path, Clock],
    keys: tuple[str, ...],
    request: pytest.FixtureRequest,
    learned: Sequence[Answer] = (),
) -> None:
    """Go to the screen at the small size, then make the terminal wide."""
    async with board_at(shop[0], BOOK, shop[1], SIZES["80x24"]) as pilot:
        for answer in learned:
            pilot.app.post_message(KnowingApp.Taught(answer))
            await settled(pilot)
        await press(pilot, keys)
        for label, (width, height) in SIZES.items():
            await pilot.resize_terminal(width, height)
            await settled(pilot)
            rows = screen_text(pilot.app).split("\n")
            assert len(rows) == height and max(map(cell_len, rows)) <= width
            compare(HERE / label / f"{name}.txt", "\n".join([*rows, ""]), request)


@pytest.mark.parametrize("name", SCREENS)
async def test_screen(name: str, shop: tuple[Path, Clock], tmp_path: Path, request: pytest.FixtureRequest) -> None:
    if "ctrl+s" in SCREENS[name]:  # it takes a machine in, which the other screens must not show
        shop = (shutil.copytree(shop[0], tmp_path / "shop"), shop[1])
    await _compare(name, shop, SCREENS[name], request)


@pytest.mark.parametrize("name", EMPTY)
async def test_empty_screen(name: str, empty_shop: tuple[Path, Clock], request: pytest.FixtureRequest) -> None:
    await _compare(name, empty_shop, EMPTY[name], request)


@pytest.mark.parametrize("name", LEARNED)
async def test_screen_of_what_closed_jobs_teach(
    name: str, shop: tuple[Path, Clock], request: pytest.FixtureRequest
) -> None:
    found = memory_shop.reckoned(BOOK, shop[1]())
    page = found.page(memory_shop.JOINT, memory_shop.EARLY)
    await _compare(name, shop, LEARNED[name], request, (found.knowledge(), page))


@pytest.mark.parametrize("name", PICTURES)
async def test_picture_that_readme_shows(name: str, shop: tuple[Path, Clock], request: pytest.FixtureRequest) -> None:
    title, keys = PICTURES[name]
    async with board_at(shop[0], BOOK, shop[1], PICTURE) as pilot:
        await press(pilot, keys)
        svg = picture(pilot.app, title)
    assert "http" not in svg.replace("http://www.w3.org/2000/svg", "")
    compare(HERE / f"{name}.svg", svg, request)
    assert f"tests/screens/{name}.svg" in (HERE.parents[1] / "README.md").read_text(encoding="utf-8")


def test_no_golden_is_left_over() -> None:
    wanted = {f"{size}/{name}.txt" for size in SIZES for name in (*SCREENS, *EMPTY, *LEARNED)}
    wanted |= {f"{name}.svg" for name in PICTURES}
    found = {path.relative_to(HERE).as_posix() for path in HERE.rglob("*") if path.suffix in (".txt", ".svg")}
    assert found == wanted
