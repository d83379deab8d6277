"""Driving a board in a test: wait on conditions, read the screen as text."""

from __future__ import annotations

import asyncio
from collections.abc import Callable

from textual.pilot import Pilot

from shopboard.places.app import Board


async def until(pilot: Pilot[object], condition: Callable[[], bool], what: str, tries: int = 400) -> None:
    """Let the app run until `condition` holds; fail with `what` and the screen if it never does."""
    for _ in range(tries):
        if condition():
            return
        await pilot.pause()
        await asyncio.sleep(0)
    raise AssertionError(f"never: {what}\n{screen_text(pilot.app)}")


def screen_text(app: object) -> str:
    """What the screen shows, line by line."""
    strips = app.screen._compositor.render_strips()  # type: ignore[attr-defined]
    return "\n".join("".join(segment.text for segment in strip).rstrip() for strip in strips)


async def type_keys(pilot: Pilot[object], *keys: str) -> None:
    """Press keys one by one; a key starting with "=" is text to type."""
    for key in keys:
        if key.startswith("="):
            for char in key[1:]:
                await pilot.press(_NAMES.get(char, char))
        else:
            await pilot.press(key)
        await settled(pilot)


async def settled(pilot: Pilot[object]) -> None:
    """Wait until the board has dealt with every key."""
    board = pilot.app
    assert isinstance(board, Board)
    await until(pilot, lambda: not board._key_under_way and not board._held, "keys dealt with")
    await pilot.pause()


_NAMES = {
    " ": "space",
    ",": "comma",
    ".": "full_stop",
    "-": "minus",
    "/": "slash",
    "[": "left_square_bracket",
    "]": "right_square_bracket",
}
