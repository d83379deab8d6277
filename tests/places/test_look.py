"""The look a person chose is there again, and nothing about it can keep the board from opening."""

from __future__ import annotations

from pathlib import Path

import pytest
from aids.boards import open_board, type_keys

from shopboard.places.look import keep_look, kept_look
from shopboard.places.themes import BRIGHT, NIGHT


async def test_the_look_chosen_is_there_at_the_next_start(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "settings"))
    async with open_board(tmp_path / "shop") as pilot:
        assert pilot.app.theme == NIGHT.name
        await type_keys(pilot, "ctrl+t")
    async with open_board(tmp_path / "shop") as pilot:
        assert pilot.app.theme == BRIGHT.name


@pytest.mark.parametrize("content", [b"", b"no such look", b"\xff\xfe", None])
def test_a_look_that_cannot_be_read_is_the_night_one(
    content: bytes | None, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path))
    if content is not None:
        (tmp_path / "shopboard").mkdir()
        (tmp_path / "shopboard" / "look").write_bytes(content)
    assert kept_look() == NIGHT.name


def test_a_place_that_refuses_costs_only_the_memory(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "shopboard").write_text("a file where the folder should be")
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path))
    keep_look(BRIGHT.name)
    assert kept_look() == NIGHT.name
