"""The guided walk: each leg is told until it is done, it can be left at any time, and it is offered once."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from aids.boards import choose, open_board, screen_text, type_keys, until
from aids.screen_shop import screen_shop
from textual.pilot import Pilot

from shopboard.places.walk import LEGS


async def leg(pilot: Pilot[Any], number: int) -> None:
    """Wait until this leg is told."""
    await until(pilot, lambda: f"walk {number} of {len(LEGS)}" in screen_text(pilot.app), f"leg {number}")


async def test_the_walk_from_the_floor_to_the_floor(tmp_path: Path) -> None:
    clock = screen_shop(tmp_path)
    async with open_board(tmp_path, clock=clock) as pilot:
        await type_keys(pilot, "ctrl+g")
        await leg(pilot, 1)
        await type_keys(pilot, "n")
        await leg(pilot, 2)
        await type_keys(pilot, "=stone", "enter", "enter")
        await type_keys(pilot, "ctrl+n", "=Mole Lane", "enter", "enter", "=ferrow", "enter", "enter", "=88", "enter")
        await leg(pilot, 3)
        await type_keys(pilot, "=slow on the hill when warm", "enter", "down", "enter", "enter")
        await leg(pilot, 4)
        await type_keys(pilot, "ctrl+s")
        await leg(pilot, 5)
        await choose(pilot, "on the Bench")
        await leg(pilot, 6)
        await type_keys(pilot, "enter", "enter")
        await leg(pilot, 7)
        await type_keys(pilot, "o")
        await leg(pilot, 8)
        await type_keys(pilot, "f")
        await until(pilot, lambda: "That was the walk" in screen_text(pilot.app), "the end of the walk")
        assert f"of {len(LEGS)}:" not in screen_text(pilot.app)


async def test_it_is_left_with_the_key_that_began_it(tmp_path: Path) -> None:
    clock = screen_shop(tmp_path)
    async with open_board(tmp_path, clock=clock) as pilot:
        await type_keys(pilot, "ctrl+g")
        await leg(pilot, 1)
        await type_keys(pilot, "ctrl+g")
        assert "walk 1 of" not in screen_text(pilot.app) and "begins it again" in screen_text(pilot.app)


async def test_it_is_offered_and_may_be_declined(tmp_path: Path) -> None:
    clock = screen_shop(tmp_path)
    async with open_board(tmp_path, clock=clock) as pilot:
        pilot.app.offer_walk()
        await until(pilot, lambda: "A walk through the board?" in screen_text(pilot.app), "the offer")
        await choose(pilot, "by myself")
        assert pilot.app.walk_words == ""
        pilot.app.offer_walk()
        await until(pilot, lambda: "A walk through the board?" in screen_text(pilot.app), "the offer")
        await choose(pilot, "show me round")
        await leg(pilot, 1)
