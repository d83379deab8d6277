"""A window pulled about by hand: nothing typed is lost, nothing breaks, and every row fits."""

from __future__ import annotations

import os
from pathlib import Path
from random import Random
from typing import Any

import pytest
from aids.boards import form_here, list_here, open_board, question_here, screen_text, type_keys
from aids.desk import small_day
from aids.hostile import screen_faults
from textual.pilot import Pilot

#: The smallest and the largest window, in cells.
LEAST, MOST = (40, 12), (220, 60)
TYPED = "slow up the hill, [left] side, since Easter"


async def resize(pilot: Pilot[Any], random: Random, times: int) -> None:
    """Pull the window to `times` other sizes; after each the screen is whole."""
    for _ in range(times):
        size = random.randint(LEAST[0], MOST[0]), random.randint(LEAST[1], MOST[1])
        await pilot.resize_terminal(*size)
        assert tuple(pilot.app.size) == size
        await pilot.pause()
        assert screen_faults(pilot.app) == [], size


async def _half_typed(pilot: Pilot[Any], random: Random, times: int) -> None:
    await type_keys(pilot, "n", f"={TYPED}", "left", "left")
    field = question_here(pilot.app).input
    for _ in range(times // 10):
        await resize(pilot, random, 10)
        assert (field.value, field.cursor_position, field.has_focus) == (TYPED, len(TYPED) - 2, True)
        assert list(form_here(pilot.app).values.values()).count(TYPED) == 1
    await pilot.resize_terminal(80, 24)
    await type_keys(pilot, "home")
    assert TYPED in screen_text(pilot.app)


async def _dialog(pilot: Pilot[Any], random: Random, times: int) -> None:
    await type_keys(pilot, "escape", "=1", "enter", "w", f"={TYPED}")
    await resize(pilot, random, times)
    assert question_here(pilot.app).input.value == TYPED
    await type_keys(pilot, "enter")
    job = pilot.app.state.jobs[1]  # type: ignore[attr-defined]
    assert [note.text for note in job.notes] == [TYPED]


async def _places(pilot: Pilot[Any], random: Random, times: int) -> None:
    for keys in (("f", "end"), ("b",), ("p",), ("o", "end"), ("slash",), ("escape", "question_mark"), ("escape", "i")):
        await type_keys(pilot, *keys)
        before = list_here(pilot.app).key if pilot.app.screen.query("LineList") else None
        await resize(pilot, random, times)
        assert not before or list_here(pilot.app).key == before, keys
    await type_keys(pilot, "escape", "b", "s")
    await resize(pilot, random, times)
    await type_keys(pilot, "escape", "a", "enter")
    await resize(pilot, random, times)


async def _pull(folder: Path, seed: int, times: int) -> None:
    print(f"seed {seed}")
    random = Random(seed)
    small_day(folder)
    async with open_board(folder) as pilot:
        await _half_typed(pilot, random, times)
        await _dialog(pilot, random, times)
        await _places(pilot, random, max(2, times // 10))


@pytest.mark.parametrize("seed", [5, int.from_bytes(os.urandom(4), "big")], ids=["5", "fresh"])
async def test_resizes_lose_nothing(seed: int, tmp_path: Path) -> None:
    await _pull(tmp_path / "shop", seed, 10)


@pytest.mark.long
async def test_two_hundred_resizes_at_each_lose_nothing(tmp_path: Path) -> None:
    await _pull(tmp_path / "shop", 7, 200)
