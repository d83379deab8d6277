"""Several processes at once: no update is lost, readers never see half a step, a stopped writer harms nobody."""

from __future__ import annotations

import os
import signal
import time

import pytest
from aids import crash_worker
from aids.crash_harness import check, replayed, start
from aids.store_steps import collect, picture, take_in

from shopboard.store import CommitFailed, disk, open_shop, recovery


def _count(folder, processes, times):
    store = open_shop(folder)
    store.commit("ana", take_in())
    children = [start(crash_worker.count, folder, f"w{n}", times) for n in range(processes)]
    assert [child.finish() for child in children] == [0] * processes
    told = sorted(seq for child in children for seq, _ in child.acks)
    store.refresh()
    assert int(store.state.customers[1].note) == processes * times
    assert told == list(range(2, processes * times + 2))
    again = check(folder, [])
    replayed(folder, again)
    assert picture(again.state) == picture(store.state)


def test_four_processes_lose_no_update(folder):
    _count(folder, 4, 50)


@pytest.mark.long
def test_four_processes_lose_none_of_many_updates(folder):
    _count(folder, 4, 500)


def _watch(folder, times):
    reader = open_shop(folder)
    child = start(crash_worker.churn, folder, times)
    seen, opened = [], 0
    while not child.pipe.poll():
        seen += [change.seq for change in reader.refresh()]
        state = reader.state
        jobs = [*state.jobs.values(), *state.closed.values()]
        assert len(jobs) == len(state.customers) == len(state.machines)
        loaded = recovery.load(folder)
        opened += 1
        assert loaded.follower.seq >= state.seq
    assert child.finish() == 0
    seen += [change.seq for change in reader.refresh()]
    assert seen == list(range(1, times + 1))
    assert picture(reader.state) == picture(open_shop(folder).state)
    return opened


def test_readers_and_openings_racing_checkpoints(folder):
    assert _watch(folder, 90) > 10


@pytest.mark.long
def test_readers_and_openings_racing_many_checkpoints(folder):
    assert _watch(folder, 900) > 100


def test_two_terminals_both_put_at_rest(folder):
    """Each terminal's checkpoint knows what the other closed, moved and brought back."""
    a, b = open_shop(folder), open_shop(folder)
    for word in ("one", "two", "three"):
        a.commit("ana", take_in(word))
    a.commit("ana", collect(1))
    b.refresh()
    a.close()
    b.commit("bo", collect(2))
    b.undo("bo")
    b.undo("ana", 4)
    b.close()
    store = check(folder, [])
    assert store.state.jobs.keys() == {1, 2, 3} and not store.state.closed


def test_a_stopped_writer_is_named_and_harms_nobody(folder, monkeypatch):
    monkeypatch.setattr(disk, "LOCK_WAIT", 0.2)
    store = open_shop(folder)
    child = start(crash_worker.stop_inside, folder)
    assert child.pipe.recv() == (0, "stopping")
    _wait_until_stopped(child.process.pid)
    with pytest.raises(CommitFailed, match=rf"another terminal \(process {child.process.pid}\) has been writing"):
        store.commit("ana", take_in("mine"))
    assert open_shop(folder).state.seq == 0
    os.kill(child.process.pid, signal.SIGCONT)
    assert child.finish() == 0
    monkeypatch.setattr(disk, "LOCK_WAIT", 5.0)
    assert store.commit("ana", take_in("mine")).seq == 2
    check(folder, child.acks)


def _wait_until_stopped(pid):
    until = time.monotonic() + 10
    while time.monotonic() < until:
        with open(f"/proc/{pid}/stat") as file:
            if file.read().rsplit(")", 1)[1].split()[0] == "T":
                return
    raise AssertionError("the process did not stop")
