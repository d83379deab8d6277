"""Shops written by earlier programs: each past format still opens, read through its numbered steps, once."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
from aids.store_steps import collect, need, picture, remark, take_in

from shopboard.records import FORMAT, Stage, Table
from shopboard.store import closed, journal, making, open_shop, tiny_files, upgrades, verify

SHOPS = Path(__file__).parent / "shops"


@pytest.mark.parametrize("number", range(1, FORMAT + 1))
def test_a_shop_of_each_format_opens_and_is_what_it_was(tmp_path, number):
    shutil.copytree(SHOPS / f"format-{number}", tmp_path / "shop")
    store = open_shop(tmp_path / "shop")
    assert store.notices() == () and store.state.seq == 9
    assert [job.complaint for job in store.state.jobs.values()] == ["creeps at rest", "clunk [when warm]"]
    assert store.state.jobs[2].stage is Stage.ARRIVED and store.state.closed.keys() == {1, 4}
    job, lines = store.state.load_closed(1)
    assert (job.complaint, [line.number for line in lines]) == ("weak when hot", ["S-1"])
    assert [note.text for note in job.notes] == ["rang: runs well"]
    assert [change.why for change in store.changes(subject=4)] == ["took in T-0004", "T-0004 collected"]
    faults = [fault for fault in verify(tmp_path / "shop") if "field-20" not in fault.why]
    assert faults == []
    store.commit("ana", take_in())
    store.close()
    assert open_shop(tmp_path / "shop").state.next_id(Table.JOBS) == 6


def _louder(table: Table, data: dict) -> dict:
    """A step to a made-up next format: complaints get a mark."""
    return data | {"complaint": data["complaint"] + "!"} if table is Table.JOBS else data


@pytest.fixture
def next_format(monkeypatch):
    """As if the program were one format further."""

    def begin():
        for module in (closed, journal, making, tiny_files, upgrades):
            monkeypatch.setattr(module, "FORMAT", FORMAT + 1)
        monkeypatch.setattr(upgrades, "STEPS", {FORMAT: _louder})
        monkeypatch.setattr(closed, "SUMMARIES_SINCE", FORMAT + 1)

    return begin


def test_a_step_is_taken_once_for_what_is_at_rest_and_what_is_in_the_journal(folder, next_format):
    store = open_shop(folder)
    for word in ("one", "two", "three"):
        store.commit("ana", take_in(word))
    store.commit("ana", need(1, "S-1"))
    store.commit("ana", collect(1))
    store.checkpoint()
    store.commit("ana", take_in("four"))
    store.commit("ana", remark(2, "noted"))
    next_format()
    newer = open_shop(folder)
    for _ in range(2):
        seen = picture(newer.state)
        assert [job.complaint for job in seen["jobs"].values()] == ["two!", "three!", "four!"]
        assert seen["closed"][1].complaint == "one!" == seen["whole"][1][0].complaint
        assert len(seen["whole"][1][1]) == 1
        newer.checkpoint()
        newer = open_shop(folder)
        assert newer.notices() == ()
    newer.commit("ana", collect(2))
    newer.checkpoint()
    again = picture(open_shop(folder).state)
    assert again["whole"][2][0].complaint == "two!" and again["whole"][1][0].complaint == "one!"


def test_undo_brings_back_an_older_formats_record_upgraded(folder, next_format):
    store = open_shop(folder)
    store.commit("ana", take_in("one"))
    store.commit("ana", remark(1, "noted"))
    next_format()
    newer = open_shop(folder)
    newer.undo("ana")
    assert newer.state.jobs[1].complaint == "one!" and newer.state.jobs[1].notes == ()
    assert open_shop(folder).state.jobs[1].complaint == "one!"
