"""kill -9 of the primary while terminals write, the standby promoted, and they go on.

Every acknowledgement is kept here, outside the servers: none may be missing from the new primary, none doubled.
"""

from __future__ import annotations

import time

import pytest
from aids.failing_over import Pair, make_pair, start_terminals
from aids.postgres import place
from aids.store_steps import take_in

from shopboard.store import ShopUnusable, new_shop, open_shop, place_of
from shopboard.store.chain_files import admit


@pytest.fixture
def servers():
    made = []
    with place() as folder:

        def make(*, synchronous: bool) -> Pair:
            made.append(make_pair(folder, synchronous=synchronous))
            new_shop(place_of(made[0].address))
            return made[0]

        try:
            yield make
        finally:
            for pair in made:
                pair.stop()


def collect(terminals, condition, seconds=240):
    until = time.monotonic() + seconds
    while not condition():
        assert time.monotonic() < until, [len(t.acks) for t in terminals]
        for terminal in terminals:
            terminal.take()
        time.sleep(0.002)


def acknowledged(terminals):
    return [word for terminal in terminals for word in terminal.acks]


def compare(pair: Pair, terminals) -> tuple[list[str], list[str]]:
    """What was acknowledged and is not on the new primary, and what is there more than once."""
    there = pair.words(pair.standby)
    return [word for word in acknowledged(terminals) if not there[word]], [w for w, n in there.items() if n > 1]


def fail_over(pair: Pair, before: int, after: int, number: int = 4, *, lag: bool = False):
    """Let terminals write until `before` acknowledgements, kill the primary in the midst of it, promote the standby,
    let each go on until it has `after`. With `lag` the standby takes nothing in for the last while."""
    terminals = start_terminals(pair.address, number, after)
    if lag:
        collect(terminals, lambda: len(acknowledged(terminals)) >= before // 2)
        pair.lag()
    collect(terminals, lambda: len(acknowledged(terminals)) >= before)
    assert all(not t.done for t in terminals)
    pair.primary.kill()
    killed_at = time.monotonic()
    pair.promote()
    for terminal in terminals:
        terminal.take()
    at_kill = len(acknowledged(terminals))
    collect(terminals, lambda: len(acknowledged(terminals)) > at_kill)
    went_on = time.monotonic() - killed_at
    collect(terminals, lambda: all(t.done for t in terminals))
    for terminal in terminals:
        terminal.process.join(30)
    return terminals, went_on


def proved(pair: Pair, terminals) -> None:
    """The journal on the new primary is whole, and a terminal that opens it sees what it holds."""
    words = pair.words(pair.standby)
    store = open_shop(place_of(pair.standby.address("shops", "main")))
    assert [c.seq for c in store.changes()] == list(range(1, words.total() + 1))
    assert {customer.name for customer in store.state.customers.values()} == words.keys()
    store.close()


def test_nothing_acknowledged_is_lost_and_nothing_doubled(servers):
    pair = servers(synchronous=True)
    terminals, went_on = fail_over(pair, before=300, after=150)
    lost, doubled = compare(pair, terminals)
    assert len(acknowledged(terminals)) == 600
    assert (lost, doubled) == ([], [])
    assert sum(t.asked_again for t in terminals) >= 1, "no commit was in flight"
    proved(pair, terminals)
    print(f"went on after {went_on:.1f} s")


def test_without_synchronous_replication_and_with_a_lag_it_reports_losses(servers):
    """The test of the test."""
    pair = servers(synchronous=False)
    terminals, _ = fail_over(pair, before=300, after=150, lag=True)
    lost, doubled = compare(pair, terminals)
    assert lost, "the standby cannot have had what it was kept from taking in"
    assert not doubled
    proved(pair, terminals)


def test_a_wall_screen_reads_from_the_standby(servers):
    """It sees what is committed on the primary, without hints; nobody writes there."""
    pair = servers(synchronous=True)
    pair.primary.execute("create role screen login")
    admit(place_of(pair.address), "screen", "wall")
    writer = open_shop(place_of(pair.address))
    writer.commit("me", take_in("one"))
    reads = f"postgresql://screen@127.0.0.1:{pair.standby.port}/shops?branch=main&target_session_attrs=any"
    until = time.monotonic() + 20
    screen = None
    while screen is None:  # until the standby has replayed what lets it in
        try:
            screen = open_shop(place_of(reads))
        except ShopUnusable:
            assert time.monotonic() < until
    screen.follow()
    change = writer.commit("me", take_in("two"))
    while screen.state.seq < change.seq:
        assert time.monotonic() < until, screen.read_only
        screen.refresh()
        time.sleep(0.05)
    assert screen.read_only == "this login may only look"
    for store in (screen, writer):
        store.close()


@pytest.mark.long
def test_thousands_of_changes_over_a_failover(servers):
    pair = servers(synchronous=True)
    terminals, went_on = fail_over(pair, before=3_500, after=1_500)
    lost, doubled = compare(pair, terminals)
    told = acknowledged(terminals)
    in_flight = sum(t.asked_again for t in terminals)
    print(f"{len(told)} acknowledged, {in_flight} in flight at the kill, {len(lost)} lost, {len(doubled)} doubled")
    print(f"went on after {went_on:.1f} s")
    assert len(told) == 6_000 and in_flight >= 1
    assert (lost, doubled) == ([], [])
    proved(pair, terminals)
