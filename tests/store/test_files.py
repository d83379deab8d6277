"""What lies in a shop's folder: databases that plain TinyDB opens, months, sealed segments, rights."""

from __future__ import annotations

import gzip
import json
import os
import stat
import sys
from datetime import timedelta

import msgspec
import pytest
from aids.store_steps import START, collect, need, picture, take_in
from tinydb import TinyDB, where

from shopboard.records import FORMAT, Put, Table
from shopboard.store import AtomicStorage, ShopUnusable, checkpoint, new_shop, open_shop
from shopboard.store.journal import line_of, scan
from shopboard.store.tiny_files import checksum_fault


@pytest.fixture
def filled(folder):
    """A shop with three jobs, two of them closed in different months, put at rest twice."""
    day = [START]
    store = open_shop(folder, clock=lambda: day[0])
    for word in ("one", "two [left]", "three"):
        store.commit("ana", take_in(word))
    store.commit("ana", need(1, "S-1"))
    store.commit("ana", need(2, "S-2"))
    store.commit("ana", collect(1))
    store.checkpoint()
    day[0] = START + timedelta(days=3)
    store.commit("ana", collect(3))
    store.close()
    return folder


def test_plain_tinydb_opens_every_file(filled):
    with TinyDB(filled / "db" / "open.json", access_mode="r") as db:
        assert db.tables() == {"customers", "machines", "jobs", "parts", "closures", "stock", "returns", "meta"}
        (job,) = db.table("jobs").all()
        assert job.doc_id == 2 and job["complaint"] == "two [left]"
        assert db.table("jobs").get(doc_id=2) == job
        assert [line.doc_id for line in db.table("parts").search(where("number") == "S-2")] == [2]
        meta = db.table("meta").get(doc_id=1)
        assert (meta["seq"], meta["format"], meta["next_ids"]["jobs"]) == (7, FORMAT, 4)
    with TinyDB(filled / "db" / "closed-2026-03.json", access_mode="r") as db:
        assert [job.doc_id for job in db.table("jobs")] == [1]
        assert [line.doc_id for line in db.table("parts")] == [1]
        assert db.table("meta").get(doc_id=1)["seq"] == 6
    with TinyDB(filled / "db" / "closed-2026-04.json", access_mode="r") as db:
        assert [job.doc_id for job in db.table("jobs")] == [3]
    with TinyDB(filled / "db" / "index.json", access_mode="r") as db:
        assert [(one.doc_id, one["complaint"]) for one in db.table("closed")] == [(1, "one"), (3, "three")]


def test_the_storage_serves_tinydb_and_is_replaced_whole(tmp_path):
    path = tmp_path / "any.json"
    with TinyDB(path, storage=AtomicStorage) as db:
        assert db.all() == []
        db.insert({"part": "S-1", "left": 3})
        db.table("bins").insert_multiple([{"bin": "A"}, {"bin": "B"}])
        db.update({"left": 2}, where("part") == "S-1")
        before = path.stat().st_ino
        db.table("bins").remove(where("bin") == "A")
        assert path.stat().st_ino != before
    with TinyDB(path) as plain:
        assert plain.all() == [{"part": "S-1", "left": 2}]
        assert [dict(one) for one in plain.table("bins")] == [{"bin": "B"}]
    assert [one.name for one in tmp_path.iterdir()] == ["any.json"]


def test_a_line_of_the_journal_is_as_documented(filled):
    sealed = gzip.decompress((filled / "journal" / "000000000001.jsonl.gz").read_bytes())
    lines = [json.loads(line) for line in sealed.splitlines()]
    assert [line["s"] for line in lines] == [1, 2, 3, 4, 5, 6]
    assert list(lines[3]) == ["c", "s", "at", "by", "why", "ops", "subject", "v"]
    kind, table, id, record = lines[3]["ops"][0]
    assert (kind, table, id, record["number"]) == ("put", "parts", 1, "S-1")
    assert scan(sealed, 1).changes == list(open_shop(filled).changes())[:6]


def test_sealed_segments_stay_and_name_their_first_change(filled):
    names = sorted(path.name for path in (filled / "journal").iterdir())
    assert names == ["000000000001.jsonl.gz", "000000000007.jsonl"]
    store = open_shop(filled)
    store.checkpoint()
    store.checkpoint()
    names = sorted(path.name for path in (filled / "journal").iterdir())
    assert names == ["000000000001.jsonl.gz", "000000000007.jsonl.gz", "000000000008.jsonl"]
    assert len(list(store.changes())) == 7


def test_a_checkpoint_comes_by_itself_at_so_many_changes_or_bytes(folder, monkeypatch):
    monkeypatch.setattr(checkpoint, "CHANGES", 4)
    store = open_shop(folder)
    for _ in range(9):
        store.commit("ana", take_in())
    assert sorted(path.name for path in (folder / "journal").iterdir()) == [
        "000000000001.jsonl.gz",
        "000000000005.jsonl.gz",
        "000000000009.jsonl",
    ]
    monkeypatch.setattr(checkpoint, "BYTES", 10_000)
    store.commit("ana", take_in("x" * 4_000))
    assert (folder / "journal" / "000000000011.jsonl").exists()
    assert picture(open_shop(folder).state) == picture(store.state)


@pytest.mark.skipif(sys.platform == "win32", reason="Windows keeps rights otherwise")
def test_only_the_owner_may_look(filled):
    def rights(path):
        return stat.S_IMODE(path.stat().st_mode)

    paths = [filled, *filled.rglob("*")]
    assert {rights(path) for path in paths if path.is_dir()} == {0o700}
    assert {rights(path) for path in paths if path.is_file()} == {0o600}


def test_the_lock_stays_and_a_deleted_one_is_made_again(filled):
    lock = filled / "lock"
    assert lock.exists()
    store, other = open_shop(filled), open_shop(filled)
    lock.unlink()
    store.commit("ana", take_in())
    other.commit("bo", take_in())
    assert lock.exists() and other.state.seq == store.state.seq + 1 == 9


def test_spare_files_of_a_killed_process_are_swept_at_the_next_opening(filled):
    spare = filled / "db" / ".open.json.99999.tmp"
    spare.write_bytes(b"{")
    open_shop(filled)
    assert not spare.exists()


def test_a_database_changed_by_another_program_is_noticed(filled):
    path = filled / "db" / "open.json"
    assert checksum_fault(path.read_bytes()) == ""
    assert checksum_fault(path.read_bytes().replace(b"two", b"ten")) == "does not match its checksum"
    with TinyDB(path) as db:
        db.table("jobs").update({"complaint": "by hand"})
    assert checksum_fault(path.read_bytes()) == "carries no checksum"
    assert open_shop(filled).state.jobs[2].complaint == "by hand"


def test_data_from_a_newer_program_is_refused_by_name(filled):
    path = filled / "db" / "open.json"
    good = path.read_bytes()
    path.write_bytes(good.replace(b'"format":%d' % FORMAT, b'"format":7').replace(b'"complaint"', b'"said_by_them"'))
    with pytest.raises(ShopUnusable, match=r"db/open\.json was written by a newer shopboard \(format 7"):
        open_shop(filled)
    path.write_bytes(good)
    store = open_shop(filled)
    change = store.commit("ana", take_in())
    journal = filled / "journal" / "000000000007.jsonl"
    old = journal.read_bytes().splitlines(keepends=True)[0]
    newer = msgspec.structs.replace(change, format=FORMAT + 1, ops=(Put(Table.JOBS, 4, {"shape": "new"}),))
    journal.write_bytes(old + line_of(newer))
    with pytest.raises(ShopUnusable, match=rf"newer shopboard \(format {FORMAT + 1}"):
        open_shop(filled)


def test_a_shop_made_by_hand_gets_its_database_at_the_first_opening(tmp_path):
    (tmp_path / "shop.toml").write_text('name = "By hand"')
    store = open_shop(tmp_path)
    assert store.state.settings.name == "By hand" and store.state.seq == 0
    assert store.commit("ana", take_in()).seq == 1
    store.close()
    assert open_shop(tmp_path).state.seq == 1


def test_new_shop_is_all_or_nothing(tmp_path, monkeypatch):
    new_shop(tmp_path / "deep" / "er" / "shop")
    assert open_shop(tmp_path / "deep" / "er" / "shop").state.seq == 0
    with pytest.raises(ShopUnusable, match="is there already and not empty"):
        new_shop(tmp_path / "deep" / "er" / "shop")
    (tmp_path / "empty").mkdir()
    new_shop(tmp_path / "empty")
    assert (tmp_path / "empty" / "shop.toml").exists()
    with monkeypatch.context() as broken:
        broken.setattr(os, "fsync", _full)
        with pytest.raises(ShopUnusable, match="cannot be made"):
            new_shop(tmp_path / "full")
    assert not (tmp_path / "full").exists()
    assert sorted(path.name for path in tmp_path.iterdir()) == ["deep", "empty"]


def _full(fd):
    raise OSError(28, "No space left on device")
