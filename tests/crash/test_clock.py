"""A clock that goes backwards, stands still or leaps: numbers keep the order, whatever the clock says."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

from aids.crash_harness import check, replayed
from aids.store_steps import collect, picture, remark, take_in

from shopboard.store import open_shop
from shopboard.store.story import Wanted, story

NOON = datetime(2026, 10, 25, 12, 0, tzinfo=UTC)


class SetClock:
    """A clock that somebody sets."""

    def __init__(self) -> None:
        self.at = NOON

    def __call__(self) -> datetime:
        return self.at


def test_a_clock_set_back_years_loses_nothing_and_mixes_nothing_up(folder):
    clock = SetClock()
    store = open_shop(folder, clock=clock)
    for back in (0, -1, -3600, -86400 * 365 * 30, 5, -86400 * 40, 0):
        clock.at = NOON + timedelta(seconds=back)
        store.commit("ana", take_in(f"at {back}"))
        if back == -3600:
            store.commit("ana", collect(1))
            store.checkpoint()
    clock.at = NOON - timedelta(days=365)
    store.commit("ana", collect(2))
    store.commit("bo", remark(1, "rang"))
    store.checkpoint()
    store.undo("bo")
    before = picture(store.state)
    store.close()
    again = check(folder, [])
    replayed(folder, again)
    assert picture(again.state) == before
    assert [told.seq for told in story(again, Wanted()) if told] == list(range(before["seq"], 0, -1))
    assert again.commit("ana", take_in("after")).seq == before["seq"] + 1


def test_two_terminals_whose_clocks_differ_by_a_day_keep_one_order(folder):
    ahead, behind = SetClock(), SetClock()
    behind.at = NOON - timedelta(days=1)
    a, b = open_shop(folder, clock=ahead), open_shop(folder, clock=behind)
    for number in range(10):
        (a, b)[number % 2].commit("ana", take_in(f"{number}"))
    a.refresh()
    b.refresh()
    assert picture(a.state) == picture(b.state)
    assert [job.complaint for job in a.state.jobs.values()] == [f"{n}" for n in range(10)]
    # The second undoes its own last one although the other terminal's changes carry a later hour
    assert b.undo("ana").undoes == 10


def test_a_file_time_that_does_not_move_hides_no_change(folder):
    """Where the clock stands still the journal's time does too: its length tells."""
    import os

    a, b = open_shop(folder), open_shop(folder)
    path = a._follower.path
    for number in range(5):
        a.commit("ana", take_in(f"{number}"))
        os.utime(path, ns=(10**18, 10**18))
        assert [change.seq for change in b.refresh()] == [number + 1]
