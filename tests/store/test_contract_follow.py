"""What every engine promises of following: others' changes come soon, each once, in order, also beside own commits."""

from __future__ import annotations

import time

from aids.store_steps import count_up, picture, take_in


def _seen(store, wanted, seconds=15.0):
    until, found = time.monotonic() + seconds, []
    while len(found) < wanted:
        assert time.monotonic() < until, f"{len(found)} of {wanted}"
        found += store.refresh()
        time.sleep(0.002)
    return found


def test_what_others_commit_is_seen_soon_each_once_and_in_order(shop):
    writer, reader = shop.open(), shop.open()
    reader.follow()
    made = [writer.commit("ana", take_in(str(n))) for n in range(20)]
    assert _seen(reader, 20) == made
    assert reader.refresh() == () and picture(reader.state) == picture(writer.state)


def test_ones_own_commits_are_never_told_as_news(shop):
    mine, other = shop.open(), shop.open()
    mine.follow()
    other.follow()
    mine.commit("ana", take_in())
    theirs = []
    for n in range(30):
        mine.commit("ana", count_up(1))
        if n % 3 == 0:
            theirs.append(other.commit("bo", count_up(1)))
    assert _seen(mine, 10) == theirs
    time.sleep(0.1)
    assert mine.refresh() == ()
    assert mine.state.customers[1].note == "40"


def test_following_twice_is_harmless_and_ends_with_the_store(shop):
    store, other = shop.open(), shop.open()
    store.follow()
    store.follow()
    store.close()
    other.commit("ana", take_in())
    assert store.refresh() == () or len(store.state.jobs) == 1
