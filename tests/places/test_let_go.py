"""What was drawn and is gone is let go of."""

from __future__ import annotations

import gc
from pathlib import Path

from aids.boards import open_board, type_keys
from textual._styles_cache import StylesCache


def _drawn() -> int:
    gc.collect()
    return sum(isinstance(one, StylesCache) for one in gc.get_objects())


async def test_lines_of_dialogs_that_were_left_are_not_kept(tmp_path: Path) -> None:
    async with open_board(tmp_path / "shop") as pilot:
        for _ in range(3):
            await type_keys(pilot, "?", "escape", "slash", "escape")
        before = _drawn()
        for _ in range(5):
            await type_keys(pilot, "?", "escape", "slash", "escape")
        assert _drawn() <= before
