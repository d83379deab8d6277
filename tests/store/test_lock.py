"""The lock: one writer at a time, a patient wait, and no trust in a lock file that is no longer there."""

from __future__ import annotations

import os
import threading

import pytest
from aids.store_steps import take_in

from shopboard.store import CommitFailed, disk, open_shop


def test_one_holder_at_a_time_and_the_holder_is_named(tmp_path):
    path = tmp_path / "lock"
    with disk.locked(path):
        with pytest.raises(disk.LockBusy) as caught, disk.locked(path, wait=0):
            pytest.fail("two held it")
        assert caught.value.holder == os.getpid()
    with disk.locked(path, wait=0):
        pass


def test_the_lock_is_let_go_when_the_block_fails(tmp_path):
    with pytest.raises(ZeroDivisionError), disk.locked(tmp_path / "lock"):
        _ = 1 / 0
    with disk.locked(tmp_path / "lock", wait=0):
        pass


def test_a_commit_waits_for_a_writer_and_goes_on(folder):
    store = open_shop(folder)
    done = []
    worker = threading.Thread(target=lambda: done.append(store.commit("ana", take_in()).seq))
    with disk.locked(folder / "lock"):
        worker.start()
        assert not done
    worker.join()
    assert done == [1]


def test_a_commit_that_waits_in_vain_says_so_and_the_next_one_works(folder, monkeypatch):
    monkeypatch.setattr(disk, "LOCK_WAIT", 0.05)
    store = open_shop(folder)
    with (
        disk.locked(folder / "lock"),
        pytest.raises(CommitFailed, match=r"\(process \d+\) has been writing for 0.05 seconds"),
    ):
        store.commit("ana", take_in())
    assert store.state.seq == 0 and not store.read_only
    assert store.commit("ana", take_in()).seq == 1


def test_a_shop_opens_while_another_terminal_writes(folder, monkeypatch):
    open_shop(folder).commit("ana", take_in())
    monkeypatch.setattr(disk, "LOCK_WAIT", 0.05)
    with disk.locked(folder / "lock"):
        store = open_shop(folder)
    assert store.state.seq == 1 and store.read_only == ""
    assert store.commit("ana", take_in()).seq == 2


def test_a_lock_file_deleted_while_one_waits_is_not_trusted(tmp_path, monkeypatch):
    """The waiter must end up holding the file that others will lock, not the deleted one it opened first."""
    path, polling, inside, out = tmp_path / "lock", threading.Event(), threading.Event(), threading.Event()
    try_lock = disk._try_lock

    def watched(fd):
        got = try_lock(fd)
        if not got:
            polling.set()
        return got

    def wait_for_it():
        with disk.locked(path):
            inside.set()
            out.wait(10)

    monkeypatch.setattr(disk, "_try_lock", watched)
    waiter = threading.Thread(target=wait_for_it)
    with disk.locked(path):
        waiter.start()
        assert polling.wait(10)
        path.unlink()
    assert inside.wait(10)
    try:
        with pytest.raises(disk.LockBusy), disk.locked(path, wait=0):
            pytest.fail("two held the lock")
    finally:
        out.set()
        waiter.join()


def test_several_threads_of_one_store_commit_in_order(folder):
    store = open_shop(folder)
    seen = []
    workers = [
        threading.Thread(target=lambda: seen.extend(store.commit("ana", take_in()).seq for _ in range(10)))
        for _ in range(4)
    ]
    for worker in workers:
        worker.start()
    for worker in workers:
        worker.join()
    assert sorted(seen) == list(range(1, 41)) == sorted(open_shop(folder).state.jobs)
