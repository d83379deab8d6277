"""A shop whose closed jobs are read only when somebody asks for them is the same shop."""

from __future__ import annotations

import contextlib
import shutil
from collections.abc import Callable
from datetime import timedelta
from pathlib import Path
from random import Random

import pytest
from aids.store_steps import START, collect, picture, remark, take_in, ticking

from shopboard.records import Refused, ShopState
from shopboard.store import CommitFailed, FolderStore, new_shop, open_shop, verify


def _is_read(state: ShopState) -> bool:
    return "closed" in vars(state)


def _play(store: FolderStore, draw: Random, steps: int) -> None:
    """Jobs come, close in several months, are remarked on when closed, and come back by undo."""
    for _ in range(steps):
        id = draw.randint(1, max(1, store.state.next_ids.get("jobs", 1) - 1))
        acts: list[Callable[[], object]] = [
            lambda: store.commit("ana", take_in()),
            lambda id=id: store.commit("ana", collect(id)),
            lambda id=id: store.commit("ana", remark(id, "rang")),
            lambda: store.undo("ana"),
        ]
        try:
            draw.choices(acts, (4, 4, 1, 1))[0]()
        except Refused:
            continue


def _shop(folder: Path, draw: Random, at_rest: int, after: int) -> Path:
    """A shop with something at rest, and something only in the journal."""
    new_shop(folder)
    (folder / "shop.toml").write_text('name = "Test shop"', encoding="utf-8")  # nobody named: anyone may sign
    model = '[[model]]\nid = "field-20"\nname = "Field"\nlayout = "in-line"\n'
    (folder / "models.toml").write_text(model, encoding="utf-8")
    store = open_shop(folder, clock=ticking(START, timedelta(days=4)))
    _play(store, draw, at_rest)
    store.checkpoint()
    for _ in range(6 if after else 0):  # also what is at rest comes back
        with contextlib.suppress(Refused):
            store.undo("ana")
    _play(store, draw, after)
    return folder


@pytest.fixture
def shop(tmp_path: Path) -> Path:
    """Only a folder has an index to leave for later."""
    return tmp_path / "shop"


@pytest.mark.parametrize("seed", range(12))
def test_it_is_the_same_shop(shop: Path, seed: int, tmp_path: Path) -> None:
    draw = Random(seed)
    folder = _shop(shop, draw, 40, draw.choice([0, 3, 25]))
    for name in ("at-once", "later"):
        shutil.copytree(folder, tmp_path / name)
    at_once, later = open_shop(tmp_path / "at-once"), open_shop(tmp_path / "later", closed_later=True)
    assert not _is_read(later.state) and _is_read(at_once.state)
    assert later._unfiled.jobs == at_once._unfiled.jobs
    # what both are put at rest by, with and without anybody having looked
    if seed % 2:
        assert picture(later.state) == picture(at_once.state)
        assert list(later.state.closed) == list(at_once.state.closed)
    for store in (at_once, later):
        store.commit("ana", take_in("last"))
        store.close()
    assert verify(tmp_path / "later") == ()
    again = [picture(open_shop(tmp_path / name).state) for name in ("at-once", "later")]
    for one in again:  # their clocks are not the same
        one["jobs"], one["customers"] = len(one["jobs"]), len(one["customers"])
    assert again[0] == again[1]


@pytest.mark.parametrize("seed", range(6))
def test_what_other_terminals_did_before_the_first_look_counts(shop: Path, seed: int) -> None:
    draw = Random(100 + seed)
    folder = _shop(shop, draw, 40, 10)
    later, other = open_shop(folder, closed_later=True), open_shop(folder, clock=ticking(START + timedelta(days=900)))
    _play(other, draw, 30)
    other.checkpoint()
    _play(other, draw, 5)
    if seed % 2:
        assert (
            later.state.closed.keys() <= other.state.closed.keys() | later.state.jobs.keys() | later.state.closed.keys()
        )
    later.refresh()
    assert picture(later.state) == picture(other.state)


def test_nobody_reads_it_for_open_jobs(shop: Path) -> None:
    folder = _shop(shop, Random(1), 40, 0)
    later = open_shop(folder, closed_later=True)
    assert later.state.jobs and [*later.state.parts_of(1)] == [] and later.refresh() == ()
    later.close()
    assert not _is_read(later.state) and verify(folder) == ()


@pytest.mark.parametrize("damage", ["gone", "cut", "old", "inside"])
def test_a_damaged_index_is_made_again_at_the_first_look(shop: Path, damage: str) -> None:
    folder = _shop(shop, Random(2), 40, 0)
    wanted = picture(open_shop(folder).state)
    index = folder / "db" / "index.json"
    data = index.read_bytes()
    if damage == "gone":
        index.unlink()
    else:
        changed = {
            "cut": data[:-9],
            "old": data.replace(b'"seq":', b'"sed":'),
            "inside": data.replace(b"arrived", b"arrivee", 1),
        }
        assert changed[damage] != data
        index.write_bytes(changed[damage])
    later = open_shop(folder, closed_later=True)
    assert picture(later.state) == wanted
    assert any("index.json" in notice for notice in later.notices())
    later.commit("ana", take_in())
    later.close()
    assert open_shop(folder).notices() == ()


def test_where_nothing_can_be_read_any_more_the_open_jobs_can_still_be_seen(shop: Path) -> None:
    folder = _shop(shop, Random(3), 40, 0)
    later = open_shop(folder, closed_later=True)
    (folder / "db" / "index.json").write_bytes(b"{}")
    for month in (folder / "db").glob("closed-*.json"):
        month.write_bytes(b"{}")
    before = {path: path.read_bytes() for path in sorted((folder / "db").iterdir())}
    jobs = dict(later.state.jobs)
    assert later.state.closed == {} and later.state.jobs == jobs
    assert "closed-" in later.read_only
    with pytest.raises(CommitFailed, match="nothing can be saved here"):
        later.commit("ana", take_in())
    later.close()
    assert {path: path.read_bytes() for path in sorted((folder / "db").iterdir())} == before
