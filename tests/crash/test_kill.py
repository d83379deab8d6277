"""kill -9 at any moment: everything acknowledged is there, nothing is half there, and the shop opens."""

from __future__ import annotations

import pytest
from aids import crash_worker
from aids.crash_harness import check, kill_rounds, replayed, start
from aids.store_steps import picture, take_in

from shopboard.store import disk, new_shop, open_shop

#: Every step that commit, checkpoint and mending name; the tests below prove that this list is what is really passed.
COMMIT = ["locked", "caught up", "before append", "written", "synced", "applied", "unlocked"]
CHECKPOINT = [
    "checkpoint begun",
    "temp written",
    "temp synced",
    "replaced",
    "months filed",
    "index written",
    "open written",
    "segment begun",
    "packed",
    "plain removed",
]


def _passed(folder, monkeypatch):
    passed = []
    store = open_shop(folder)
    monkeypatch.setattr(disk, "hook", passed.append)
    crash_worker.fixed_round(store, lambda change, word: None)
    monkeypatch.setattr(disk, "hook", None)
    return passed


def test_the_steps_named_here_are_those_passed(folder, monkeypatch):
    assert set(_passed(folder, monkeypatch)) == {*COMMIT, *CHECKPOINT}


@pytest.mark.parametrize("step", [*COMMIT, *CHECKPOINT, "half written"])
def test_killed_at_each_step(step, tmp_path):
    """Killed the first time a step is passed, the second time, and so on, until the round ends unharmed."""
    times = 0
    while True:
        times += 1
        here = tmp_path / f"{step}-{times}"
        new_shop(here)
        child = start(crash_worker.run_to_step, here, step, times, step == "half written")
        code = child.finish()
        store = check(here, [ack for ack in child.acks if ack[0]])
        replayed(here, store)
        before = picture(store.state)
        store.commit("bo", take_in("after"))
        store.close()
        check(here, []).close()
        if code == 0:
            assert child.acks[-1] == (0, "done") and before["seq"] == 9
            break
        assert code == -9
    assert times > 2


def test_killed_while_mending_a_torn_line(folder):
    store = open_shop(folder)
    change = store.commit("ana", take_in("one"))
    torn = b'{"c":"12345678","s":2,"at":'
    path = folder / "journal" / "000000000001.jsonl"
    for step in ("temp written", "temp synced", "replaced", "torn kept"):
        with path.open("ab") as file:
            file.write(torn)
        child = start(crash_worker.run_to_step, folder, step, 1, False)
        assert child.finish() == -9
        kept = check(folder, [(change.seq, "one")])
        assert kept.state.seq == 1 and len(kept.notices()) == 1
        assert all(file.read_bytes() == torn for file in path.parent.glob("torn-*.bin"))
    assert len(list(path.parent.glob("torn-*.bin"))) >= 4


def test_kill_at_random_moments(folder):
    result = kill_rounds(folder, 40, 1, crash_worker.run)
    assert result.steps.total() == 40 and len(result.acks) > 80


@pytest.fixture
def on_disk(tmp_path_factory):
    """A shop on the disk, where a sync takes its time and kills fall into it."""
    folder = tmp_path_factory.mktemp("kill") / "shop"
    new_shop(folder)
    return folder


@pytest.mark.long
def test_kill_at_random_moments_many_times(on_disk):
    result = kill_rounds(on_disk, 300, 2, crash_worker.run)
    print(f"{len(result.acks)} acknowledged, {result.inside():.0%} of kills inside a write: {result.steps}")
    assert result.steps.total() == 300 and len(result.acks) > 900
    assert result.inside() >= 0.2


@pytest.mark.long
def test_kill_three_writers_at_random_moments(on_disk):
    result = kill_rounds(on_disk, 100, 3, crash_worker.run, writers=3)
    print(f"{len(result.acks)} acknowledged, {result.inside():.0%} of kills inside a write: {result.steps}")
    assert result.steps.total() == 300 and len(result.acks) > 300


def test_a_store_that_acknowledges_too_early_fails_this_harness(folder):
    """The test of the test: it dies between its early word and the append."""
    child = start(crash_worker.run_hasty_to_append, folder, 3)
    assert child.finish() == -9
    assert [seq for seq, _ in child.acks] == [1, 2, 3]
    with pytest.raises(AssertionError, match="acknowledged change 3 is lost"):
        check(folder, child.acks)


@pytest.mark.long
def test_a_store_that_acknowledges_too_early_fails_random_kills_too(folder):
    with pytest.raises(AssertionError, match="is lost"):
        kill_rounds(folder, 500, 4, crash_worker.run_hasty)
