"""Backup and restore: one file as of one change, proved before it gets its name; never over a shop that is open."""

from __future__ import annotations

import errno
import json
import os
import shutil
import stat
import subprocess
import sys
import zipfile
from datetime import UTC, datetime

import pytest
from aids import crash_worker
from aids.crash_harness import start
from aids.store_steps import collect, need, picture, remark, take_in

from shopboard.records import Remove
from shopboard.store import CommitFailed, FolderStore, ShopUnusable, disk, open_shop
from shopboard.store.backup import backup
from shopboard.store.pins import Pins
from shopboard.store.restore import restore

NOW = datetime(2026, 11, 25, 20, 30, tzinfo=UTC)


def _shop(folder) -> FolderStore:
    """A shop with something of everything: at rest, in a sealed segment and in the open one."""
    store = open_shop(folder)
    for word in ("one", "two", "three"):
        store.commit("ana", take_in(word))
    store.commit("ana", need(1, "S-1"))
    store.commit("ana", collect(1))
    store.checkpoint()
    store.commit("ana", remark(2, "rang"))
    return store


def test_a_backup_restored_elsewhere_is_the_same_shop(folder, tmp_path):
    store = _shop(folder)
    (folder / "book" / "own.toml").write_text("")
    made = backup(folder, tmp_path / "kept.zip", NOW)
    assert made.seq == store.state.seq == 6
    told = restore(tmp_path / "kept.zip", tmp_path / "there", NOW)
    assert (told.seq, told.aside) == (6, "")
    again = open_shop(tmp_path / "there")
    assert picture(again.state) == picture(store.state)
    assert list(again.changes()) == list(store.changes()) and again.notices() == ()
    assert (tmp_path / "there" / "book" / "own.toml").exists()
    assert again.commit("ana", take_in("more")).seq == 7
    if sys.platform != "win32":
        assert stat.S_IMODE((tmp_path / "kept.zip").stat().st_mode) == 0o600
        assert stat.S_IMODE((tmp_path / "there" / "db" / "open.json").stat().st_mode) == 0o600


def _replayed(store, upto):
    """The tables as of change `upto`, by a route of its own: plain replay of the history."""
    tables = {}
    for change in store.changes():
        if change.seq > upto:
            break
        for op in change.ops:
            if isinstance(op, Remove):
                tables.pop((op.table, op.id), None)
            else:
                tables[op.table, op.id] = op.data
    return tables


def _backups_while(folder, tmp_path, writers, times):
    """Backups made while processes write as fast as they can; each restored and held against the history."""
    children = [start(crash_worker.run, folder, f"w{n}", n) for n in range(writers)]
    for child in children:
        child.wait_ready()
    made = []
    for number in range(times):
        for child in children:
            child.acks.append(child.pipe.recv())
            while child.pipe.poll():  # a full pipe would stop the writer
                child.acks.append(child.pipe.recv())
        made.append(backup(folder, tmp_path / f"{number}.zip", NOW))
    for child in children:
        child.kill()
        child.finish()
    store = open_shop(folder)
    assert [one.seq for one in made] == sorted({one.seq for one in made}), "others wrote between the backups"
    for number, one in enumerate(made):
        restore(tmp_path / f"{number}.zip", tmp_path / f"there-{number}", NOW)
        there = open_shop(tmp_path / f"there-{number}")
        assert there.state.seq == one.seq and there.notices() == ()
        assert list(there.changes()) == [change for change in store.changes() if change.seq <= one.seq]
        assert _replayed(there, one.seq) == _replayed(store, one.seq)
        seen = picture(there.state)
        jobs = {id for table, id in _replayed(store, one.seq) if table == "jobs"}
        assert seen["jobs"].keys() | seen["closed"].keys() == jobs
        there.close()
    return store.state.seq


def test_backups_while_four_writers_run_are_each_the_shop_at_a_known_change(folder, tmp_path):
    assert _backups_while(folder, tmp_path, 4, 4) > 16


@pytest.mark.long
def test_many_backups_while_four_writers_run(folder, tmp_path):
    _backups_while(folder, tmp_path, 4, 60)


def test_a_torn_line_at_the_moment_of_the_backup_is_not_in_it(folder, tmp_path):
    store = _shop(folder)
    with store._follower.path.open("ab") as file:
        file.write(b'{"c":"0000')
    backup(folder, tmp_path / "kept.zip", NOW)
    restore(tmp_path / "kept.zip", tmp_path / "there", NOW)
    there = open_shop(tmp_path / "there")
    assert there.notices() == () and picture(there.state) == picture(store.state)


def test_what_is_secret_or_half_typed_is_left_out(folder, tmp_path):
    _shop(folder).close()
    Pins(folder).set("ana", "4711")
    (folder / "drafts").mkdir()
    (folder / "drafts" / "intake-ana.json").write_text("{}")
    (folder / "db" / ".open.json.99.tmp").write_text("half")
    backup(folder, tmp_path / "kept.zip", NOW)
    names = zipfile.ZipFile(tmp_path / "kept.zip").namelist()
    assert not [name for name in names if "pins" in name or "drafts" in name or name == "lock" or "tmp" in name]
    assert {"shop.toml", "models.toml", "db/open.json", "manifest.json"} <= set(names)


def test_a_folder_as_target_gets_a_dated_file_and_nothing_is_overwritten(folder, tmp_path):
    _shop(folder).close()
    (tmp_path / "all").mkdir()
    made = backup(folder, tmp_path / "all", NOW)
    assert made.file.endswith("shop-2026-11-25-203000.zip")
    with pytest.raises(CommitFailed, match="is there already"):
        backup(folder, tmp_path / "all" / "shop-2026-11-25-203000.zip", NOW)
    with pytest.raises(CommitFailed, match="not there: name a file in a folder that exists"):
        backup(folder, tmp_path / "nowhere" / "a.zip", NOW)
    assert [path.name for path in (tmp_path / "all").iterdir()] == ["shop-2026-11-25-203000.zip"]


def test_a_damaged_shop_is_not_taken_for_a_backup(folder, tmp_path):
    store = _shop(folder)
    sealed = next((folder / "journal").glob("*.gz"))
    sealed.write_bytes(sealed.read_bytes()[:-9])
    with pytest.raises(CommitFailed, match="the shop itself is damaged"):
        backup(folder, tmp_path / "kept.zip", NOW)
    assert not (tmp_path / "kept.zip").exists() and not list(tmp_path.glob(".*.tmp"))
    store.close()


def test_a_shop_held_open_is_never_replaced(folder, tmp_path):
    store = _shop(folder)
    backup(folder, tmp_path / "kept.zip", NOW)
    store.commit("ana", take_in("later"))
    before = picture(store.state)
    with pytest.raises(ShopUnusable, match="is open at a terminal: close every board on it first"):
        restore(tmp_path / "kept.zip", folder, NOW)
    assert picture(store.state) == before and not list(tmp_path.glob("shop.before*"))
    store.close()
    other = start(crash_worker.run, folder, "w", 1)
    other.wait_ready()
    with pytest.raises(ShopUnusable, match="is open at a terminal"):
        restore(tmp_path / "kept.zip", folder, NOW)
    other.kill()
    other.finish()
    assert restore(tmp_path / "kept.zip", folder, NOW).seq == 6


def test_what_stood_there_is_kept_aside_whole(folder, tmp_path):
    store = _shop(folder)
    backup(folder, tmp_path / "kept.zip", NOW)
    store.commit("ana", take_in("later"))
    before = picture(store.state)
    store.close()
    Pins(folder).set("ana", "4711")
    told = restore(tmp_path / "kept.zip", folder, NOW)
    assert told.aside.endswith("shop.before-2026-11-25-203000")
    assert picture(open_shop(tmp_path / "shop.before-2026-11-25-203000").state) == before
    assert open_shop(folder).state.seq == 6
    Pins(folder).check("ana", "4711", NOW)
    open_shop(folder).close()


def test_a_folder_that_is_no_shop_is_left_alone(folder, tmp_path):
    _shop(folder).close()
    backup(folder, tmp_path / "kept.zip", NOW)
    (tmp_path / "photos").mkdir()
    (tmp_path / "photos" / "one.jpg").write_text("")
    with pytest.raises(ShopUnusable, match="is there already and is no shop"):
        restore(tmp_path / "kept.zip", tmp_path / "photos", NOW)
    assert (tmp_path / "photos" / "one.jpg").exists()


def test_nobody_opens_a_shop_that_is_being_restored(folder):
    from shopboard.store import presence

    _shop(folder).close()
    with presence.alone(folder), pytest.raises(ShopUnusable, match="is being restored"):
        open_shop(folder)
    open_shop(folder).close()


def _flips(folder, tmp_path, every):
    store = _shop(folder)
    right = picture(store.state)
    store.close()
    backup(folder, tmp_path / "kept.zip", NOW)
    data = (tmp_path / "kept.zip").read_bytes()
    refused = 0
    for bit in range(0, len(data) * 8, every):
        hurt = bytearray(data)
        hurt[bit // 8] ^= 1 << bit % 8
        (tmp_path / "hurt.zip").write_bytes(hurt)
        there = tmp_path / "there"
        try:
            restore(tmp_path / "hurt.zip", there, NOW)
        except ShopUnusable as error:
            assert "\n" not in str(error) and "take another backup" in str(error)
            assert not there.exists() and not list(tmp_path.glob(".*restoring"))
            refused += 1
            continue
        kept = open_shop(there)
        assert picture(kept.state) == right, "a flipped bit was let pass"
        kept.close()
        shutil.rmtree(there)
    return refused


def test_a_damaged_backup_is_refused_or_the_damage_proved_harmless(folder, tmp_path):
    assert _flips(folder, tmp_path, every=997) > 30


@pytest.mark.long
def test_every_byte_of_a_backup_damaged(folder, tmp_path):
    _flips(folder, tmp_path, every=9)


@pytest.mark.parametrize("share", [0.0, 0.3, 0.9, 0.999])
def test_a_backup_cut_short_is_refused(folder, tmp_path, share):
    _shop(folder).close()
    backup(folder, tmp_path / "kept.zip", NOW)
    data = (tmp_path / "kept.zip").read_bytes()
    (tmp_path / "kept.zip").write_bytes(data[: int(len(data) * share)])
    with pytest.raises(ShopUnusable, match="is damaged or no backup"):
        restore(tmp_path / "kept.zip", tmp_path / "there", NOW)


def _rewritten(path, change):
    """The archive with its manifest changed, as somebody who means harm would."""
    with zipfile.ZipFile(path) as archive:
        files = {info.filename: archive.read(info) for info in archive.infolist()}
    manifest = json.loads(files["manifest.json"])
    change(manifest, files)
    files["manifest.json"] = json.dumps(manifest).encode()
    with zipfile.ZipFile(path, "w") as archive:
        for name, data in files.items():
            archive.writestr(name, data)


def _outside(manifest, files):
    manifest["files"]["../evil.txt"] = manifest["files"].pop("models.toml")
    files["../evil.txt"] = files.pop("models.toml")


def _future(manifest, files):
    manifest["records"] = 99


def _wrong_end(manifest, files):
    manifest["seq"] = 3


def _another_kind(manifest, files):
    manifest["kind"] = "something"


def _missing(manifest, files):
    del files["db/open.json"]


@pytest.mark.parametrize(
    ("change", "says"),
    [
        (_outside, "names a file outside the shop"),
        (_future, "written by a newer shopboard"),
        (_wrong_end, "does not end at change 3"),
        (_another_kind, "is of another kind"),
        (_missing, "holds other files"),
    ],
)
def test_a_backup_that_says_what_is_not_so_is_refused(folder, tmp_path, change, says):
    _shop(folder).close()
    backup(folder, tmp_path / "kept.zip", NOW)
    _rewritten(tmp_path / "kept.zip", change)
    with pytest.raises(ShopUnusable, match=says):
        restore(tmp_path / "kept.zip", tmp_path / "there", NOW)
    assert not (tmp_path / "evil.txt").exists() and not (tmp_path / "there").exists()


def test_what_is_no_archive_is_one_line(folder, tmp_path):
    for name in ("nothing", "text"):
        if name == "text":
            (tmp_path / name).write_text("hello")
        with pytest.raises(ShopUnusable):
            restore(tmp_path / name, tmp_path / "there", NOW)
    with pytest.raises(ShopUnusable, match="cannot be read"):
        restore(tmp_path, tmp_path / "there", NOW)


def test_killed_while_restoring_leaves_what_was_there(folder, tmp_path):
    """Killed at each file written: the shop that stood there is there, or all of it aside and the new one in place."""
    store = _shop(folder)
    backup(folder, tmp_path / "kept.zip", NOW)
    store.commit("ana", take_in("later"))
    store.close()
    script = (
        "import sys, os, signal\n"
        "from pathlib import Path\nfrom datetime import datetime, UTC\n"
        "from shopboard.store import disk\nfrom shopboard.store.restore import restore\n"
        "left = [int(sys.argv[3])]\n"
        "def hook(step):\n"
        "    left[0] -= step == 'replaced'\n"
        "    if not left[0]: os.kill(os.getpid(), signal.SIGKILL)\n"
        "disk.hook = hook\n"
        "restore(Path(sys.argv[1]), Path(sys.argv[2]), datetime.now(UTC))\n"
    )
    for at in (1, 3, 5):
        command = [sys.executable, "-c", script, str(tmp_path / "kept.zip"), str(folder), str(at)]
        assert subprocess.run(command, env=os.environ, capture_output=True).returncode == -9
        there = open_shop(folder)
        assert there.state.seq == 7
        there.close()
    told = restore(tmp_path / "kept.zip", folder, NOW)
    assert told.seq == 6 and open_shop(folder).state.seq == 6
    assert not list(tmp_path.glob(".*restoring"))


@pytest.mark.parametrize("number", [errno.ENOSPC, errno.EIO])
def test_a_full_or_broken_disk_leaves_no_half_backup_and_no_half_shop(folder, tmp_path, monkeypatch, number):
    store = _shop(folder)
    before = picture(store.state)
    store.close()
    backup(folder, tmp_path / "kept.zip", NOW)
    at = 0
    while True:
        at += 1
        left = [at]

        def fails(fd, real=disk.sync_file, left=left):
            left[0] -= 1
            if left[0] == 0:
                raise disk.SyncFailed(number, os.strerror(number))
            real(fd)

        with monkeypatch.context() as patch:
            patch.setattr(disk, "sync_file", fails)
            try:
                backup(folder, tmp_path / f"more-{at}.zip", NOW)
                restore(tmp_path / "kept.zip", tmp_path / "there", NOW)
            except CommitFailed as error:
                assert "\n" not in str(error) and error.would_do
            else:
                break
        assert not list(tmp_path.glob(".*")), "something half made was left"
        if (tmp_path / "there").exists():  # only the sync of the folder's list of names failed
            assert picture(open_shop(tmp_path / "there").state) == before
            shutil.rmtree(tmp_path / "there")
    assert at > 10
