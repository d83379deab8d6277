"""What was drawn and is gone is let go of."""

from __future__ import annotations

import gc
from pathlib import Path
from typing import Any
from weakref import WeakSet

import pytest
from aids.boards import open_board, type_keys
from textual._styles_cache import StylesCache


async def test_lines_of_dialogs_that_were_left_are_not_kept(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    drawn: WeakSet[StylesCache] = WeakSet()
    made = StylesCache.__init__

    def counted(self: StylesCache, *given: Any) -> None:
        made(self, *given)
        drawn.add(self)

    monkeypatch.setattr(StylesCache, "__init__", counted)

    async def drawn_after(times: int) -> int:
        for _ in range(times):
            await type_keys(pilot, "?", "escape", "slash", "escape")
        gc.unfreeze()
        gc.collect()
        return len(drawn)

    async with open_board(tmp_path / "shop") as pilot:
        before = await drawn_after(3)
        assert before > 5, "the place in front has been drawn"
        assert await drawn_after(5) < before + 10, "each of ten dialogs has several widgets"
