"""The server goes away while boards are open: read on, say since when, pretend nothing, come back by itself."""

from __future__ import annotations

import contextlib
import itertools
import time

import pytest
from aids.boards import open_board, screen_text, until
from aids.cutting import Relay
from aids.desk import Desk
from aids.postgres_shops import put_text
from aids.shops import MODELS, MORNING, SHOP, Clock
from aids.store_steps import collect, picture, remark, take_in

from shopboard.records import Job, Step
from shopboard.store import Address, CommitFailed, ShopUnusable, open_shop, place_of
from shopboard.store.postgres import watch
from shopboard.store.postgres.connection import LOCK_WAIT

#: Who waits for a server that does not answer waits longer than this, however slow the machine.
WAITS = LOCK_WAIT / 4


def wait_for(condition, what, seconds=15.0):
    until_ = time.monotonic() + seconds
    while not condition():
        assert time.monotonic() < until_, f"never: {what}"
        time.sleep(0.01)


@pytest.fixture
def quick_pauses(monkeypatch):
    monkeypatch.setattr(watch, "PAUSES", (0.05, 0.1, 0.2))


@contextlib.contextmanager
def no_waiting():
    begun = time.monotonic()
    yield
    assert time.monotonic() - begun < WAITS


def away(relay):
    relay.refusing = True
    relay.cut()


def test_it_is_said_since_when_and_everything_stays_readable(far, address, relay, opening, quick_pauses):
    clock = Clock()
    store, other = opening(far, clock), opening(address)
    store.commit("ana", take_in("one"))
    store.follow()
    before = picture(store.state)
    away(relay)
    wait_for(lambda: store.refresh() == () and store.read_only, "it notices")
    assert store.read_only.startswith("the server has been away since 09:42; what you see is of then")
    assert picture(store.state) == before
    clock.pass_(minutes=5)
    asked = []
    with no_waiting(), pytest.raises(CommitFailed, match=r"not saved: the server has been away since 09:42.*do it"):
        store.commit("ana", lambda state, now: asked.append(1))
    assert not asked
    made = other.commit("bo", take_in("two"))
    relay.refusing = False
    wait_for(lambda: store.refresh() == (made,), "what others did meanwhile")
    assert store.read_only == "" and store.notices() == ()
    store.commit("ana", remark(2, "goes on"))
    other.refresh()
    assert picture(store.state) == picture(other.state)


def test_looking_never_waits_for_the_network(far, relay, opening, quick_pauses):
    """Also while the server does not answer at all: whoever waited for it would wait for seconds."""
    store = opening(far)
    store.commit("ana", take_in("one"))
    store.follow()
    taken = []

    def look():
        begun = time.perf_counter()
        store.refresh()
        taken.append(time.perf_counter() - begun)
        time.sleep(0.005)

    for _ in range(40):
        look()
    relay.rule = lambda way, data: "swallow"
    for _ in range(100):
        look()
    away(relay)
    for _ in range(100):
        look()
    assert store.read_only
    assert max(taken) < WAITS, max(taken)


def test_without_a_hint_it_looks_by_itself(address, opening, monkeypatch):
    from shopboard.store.postgres import store as engine

    monkeypatch.setattr(engine, "notify", lambda *_: None)
    monkeypatch.setattr(watch, "LOOK", 0.2)
    reader, writer = opening(address), opening(address)
    reader.follow()
    made = writer.commit("ana", take_in("one"))
    wait_for(lambda: reader.refresh() == (made,), "it looks")


def test_with_a_hint_it_is_seen_at_once(address, opening, monkeypatch):
    monkeypatch.setattr(watch, "LOOK", 30.0)
    reader, writer = opening(address), opening(address)
    reader.follow()
    time.sleep(0.3)  # until it listens; from then on only hints wake it
    made = writer.commit("ana", take_in("one"))
    wait_for(lambda: reader.refresh() == (made,), "the hint", 2.0)


def test_pauses_grow_while_it_is_away(far, relay: Relay, opening, monkeypatch):
    monkeypatch.setattr(watch, "PAUSES", (0.1, 0.2, 0.4, 0.8))
    tried = []
    connect = watch.connect

    def noting(address):
        tried.append(time.monotonic())
        return connect(address)

    store = opening(far)
    monkeypatch.setattr(watch, "connect", noting)
    store.follow()
    wait_for(lambda: len(tried) == 1, "the first connection")
    away(relay)
    wait_for(lambda: len(tried) >= 6, "more attempts")
    store.close()
    gaps = [later - earlier for earlier, later in itertools.pairwise(tried[1:])]
    assert all(later > earlier * 1.3 for earlier, later in itertools.pairwise(gaps[:3])), gaps


def test_other_hosts_of_the_address_are_tried(server, address, relay, opening, quick_pauses):
    first, second = relay, Relay(server.port)
    both = place_of(
        f"postgresql://owner_login@127.0.0.1:{first.port},127.0.0.1:{second.port}/shops?branch={address.branch}"
    )
    store = opening(both)
    store.commit("ana", take_in("one"))
    assert first.passed > 0 and second.passed == 0
    away(first)
    assert store.commit("ana", take_in("two")).seq == 2
    assert second.passed > 0
    second.close()


def test_while_it_is_away_a_closed_job_says_so(far, relay, opening, quick_pauses):
    store = opening(far)
    store.commit("ana", take_in("one"))
    store.commit("ana", collect(1))
    store.checkpoint()
    store.follow()
    assert store.state.load_closed(1) is not None
    away(relay)
    wait_for(lambda: store.refresh() == () and store.read_only, "it notices")
    with pytest.raises(ShopUnusable, match="away since"):
        store.state.load_closed(1)
    with pytest.raises(ShopUnusable, match="away since"):
        list(store.changes(subject=1))


def test_a_server_that_is_stopped_and_started_again(opening):
    from aids.postgres import server as starting

    with starting() as one:
        one.execute("create database shops")
        place = place_of(one.address("shops", "main"))
        from shopboard.store import new_shop

        new_shop(place)
        store = opening(place)
        store.commit("ana", take_in("one"))
        store.follow()
        one.stop()
        wait_for(lambda: store.refresh() == () and store.read_only, "it notices")
        one.start()
        wait_for(lambda: store.refresh() == () and not store.read_only, "it is back", 20)
        assert store.commit("ana", take_in("two")).seq == 2
        store.close()


async def test_the_board_says_it_keeps_the_typing_and_saves_when_the_server_is_back(
    address, far: Address, relay, quick_pauses
):
    put_text(address, "shop.toml", SHOP)
    put_text(address, "models.toml", MODELS)
    clock = Clock(MORNING)
    store = open_shop(far, clock=clock)
    store.follow()
    async with open_board(far, store=store, clock=clock, who="ana") as pilot:
        board = pilot.app
        await pilot.press("n")
        await until(pilot, lambda: board.place_name == "counter", "the Counter")
        await pilot.press(*"Mill")
        away(relay)
        await until(pilot, lambda: "the server has been away since 10:42" in screen_text(board), "it is said")
        await pilot.press(*"er")
        assert "Miller" in screen_text(board)
        with no_waiting():
            change, refusal = board.attempt(take_in("pressed too early"))
        assert change is None and "not saved: the server has been away" in refusal
        assert not store.state.jobs and "Miller" in screen_text(board)
        relay.refusing = False
        await until(pilot, lambda: "the server is back" in screen_text(board), "it is back")
        change, refusal = board.attempt(take_in("now"))
        assert change is not None, refusal
        assert "Miller" in screen_text(board)


async def test_what_needs_a_closed_visit_says_so_while_the_server_is_away(address, far: Address, relay, quick_pauses):
    """The estimate looks at the machine's earlier visits; the board goes on without them."""
    put_text(address, "shop.toml", SHOP)
    put_text(address, "models.toml", MODELS)
    clock = Clock(MORNING)
    store = open_shop(far, clock=clock)
    first = Desk(store, clock)
    closed = first.take_in("Mill", "slow when warm")
    store.commit("ana", collect(closed))
    store.checkpoint()
    machine, customer = store.state.machines[1], store.state.customers[1]
    again = Job(id=2, customer=customer.id, machine=machine.id, arrived=clock.at, since=clock.at, complaint="again")
    store.commit("ana", lambda state, now: Step("came again", (again,), subject=2))
    store.follow()
    async with open_board(far, store=store, clock=clock, who="ana") as pilot:
        board = pilot.app
        away(relay)
        await until(pilot, lambda: "has been away since" in screen_text(board), "it is said")
        board.open_job(2)
        await until(pilot, lambda: board.place_name == "bench", "the Bench")
        await pilot.press("e")
        await until(pilot, lambda: "estimate" in screen_text(board) and "away since" in screen_text(board), "the panel")
        await pilot.press("escape", "h")
        await until(pilot, lambda: "away since" in screen_text(board), "its story")
        await pilot.press("escape")
        board.open_job(closed)
        await until(pilot, lambda: "away since" in screen_text(board), "the closed job")
