"""The whole history searched: all segments, packed or not, newest first, against a plain filter of all changes."""

from __future__ import annotations

import time
from datetime import timedelta

import pytest
from aids import big_shop
from aids.store_steps import START, collect, remark, take_in, ticking

from shopboard.store import ShopUnusable, checkpoint, open_shop
from shopboard.store.story import Wanted, outside, story


@pytest.fixture
def store(folder, monkeypatch):
    """Thirty changes over several sealed segments and the open one."""
    monkeypatch.setattr(checkpoint, "CHANGES", 7)
    store = open_shop(folder, clock=ticking())
    for number in range(15):
        store.commit("ana" if number % 3 else "bo", take_in(f"machine {number} [ÄÖ]"))
        job = number + 1
        if number % 4 == 0:
            store.commit("bo", collect(job))
        else:
            store.commit("cy", remark(job, f"rang about {number}"))
    store.undo("cy")
    return store


def _told(store, wanted):
    return [told for told in story(store, wanted) if told is not None]


@pytest.mark.parametrize(
    "wanted",
    [
        Wanted(),
        Wanted(by="cy"),
        Wanted(job=5),
        Wanted(words=("noted", "t-0003")),
        Wanted(words=("collected",), by="bo"),
        Wanted(since=START + timedelta(minutes=9)),
        Wanted(since=START + timedelta(minutes=4), until=START + timedelta(minutes=9), by="ana"),
        Wanted(words=("nowhere",)),
    ],
)
def test_it_finds_what_a_plain_filter_of_every_change_finds(store, wanted):
    every = [outside(change) for change in store.changes(wanted.job)]
    plain = [
        told
        for told in every
        if (not wanted.by or told.by == wanted.by)
        and all(word in told.why.lower() for word in wanted.words)
        and (wanted.since is None or told.at >= wanted.since)
        and (wanted.until is None or told.at < wanted.until)
    ]
    assert _told(store, wanted) == plain[::-1]
    assert len(list((store.journal_folder).glob("*.gz"))) >= 3
    if wanted == Wanted():
        assert [told.seq for told in plain] == list(range(1, 32)) and plain[-1].undoes is not None


def test_a_checkpoint_in_the_middle_of_the_search_loses_nothing(store):
    walk = story(store, Wanted())
    first = [next(walk) for _ in range(2)]
    store.checkpoint()
    rest = [told for told in walk if told is not None]
    assert [told.seq for told in [*first, *rest]] == list(range(31, 0, -1))


def test_a_damaged_segment_is_one_line_after_what_could_be_read(store):
    hurt = sorted(store.journal_folder.glob("*.gz"))[0]
    hurt.write_bytes(hurt.read_bytes()[:-8])
    seen = []
    with pytest.raises(ShopUnusable, match="cannot be unpacked"):
        for told in story(store, Wanted()):
            seen += [told] if told else []
    assert seen and seen[0].seq == 31 and "\n" not in seen[0].why


@pytest.mark.long
def test_ten_years_are_searched_in_seconds_and_in_pieces_no_key_waits_for(folder):
    big_shop.make(folder / "big", 10_000)
    store = open_shop(folder / "big")
    job = min(store.state.jobs)
    for number in range(6_000):
        store.commit("ana", lambda state, now, n=number: _say(state, job, n))
    slowest, began = 0.0, time.perf_counter()
    walk = story(store, Wanted(words=("number", "17")))
    found = []
    while True:
        at = time.perf_counter()
        told = next(walk, "end")
        slowest = max(slowest, time.perf_counter() - at)
        if told == "end":
            break
        found += [told] if told else []
    assert len(found) == sum("17" in str(n) for n in range(6_000))
    print(f"{store.state.seq} changes in {time.perf_counter() - began:.2f} s, longest piece {slowest * 1e3:.0f} ms")


def _say(state, job, number):
    from shopboard.records import Step

    return Step(f"number {number}", (state.jobs[job],), subject=job)
