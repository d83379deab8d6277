"""The shop's whole history in the Office: filter as one types, open a job, take a change back."""

from __future__ import annotations

from pathlib import Path

import pytest
from aids.boards import open_board, screen_text, settled, type_keys, until
from aids.desk import small_day
from aids.shops import Clock

from shopboard.places.dialogs.history import HistoryDialog
from shopboard.records import Settings
from shopboard.shop import evidence
from shopboard.store import FolderStore, open_shop
from shopboard.store.story import Wanted

from shopboard.places.history_search import past_day, read_wanted  # isort: skip


@pytest.fixture
def store(tmp_path: Path) -> FolderStore:
    small_day(tmp_path / "shop")
    return open_shop(tmp_path / "shop", clock=Clock())


async def _looked(pilot) -> str:
    await settled(pilot)
    await until(pilot, lambda: not pilot.app.screen.looking, "all looked through")
    return screen_text(pilot.app)


async def test_it_narrows_as_one_types_and_opens_the_job(tmp_path, store):
    async with open_board(tmp_path / "shop", store=store) as pilot:
        await type_keys(pilot, "o", "a")
        shown = await _looked(pilot)
        assert "412.00" in shown and shown.count("ana  ") >= 6
        await type_keys(pilot, "=approval T-0002 by:Ana")
        shown = await _looked(pilot)
        assert "approval asked for, 412.00" in shown and "Took in" not in shown
        await type_keys(pilot, "enter", "enter")
        await settled(pilot)
        assert pilot.app.place_name == "bench" and pilot.app.job_id == 2


async def test_a_change_is_taken_back_from_there_by_who_may(tmp_path, store):
    store.commit("bo", lambda state, now: evidence.remark(state, now, "bo", 1, "wrong word"))
    seq = store.state.seq
    async with open_board(tmp_path / "shop", store=store) as pilot:
        await type_keys(pilot, "o", "a", "=wrong")
        await _looked(pilot)
        await type_keys(pilot, "enter", "end", "enter")
        assert "this is for the owner" in await _looked(pilot) and store.state.seq == seq
        pilot.app.who = "cy"
        await type_keys(pilot, "enter", "end", "enter")
        assert "Undone: undone:" in await _looked(pilot)
        assert store.state.seq == seq + 1 and not store.state.jobs[1].notes


@pytest.mark.parametrize("typed", ["since:soon", "until:2026-13-01", "since:-x"])
async def test_what_is_no_day_is_said_in_the_list_and_typing_goes_on(tmp_path, store, typed):
    async with open_board(tmp_path / "shop", store=store) as pilot:
        await type_keys(pilot, "o", "a", f"={typed}")
        assert "is not a day" in await _looked(pilot)
        await type_keys(pilot, *["backspace"] * len(typed))
        assert "412.00" in await _looked(pilot)
        await type_keys(pilot, "escape")
        assert not isinstance(pilot.app.screen, HistoryDialog)


async def test_with_nothing_found_enter_does_nothing(tmp_path, store):
    async with open_board(tmp_path / "shop", store=store) as pilot:
        await type_keys(pilot, "o", "a", "=[/b]zzz", "enter", "pagedown")
        assert "no change has all of this" in await _looked(pilot)


def test_the_line_reads_tags_people_and_days_whatever_their_order():
    from datetime import date

    settings = Settings(name="S", zone="Europe/Vienna")
    wanted = read_wanted("Pump since:2026-11-01 T-0412 until:2026-11-01 by:zoe LEAK", settings, date(2026, 11, 25))
    assert (wanted.job, wanted.by, wanted.words) == (412, "zoe", ("pump", "leak"))
    assert wanted.since.isoformat() == "2026-10-31T23:00:00+00:00"
    assert wanted.until.isoformat() == "2026-11-01T23:00:00+00:00"
    assert read_wanted("", settings, date(2026, 11, 25)) == Wanted()
    assert read_wanted("by: since:", settings, date(2026, 11, 25)).words == ("by:", "since:")


@pytest.mark.parametrize(
    ("text", "day"),
    [("today", 25), ("yesterday", 24), ("wed", 25), ("thu", 19), ("-3", 22), ("2026-11-02", 2)],
)
def test_a_day_that_was(text, day):
    from datetime import date

    assert past_day(text, date(2026, 11, 25)) == date(2026, 11, day)
