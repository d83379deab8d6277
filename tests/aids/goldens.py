"""Golden files: what a screen showed when a person last looked at it and found it right."""

from __future__ import annotations

import re
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from pathlib import Path
from typing import Any

import pytest
from textual.pilot import Pilot

from aids.boards import settled, type_keys, until, walk_to
from aids.shops import Clock
from shopboard.places.app import Board
from shopboard.store import open_shop
from shopboard.trouble import Book


def compare(path: Path, shown: str, request: pytest.FixtureRequest) -> None:
    """Compare with the golden file, or with --update-goldens write it."""
    if request.config.getoption("--update-goldens"):
        path.parent.mkdir(exist_ok=True)
        path.write_text(shown, encoding="utf-8")
    assert path.exists(), f"no golden {path.name} yet: look at the screen, then pytest --update-goldens"
    assert shown == path.read_text(encoding="utf-8"), f"{path.name} is drawn otherwise now"


def picture(app: Any, title: str) -> str:
    """The screen as SVG: the same bytes for the same screen, asking no host on the network for a font."""
    svg = str(app.export_screenshot(title=title))
    svg = re.sub(r"@font-face\s*\{[^}]*\}\s*", "", svg)
    svg = re.sub(r"<!--.*?-->\s*", "", svg, flags=re.DOTALL)
    svg = re.sub(r"terminal-\d+", "screen", svg)
    svg = svg.replace("Fira Code", "monospace")
    return "\n".join(line.rstrip() for line in svg.splitlines()) + "\n"


@asynccontextmanager
async def board_at(folder: Path, book: Book, clock: Clock, size: tuple[int, int]) -> AsyncIterator[Pilot[Any]]:
    """A board on the shop in `folder` at a standing clock, with no intake half typed before."""
    store = open_shop(folder, clock=clock)
    board = Board(store, book, "ana", clock=clock)
    try:
        async with board.run_test(size=size) as pilot:
            await until(pilot, lambda: board.screen.focused is not None, "the first screen")
            await settled(pilot)
            yield pilot
    finally:
        store.close()


async def press(pilot: Pilot[Any], keys: tuple[str, ...]) -> None:
    """Press keys: names, "=text" is typed, "@text" walks to the row that holds it."""
    for key in keys:
        if key.startswith("@"):
            await walk_to(pilot, key[1:])
        else:
            await type_keys(pilot, {"/": "slash", "?": "question_mark"}.get(key, key))
    await until(pilot, lambda: getattr(pilot.app.screen, "ready", True), "the page worked out")
