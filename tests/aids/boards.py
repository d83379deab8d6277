"""Driving a board in a test: wait on conditions, read the screen as text, type in bursts as fast hands do."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager
from functools import cache
from pathlib import Path
from time import monotonic
from typing import Any

from textual import events
from textual.keys import _character_to_key
from textual.pilot import Pilot

from aids.shops import Clock, make_shop
from shopboard.places.app import Board
from shopboard.places.widgets.form import FieldRow, Form
from shopboard.places.widgets.line_list import LineList
from shopboard.store import FolderStore, open_shop, read_book
from shopboard.trouble import Book

#: A condition that does not hold within this many seconds never will.
PATIENCE = 20.0


@cache
def shipped() -> Book:
    """The book as shipped, read once."""
    return read_book(None)


@asynccontextmanager
async def open_board(
    folder: Path,
    *,
    who: str = "ana",
    size: tuple[int, int] = (80, 24),
    clock: Clock | None = None,
    store: FolderStore | None = None,
) -> AsyncIterator[Pilot[Any]]:
    """A board on the shop in `folder`, which is made if it is not there; the store is closed with it."""
    clock = clock or Clock()
    if store is None:
        store = open_shop(folder, clock=clock) if (folder / "shop.toml").exists() else make_shop(folder, clock)
    board = Board(store, shipped(), who, folder=folder, clock=clock)
    try:
        async with board.run_test(size=size) as pilot:
            await until(pilot, lambda: board.screen.focused is not None, "the first screen")
            await settled(pilot)
            yield pilot
    finally:
        store.close()


async def until(pilot: Pilot[Any], condition: Callable[[], bool], what: str) -> None:
    """Let the app run until `condition` holds; fail with `what` and the screen if it never does."""
    began = monotonic()
    while not condition():
        if pilot.app._exception is not None:
            raise pilot.app._exception
        if monotonic() - began > PATIENCE:
            raise AssertionError(f"never: {what}\n{screen_text(pilot.app)}")
        for _ in range(50):  # the app takes its turns; most conditions need no redrawing in between
            await asyncio.sleep(0)
            if condition():
                return
        await pilot.pause(0.01)


def screen_text(app: Any) -> str:
    """What the screen shows, line by line."""
    strips = app.screen._compositor.render_strips()
    return "\n".join("".join(segment.text for segment in strip).rstrip() for strip in strips)


def key(name: str) -> events.Key:
    """The key event of a named key or a character, as the terminal's reader makes it."""
    if len(name) == 1:
        return events.Key(_character_to_key(name), name)
    return events.Key(name, "\r" if name == "enter" else None)


async def type_keys(pilot: Pilot[Any], *keys: str) -> None:
    """Hand over all keys at once, before the board has dealt with the first; then wait until it has dealt with all.

    A key starting with "=" is text, typed character by character.
    """
    for name in keys:
        for each in name[1:] if name.startswith("=") and len(name) > 1 else (name,):
            pilot.app.post_message(key(each))
    await settled(pilot)


async def paste(pilot: Pilot[Any], text: str) -> None:
    """Paste text as a terminal does."""
    pilot.app.post_message(events.Paste(text))
    await settled(pilot)


async def settled(pilot: Pilot[Any]) -> None:
    """Wait until the board has dealt with every key."""
    board = pilot.app
    assert isinstance(board, Board)

    def quiet() -> bool:
        return board._message_queue.empty() and not board._key_under_way and not board._held

    await until(pilot, quiet, "keys dealt with")
    await _calm(pilot)
    await until(pilot, quiet, "keys dealt with")


async def _calm(pilot: Pilot[Any]) -> None:
    """Wait until no widget has anything left to do: seen twice in a row, as one may hand on to another. A pause of the
    pilot's own also waits until the whole process is idle, which takes longer than everything else."""
    began, calm = monotonic(), 0
    while calm < 2 and monotonic() - began < PATIENCE:
        await pilot.pause(0)
        screen = pilot.app.screen
        pumps = [pilot.app, *screen.walk_children(with_self=True)]
        left = screen._callbacks or any(p.message_queue_size or p._next_callbacks for p in pumps)
        calm = 0 if left else calm + 1


# -- as a person finds the way --------------------------------------------------------------------------------------


def list_here(app: Any) -> LineList:
    """The list one walks: the one in focus, or the one under a text field."""
    focused = app.screen.focused
    lists = [focused] if isinstance(focused, LineList) else [*app.screen.query(LineList)]
    assert lists, f"no list in front\n{screen_text(app)}"
    return lists[0]


def row_here(app: Any) -> str:
    """The text of the row under the cursor."""
    found = list_here(app)
    return found._lines[found._cursor].text.strip() if found._cursor >= 0 else ""


async def walk_to(pilot: Pilot[Any], text: str) -> None:
    """Put the cursor of the list in front on the row that holds `text`, with the arrow keys alone."""
    keyed = [row for row in list_here(pilot.app)._lines if row.key is not None]
    found = next((n for n, row in enumerate(keyed) if text in row.text), None)
    assert found is not None, f"no row holds “{text}”\n{screen_text(pilot.app)}"
    await type_keys(pilot, "home", *["down"] * found)
    assert text in row_here(pilot.app), f"the cursor is not on “{text}”\n{screen_text(pilot.app)}"


async def choose(pilot: Pilot[Any], text: str) -> None:
    """Choose the row that holds `text`."""
    await walk_to(pilot, text)
    await type_keys(pilot, "enter")


def form_here(app: Any) -> Form:
    """The form on the screen in front."""
    found: Form = app.screen.query_one(Form)
    return found


def question_here(app: Any) -> FieldRow:
    """The question that is open."""
    row = form_here(app)._open_row()
    assert row is not None, screen_text(app)
    return row


async def answer(pilot: Pilot[Any], label: str, text: str) -> None:
    """Answer the open question, which must have this label, and go on."""
    row = question_here(pilot.app)
    assert row.field.label == label, f"asked “{row.field.label}”, not “{label}”\n{screen_text(pilot.app)}"
    await type_keys(pilot, f"={text}" if text else "enter", *(["enter"] if text else []))


async def take(pilot: Pilot[Any], label: str, option: str) -> None:
    """Walk the options of the open question to the one named, take it and go on."""
    row = question_here(pilot.app)
    assert row.field.label == label, f"asked “{row.field.label}”, not “{label}”\n{screen_text(pilot.app)}"
    names = [each.label for each in row.options]
    assert option in names, f"“{option}” is not offered: {names}"
    await type_keys(pilot, *["down"] * (names.index(option) - row.option), "enter")


def value(app: Any, id: str) -> str | tuple[str, ...]:
    """The answer that stands in a question of the form in front."""
    return form_here(app).row(id).value
