"""A disk that fills up, breaks or may not be written: one clear line, nothing lost, the state as before."""

from __future__ import annotations

import errno
import os
import tempfile
from pathlib import Path

import pytest
from aids import crash_worker
from aids import store_steps as steps
from aids.crash_harness import start
from aids.faulty_os import FaultyOs
from aids.store_steps import picture, take_in

from shopboard.records import Refused
from shopboard.store import CommitFailed, ShopUnusable, checkpoint, disk, new_shop, open_shop, recovery

SAID = {errno.ENOSPC: "the disk is full", errno.EIO: "the disk reports an error"}


def _round(store):
    """Steps and checkpoints; yields the state's picture after each, and the error of each that failed."""
    todo = [
        take_in("one"),
        take_in("two"),
        steps.need(1, "S-1"),
        None,
        steps.collect(1),
        None,
        steps.remark(1, "rang"),
        None,
    ]
    for action in todo:
        before = picture(store.state)
        try:
            if action is None:
                store.checkpoint()
            else:
                store.commit("ana", action)
            yield picture(store.state), None
        except CommitFailed as error:
            assert picture(store.state) == before, "a failed commit changed the state"
            yield before, error
        except Refused:
            yield before, None  # what it builds on was not saved


def _with_fault(folder, monkeypatch, faulty):
    """One round on a faulty disk; the last acknowledged picture and the errors met."""
    store = open_shop(folder)
    for module in (disk, recovery):
        monkeypatch.setattr(module, "os", faulty)
    kept, errors = picture(store.state), []
    for seen, error in _round(store):
        kept = seen
        errors += [error] if error else []
    monkeypatch.undo()
    return store, kept, errors


@pytest.mark.parametrize("stuck", [False, True], ids=["once", "from then on"])
@pytest.mark.parametrize("number", SAID, ids=errno.errorcode.get)
@pytest.mark.parametrize("kind", ["write", "fsync", "replace", "open"])
def test_every_single_fault_ends_in_one_clear_line_and_loses_nothing(tmp_path, monkeypatch, kind, number, stuck):
    at = 0
    while True:
        at += 1
        folder = tmp_path / f"{at}"
        new_shop(folder)
        faulty = FaultyOs(kind, at, number, stuck=stuck)
        store, kept, errors = _with_fault(folder, monkeypatch, faulty)
        if not faulty.failed:
            break
        for error in errors:
            assert "\n" not in str(error) and error.would_do
        if errors:
            assert SAID[number] in errors[0].why
        if kind == "fsync":
            assert store.read_only, "a failed sync must end writing until the shop is opened again"
        again = open_shop(folder)
        assert picture(again.state) == kept
        assert again.commit("ana", take_in("after")).seq == kept["seq"] + 1
        again.close()
        assert open_shop(folder).state.seq == kept["seq"] + 1
    assert at > 5


def test_a_commit_survives_a_checkpoint_that_fails_behind_it(folder, monkeypatch):
    monkeypatch.setattr(checkpoint, "CHANGES", 3)
    store = open_shop(folder)
    store.commit("ana", take_in())
    store.commit("ana", take_in())
    monkeypatch.setattr(disk, "replace_file", _full)
    assert store.commit("ana", take_in()).seq == 3
    (told,) = store.notices()
    assert "the disk is full" in told and "every change is safe" in told
    assert store.commit("ana", take_in()).seq == 4 and store.notices() == ()
    monkeypatch.undo()
    store.close()
    assert open_shop(folder).state.seq == 4


def _full(path, data):
    raise OSError(errno.ENOSPC, "No space left on device")


def test_a_torn_line_on_a_full_disk_is_left_and_the_shop_opens_read_only(folder, monkeypatch):
    store = open_shop(folder)
    store.commit("ana", take_in())
    journal = folder / "journal" / "000000000001.jsonl"
    torn = journal.read_bytes() + b'{"c":"12'
    journal.write_bytes(torn)
    monkeypatch.setattr(disk, "replace_file", _full)
    again = open_shop(folder)
    assert again.state.seq == 1 and "the disk is full" in again.read_only
    assert journal.read_bytes() == torn
    with pytest.raises(CommitFailed, match="nothing can be saved here: the disk is full"):
        again.commit("ana", take_in())
    monkeypatch.undo()
    assert open_shop(folder).commit("ana", take_in()).seq == 2


def test_a_failed_sync_is_never_asked_again(folder, monkeypatch):
    store = open_shop(folder)
    store.commit("ana", take_in())
    faulty = FaultyOs("fsync", 1, errno.EIO)
    monkeypatch.setattr(disk, "os", faulty)
    with pytest.raises(CommitFailed, match="until the shop is opened again"):
        store.commit("ana", take_in())
    after = faulty.calls
    with pytest.raises(CommitFailed, match="nothing can be saved here"):
        store.commit("ana", take_in())
    store.close()
    assert faulty.calls == after and store.read_only


def _as_nobody(folder):
    """What a user who owns nothing here meets (a folder's rights bind no superuser)."""
    child = start(crash_worker.look_as_nobody, folder)
    assert child.finish() == 0
    return [said for _, said in child.acks]


def _rights(folder, folders, files):
    for path in [folder, *folder.rglob("*")]:
        path.chmod(folders if path.is_dir() else files)


@pytest.fixture
def shared():
    """A shop's folder that other users can reach."""
    with tempfile.TemporaryDirectory() as place:
        os.chmod(place, 0o755)
        folder = Path(place) / "shop"
        new_shop(folder)
        yield folder
        folder.chmod(0o755)
        _rights(folder, 0o755, 0o644)


def test_a_folder_that_cannot_be_written_opens_read_only(shared):
    store = open_shop(shared)
    store.commit("ana", take_in())
    store.close()
    _rights(shared, 0o555, 0o444)
    assert _as_nobody(shared) == [
        f"1 the folder cannot be written ({shared})",
        f"failed: nothing can be saved here: the folder cannot be written ({shared}): open the shop again",
    ]


def test_a_folder_that_cannot_be_written_and_has_no_database_is_one_line(shared):
    _rights(shared, 0o555, 0o444)
    assert _as_nobody(shared) == [
        f"unusable: the folder cannot be written ({shared}): a shop's database must be made there first"
    ]


def test_a_folder_that_cannot_be_read_is_one_line(shared):
    open_shop(shared).close()
    _rights(shared, 0o755, 0o644)
    (shared / "db" / "open.json").chmod(0o000)
    (said,) = _as_nobody(shared)
    assert said.startswith(f"unusable: {shared} cannot be opened: ") and "\n" not in said
    shared.chmod(0o000)
    (said,) = _as_nobody(shared)
    assert said.startswith("unusable: ") and "\n" not in said


def test_no_folder_and_no_shop(tmp_path):
    with pytest.raises(ShopUnusable, match="there is no folder"):
        open_shop(tmp_path / "nowhere")
    with pytest.raises(ShopUnusable, match=r"is no shop: it has no shop\.toml"):
        open_shop(tmp_path)
    file = tmp_path / "file"
    file.write_text("")
    with pytest.raises(ShopUnusable, match="there is no folder"):
        open_shop(file)


def test_a_shop_taken_away_while_open_is_one_line(folder, tmp_path):
    store = open_shop(folder)
    store.commit("ana", take_in())
    folder.rename(tmp_path / "gone")
    with pytest.raises(ShopUnusable):
        store.refresh()
    with pytest.raises(CommitFailed):
        store.commit("ana", take_in())
    store.close()
    assert open_shop(tmp_path / "gone").state.seq == 1


def test_a_half_written_line_that_cannot_be_cut_back_is_cut_by_the_next_commit(folder, monkeypatch):
    store = open_shop(folder)
    store.commit("ana", take_in())
    before = picture(store.state)
    faulty = FaultyOs("write", 2, errno.ENOSPC)  # the first write signs the lock
    monkeypatch.setattr(faulty, "ftruncate", _broken, raising=False)
    monkeypatch.setattr(disk, "os", faulty)
    with pytest.raises(CommitFailed, match="the disk is full"):
        store.commit("ana", take_in())
    assert picture(store.state) == before and faulty.failed == 1
    monkeypatch.undo()
    journal = folder / "journal" / "000000000001.jsonl"
    assert journal.read_bytes().count(b"\n") == 1 and not journal.read_bytes().endswith(b"\n")
    assert store.commit("ana", take_in()).seq == 2
    assert "change 2" in store.notices()[0]
    assert open_shop(folder).state.seq == 2


def _broken(fd, length):
    raise OSError(errno.EIO, "Input/output error")
