"""An import killed at any moment: all of it is there, or none; the rejects are on the disk before the rest is kept."""

from __future__ import annotations

import random
import time

import msgspec
import pytest
from aids.crash_harness import start
from aids.erase_worker import import_to_step, import_until_killed
from aids.shops import make_shop
from aids.ugly_list import make, write_xlsx

from shopboard.store import disk, open_shop, verify

#: What an import passes, in this order at its first time.
STEPS = ["locked", "caught up", "temp written", "temp synced", "replaced", "before append", "written", "synced"]
STEPS += ["applied", "unlocked", "checkpoint begun", "months filed", "index written", "open written"]


@pytest.fixture(scope="module")
def ugly():
    return make(3, 700)


@pytest.fixture
def made(ugly, tmp_path):
    """Makes a shop with its customers in it, and the list; the folder and the file."""
    write_xlsx(ugly, tmp_path / "ugly.xlsx")

    def make_one(name):
        make_shop(tmp_path / name).close()
        child = start(import_to_step, tmp_path / name, "customers", tmp_path / "ugly.xlsx", "none", 1)
        assert child.finish() == 0 and child.acks == [(0, "done")]
        return tmp_path / name, tmp_path / "ugly.xlsx"

    return make_one


def _whole_or_nothing(folder, ugly):
    """Nothing of the list is there, or all of it; which."""
    store = open_shop(folder)
    assert verify(folder) == () and store.read_only == ""
    there = {machine.serial for machine in store.state.machines.values()}
    assert there in (set(), set(ugly.machines))
    assert store.state.seq == 1 + bool(there) == len(list(store.changes()))
    store.close()
    return bool(there)


@pytest.mark.parametrize("step", STEPS)
def test_killed_at_each_step_nothing_is_half_there(made, ugly, step):
    folder, file = made("shop")
    child = start(import_to_step, folder, "machines", file, step, 2 if step in ("locked", "caught up") else 1)
    assert child.finish() == -9, "the step was never passed"
    kept = _whole_or_nothing(folder, ugly)
    # what was synced is there, what was not yet appended is not
    if step in STEPS[: STEPS.index("before append") + 1]:
        assert not kept or step in ("locked", "caught up")
    if step in STEPS[STEPS.index("synced") :]:
        assert kept
    assert not kept or list(file.parent.glob("ugly.xlsx.rejected*.csv"))


def test_a_line_half_written_is_nothing(made, ugly, monkeypatch):
    folder, file = made("shop")
    child = start(import_to_step, folder, "machines", file, "synced", 1)
    assert child.finish() == -9
    journal = max((folder / "journal").glob("*.jsonl"), key=lambda path: path.stat().st_size)
    whole = journal.read_bytes()
    lines = whole.split(b"\n")
    last = len(lines[-2]) + 1
    draw = random.Random(11)
    for cut in (1, 2, last // 2, last - 1, *(draw.randrange(1, last) for _ in range(20))):
        journal.write_bytes(whole[:-cut])
        assert not _whole_or_nothing(folder, ugly)
        for torn in journal.parent.glob("torn-*.bin"):
            torn.unlink()


@pytest.mark.parametrize("rounds", [6, pytest.param(120, marks=pytest.mark.long)])
def test_killed_at_drawn_moments_nothing_is_half_there(made, ugly, rounds):
    """From its first word to its end, killed after a drawn share of the time that a whole one takes here."""
    folder, file = made("whole")
    began = time.perf_counter()
    child = start(import_until_killed, folder, "machines", file)
    assert child.pipe.recv() == (0, "ready")
    assert child.finish() == 0 and _whole_or_nothing(folder, ugly)
    takes, draw, kept = time.perf_counter() - began, random.Random(5), 0
    for number in range(rounds):
        folder, file = made(f"shop {number}")
        child = start(import_until_killed, folder, "machines", file)
        assert child.pipe.recv() == (0, "ready")
        time.sleep(draw.random() * takes)
        child.kill()
        child.finish()
        kept += _whole_or_nothing(folder, ugly)
    print(f"{rounds} kills: {kept} whole, {rounds - kept} nothing")


def test_a_disk_that_fills_up_keeps_nothing_of_it(run, shop, ugly, tmp_path, monkeypatch):
    write_xlsx(ugly, tmp_path / "ugly.xlsx")

    def full(fd, data):
        if data.startswith(b'{"c":"'):
            raise OSError(28, "No space left on device")
        whole(fd, data)

    whole = disk.write_all
    monkeypatch.setattr(disk, "write_all", full)
    done = run("import", "customers", tmp_path / "ugly.xlsx", "--as", "cy", "--yes", "--json")
    assert done.complained(3) == "not saved: the disk is full: free some space and do it again"
    monkeypatch.setattr(disk, "write_all", whole)
    assert open_shop(shop).state.seq == 0
    told = msgspec.json.decode(run("import", "customers", tmp_path / "ugly.xlsx", "--as", "cy", "--yes", "--json").out)
    assert told["change"] == 1 and told["added"] == len(ugly.owners)
