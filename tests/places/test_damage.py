"""A board on a shop whose files were damaged: it says so where it matters, and everything else goes on."""

from __future__ import annotations

import shutil
from pathlib import Path

from aids.boards import open_board, screen_text, type_keys, until
from aids.hostile import hostile_shop
from aids.shops import Clock


def said(app: object) -> str:
    """The screen's words on one line, without frames."""
    return " ".join(screen_text(app).replace("│", " ").split())


async def test_a_history_that_cannot_be_read_is_told(tmp_path: Path) -> None:
    clock = Clock()
    store = hostile_shop(tmp_path / "shop", "Alder", clock)
    store.checkpoint()
    sealed = min((tmp_path / "shop" / "journal").iterdir())
    async with open_board(tmp_path / "shop", store=store, clock=clock) as pilot:
        sealed.write_bytes(sealed.read_bytes()[:-20] + b"x" * 20)
        await type_keys(pilot, "=1", "enter", "h")
        assert "T-0001, its history" in said(pilot.app) and "verify" in said(pilot.app)
        await type_keys(pilot, "escape", "w", "=goes on", "enter")
        assert "Saved: T-0001, remark: goes on" in said(pilot.app)


async def test_a_closed_job_that_cannot_be_read_is_told(tmp_path: Path) -> None:
    clock = Clock()
    hostile_shop(tmp_path / "shop", "Alder", clock).close()
    async with open_board(tmp_path / "shop", clock=clock) as pilot:
        (month,) = (tmp_path / "shop" / "db").glob("closed-*.json")
        month.write_bytes(b"{")
        await type_keys(pilot, "=5", "enter")
        assert "T-0005, closed" in said(pilot.app) and "verify" in said(pilot.app)
        await type_keys(pilot, "escape", "b")
        assert "BENCH" in said(pilot.app)


async def test_a_shop_pulled_away_under_the_board_is_told_and_the_typing_stays(tmp_path: Path) -> None:
    clock = Clock()
    store = hostile_shop(tmp_path / "shop", "Alder", clock)
    async with open_board(tmp_path / "shop", store=store, clock=clock) as pilot:
        await type_keys(pilot, "=1", "enter", "w", "=half a remark")
        shutil.move(tmp_path / "shop", tmp_path / "elsewhere")
        await type_keys(pilot, "enter")
        assert "half a remark" in said(pilot.app), "the dialog stays with what was typed"
        assert "FLOOR" not in said(pilot.app) and [n.text for n in store.state.jobs[1].notes] == ["Alder"]
        await until(pilot, lambda: "cannot be" in said(pilot.app) or "not saved" in said(pilot.app), "it is told")
        shutil.move(tmp_path / "elsewhere", tmp_path / "shop")


async def test_a_shop_that_may_only_be_read_is_shown_and_says_so(tmp_path: Path) -> None:
    clock = Clock()
    store = hostile_shop(tmp_path / "shop", "Alder", clock)
    store._read_only = "the folder cannot be written"
    async with open_board(tmp_path / "shop", store=store, clock=clock) as pilot:
        assert "read only: the folder cannot be written" in said(pilot.app)
        await type_keys(pilot, "=1", "enter", "w", "=no", "enter")
        assert "nothing can be saved here" in said(pilot.app)
