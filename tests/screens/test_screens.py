"""Every place, dialog and empty state as text at 80×24 and 160×45, and the pictures README shows.

A golden is a screen that a person looked at and found right; `pytest --update-goldens` writes all of them anew.
"""

from __future__ import annotations

import shutil
from collections.abc import Awaitable, Callable, Sequence
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from aids import memory_shop
from aids.boards import screen_text, settled
from aids.goldens import board_at, compare, picture, press
from aids.plans import by_tries, give_plan
from aids.screen_shop import BOOK, ON_THE_BENCH, screen_shop
from aids.shops import Clock, make_shop
from rich.cells import cell_len
from textual.pilot import Pilot

from shopboard.places.knowing import KnowingApp
from shopboard.places.knowledge import Answer
from shopboard.shop import closures, dates, parts

HERE = Path(__file__).parent
SIZES = {"80x24": (80, 24), "160x45": (160, 45)}
PICTURE = (100, 30)

_BENCH = (f"={ON_THE_BENCH}", "enter")
_WHO = ("n", "=Mole Lane", "enter", "=555 0199", "enter", "=ferrow", "enter", "=F24-0400", "enter", "=88", "enter")
_MODEL = ("n", "=Mole Lane", "enter", "=555 0199", "enter", "=ferrow", "enter")
_TROUBLE = (*_WHO, "=no power on hills", "enter", "down")


def _until(day: int) -> datetime:
    """The end of a day of November in the shop's zone."""
    return datetime(2026, 11, day + 1, tzinfo=ZoneInfo("Europe/Berlin")).astimezone(UTC)


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
#: Screens that show the plan; for some something happened to the shop since people saw it first.
PLANNED: dict[str, tuple[str, ...]] = {
    "plan-floor": (),
    "plan-floor-changed": (),
    "plan-moved": ("y",),
    "plan-shop-closed": (),
    "plan-next": ("t",),
    "plan-office": ("o",),
    "plan-move": ("@Stone", "m", "d", "p"),
}
_HAPPENED = {
    "plan-floor-changed": (
        lambda state, now: closures.away(state, now, "ana", "bo", _until(27), None, "ill"),
        lambda state, now: parts.back_order(state, now, "ana", 1, date(2026, 12, 3)),
    ),
    "plan-moved": (
        lambda state, now: closures.down(state, now, "ana", "1", _until(26), None, "lift leaks"),
        lambda state, now: dates.promise(state, now, "ana", 8, _until(25)),
    ),
    "plan-shop-closed": (lambda state, now: closures.closed(state, now, "ana", _until(26), _until(25), "stocktaking"),),
}
#: A plan is improved by so many tries before it is shown.
TRIES = 20
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
    before: Callable[[Pilot[Any]], Awaitable[None]] | None = None,
) -> None:
    """Go to the screen at the small size, then make the terminal wide."""
    async with board_at(shop[0], BOOK, shop[1], SIZES["80x24"]) as pilot:
        for answer in learned:
            pilot.app.post_message(KnowingApp.Taught(answer))
            await settled(pilot)
        if before is not None:
            await before(pilot)
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
async def test_picture_that_readme_shows(
    name: str, shop: tuple[Path, Clock], request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch
) -> None:
    title, keys = PICTURES[name]
    by_tries(monkeypatch, TRIES)
    async with board_at(shop[0], BOOK, shop[1], PICTURE) as pilot:
        if name == "floor":
            give_plan(pilot.app)
            await settled(pilot)
        await press(pilot, keys)
        svg = picture(pilot.app, title)
    assert "http" not in svg.replace("http://www.w3.org/2000/svg", "")
    compare(HERE / f"{name}.svg", svg, request)
    assert f"tests/screens/{name}.svg" in (HERE.parents[1] / "README.md").read_text(encoding="utf-8")


@pytest.mark.parametrize("name", PLANNED)
async def test_screen_of_the_plan(
    name: str, shop: tuple[Path, Clock], tmp_path: Path, request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The plan comes from this shop by a fixed seed and number of tries, never from how fast the machine is."""
    by_tries(monkeypatch, TRIES)
    folder = shutil.copytree(shop[0], tmp_path / "shop")

    async def plan(pilot: Pilot[Any]) -> None:
        standing = give_plan(pilot.app)
        await settled(pilot)
        for happens in _HAPPENED.get(name, ()):
            assert pilot.app.commit(happens) is not None
        if name in _HAPPENED:
            standing.plan()
            await settled(pilot)
            pilot.app.tell("")

    await _compare(name, (folder, shop[1]), PLANNED[name], request, before=plan)


def test_no_golden_is_left_over() -> None:
    wanted = {f"{size}/{name}.txt" for size in SIZES for name in (*SCREENS, *EMPTY, *LEARNED, *PLANNED)}
    wanted |= {f"{name}.svg" for name in PICTURES}
    found = {path.relative_to(HERE).as_posix() for path in HERE.rglob("*") if path.suffix in (".txt", ".svg")}
    assert found == wanted
