"""The Floor in large type: every bay shown at any size, nothing cut in two, kept up to date, left with w or Esc."""

from __future__ import annotations

from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from aids.boards import open_board, screen_text, type_keys
from aids.screen_shop import BOOK, NOW, screen_shop
from hypothesis import given
from hypothesis import strategies as st
from rich.cells import cell_len

from shopboard.places.big_type import ROWS, big
from shopboard.places.floor_lines import look
from shopboard.places.lines import plain
from shopboard.places.wall_lines import wall_lines
from shopboard.store import open_shop

#: Three by five dots of "2" and "T", as anybody would draw them on squared paper.
TWO_AND_T = ["######  ######", "    ##    ##", "######    ##", "##        ##", "######    ##"]


def test_large_type_is_read_as_drawn_on_squared_paper() -> None:
    assert [row.replace("█", "#").rstrip() for row in big("2T", 2)] == TWO_AND_T


@given(st.text("0123456789T- ", min_size=1, max_size=7))
def test_both_sizes_draw_the_same_dots(text: str) -> None:
    small, large = big(text, 1), big(text, 2)
    assert (len(small), len(large)) == (ROWS[1], ROWS[2])
    dots = [[row[n] != " " for n in range(0, len(row), 2)] for row in large]
    halves = {" ": (False, False), "▀": (True, False), "▄": (False, True), "█": (True, True)}
    again = [[halves[char][half] for char in row] for row in small for half in (0, 1)]
    assert again[:5] == dots and not any(again[5])


@pytest.mark.parametrize("size", [(40, 8), (76, 20), (80, 21), (120, 30), (156, 41), (220, 60)])
def test_every_bay_is_there_and_nothing_is_wider_or_higher_than_the_wall(size: tuple[int, int], tmp_path: Path) -> None:
    clock = screen_shop(tmp_path)
    store = open_shop(tmp_path, clock=clock)
    floor = look(store.state, BOOK, NOW, ZoneInfo(store.state.settings.zone))
    rows = wall_lines(floor, *size)
    text = plain(rows)
    assert len(rows) <= size[1] and all(cell_len(row.text) <= size[0] for row in rows)
    assert all(bay.name in text for bay in store.state.settings.bays)
    store.close()


async def test_w_shows_it_and_w_or_esc_leaves_it(tmp_path: Path) -> None:
    clock = screen_shop(tmp_path)
    async with open_board(tmp_path, clock=clock) as pilot:
        assert "▀█▀" not in screen_text(pilot.app)
        await type_keys(pilot, "w")
        shown = screen_text(pilot.app)
        assert shown.count("▀█▀") == 2 and "late, or cannot be on time" in shown
        await type_keys(pilot, "escape")
        assert "▀█▀" not in screen_text(pilot.app) and pilot.app.place_name == "floor"
        await type_keys(pilot, "w", "w", "enter")
        assert pilot.app.place_name == "bench"
