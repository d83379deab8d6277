"""Many branches in one database: none waits for another, and the owner looks over all of them at once."""

from __future__ import annotations

import json
import threading
import time
from datetime import timedelta

import psycopg
import pytest
from aids.boards import open_board, screen_text, until
from aids.desk import Desk
from aids.lives import day, job
from aids.postgres import server as starting
from aids.postgres_shops import put_text
from aids.shops import MODELS, MORNING, SHOP, Clock
from aids.store_steps import take_in

from shopboard import cli
from shopboard.places import branches_page as branches
from shopboard.records import HourReading, Layout, Machine, PartLine, PartState, Settings, ShopState, Step, Stock
from shopboard.store import new_shop, open_shop, place_of, read_book
from shopboard.store.postgres.connection import LOCK_WAIT


@pytest.fixture(scope="module")
def chain():
    """A database of its own with two branches, as far as the tests below need them."""
    with starting() as one:
        one.execute("create database chain")
        opened = {}
        for name in ("hill", "lake"):
            place = place_of(one.address("chain", name))
            new_shop(place)
            put_text(place, "shop.toml", SHOP.replace("Test shop", f"{name.title()} shop"))
            put_text(place, "models.toml", MODELS)
            clock = Clock()
            opened[name] = Desk(open_shop(place, clock=clock), clock)
        yield one, opened
        for desk in opened.values():
            desk.store.close()


def test_a_branch_that_is_held_up_holds_up_no_other(server, address, opening):
    other = place_of(f"{address}-b")
    new_shop(other)
    here, there = opening(address), opening(other)
    (branch,) = server.execute(f"select id from shopboard.branch where name = '{address.branch}'", "shops")[0]
    with psycopg.connect(server.conninfo("shops")) as stuck:
        stuck.execute("select shopboard.hold(%s)", (branch,))
        begun = time.monotonic()
        there.commit("ana", take_in("goes on"))
        assert time.monotonic() - begun < LOCK_WAIT / 2  # it did not wait for the other's lock
        done = []
        waiting = threading.Thread(target=lambda: done.append(here.commit("ana", take_in("waits"))))
        waiting.start()
        time.sleep(0.3)
        assert not done
        stuck.rollback()
        waiting.join(10)
    assert done[0].seq == 1


def test_each_branch_counts_its_own(chain):
    _, opened = chain
    assert [desk.take_in("Mill", "slow when warm") for desk in opened.values()] == [1, 1]
    assert [desk.store.state.seq for desk in opened.values()] == [1, 1]


def test_the_owner_sees_late_tight_and_what_lies_in_another_branch(chain):
    server, opened = chain
    hill, lake = opened["hill"], opened["lake"]
    late = hill.take_in("Late Lane", "creeps at rest", promise_days=1)
    wanted = PartLine(
        id=1, job=late, number="SK-9", name="seal kit [b]", quantity=2, state=PartState.ORDERED, needed_at=MORNING
    )
    hill.store.commit("ana", lambda state, now: Step("needs", (wanted,), subject=late))
    lying = Stock(id=1, number="SK-9", name="seal kit", bin="A-3", quantity=3)
    lake.store.commit("ana", lambda state, now: Step("counted", (lying,)))
    found = branches.look(place_of(server.address("chain")), MORNING + timedelta(days=3))
    by_name = {one.name: one for one in found.branches}
    assert list(by_name) == ["hill", "lake"]
    assert [job.id for job in by_name["hill"].late] == [late] and not by_name["lake"].late
    (part,) = found.elsewhere
    assert (part.branch, part.job, part.number, part.missing) == ("hill", late, "SK-9", 2)
    assert part.at == (("lake", 3),)
    kept = PartLine(
        id=1, job=1, number="SK-9", name="seal kit", quantity=2, reserved=2, state=PartState.NEEDED, needed_at=MORNING
    )
    lake.store.commit("ana", lambda state, now: Step("kept", (kept,), subject=1))
    again = branches.look(place_of(server.address("chain")), MORNING + timedelta(days=3))
    assert again.elsewhere[0].at == (("lake", 1),), "what is kept for a job there is not free"


def test_the_command_prints_it_as_text_and_json(chain, capsysbinary, monkeypatch):
    server, _ = chain
    monkeypatch.setenv("COLUMNS", "100")
    assert cli.run(["branches", "--shop", server.address("chain")]) == 0
    out = capsysbinary.readouterr().out.decode()
    assert "hill" in out and "parts that lie free in another branch" in out and "seal kit [b] (SK-9)" in out
    assert max(map(len, out.splitlines())) <= 100
    assert cli.run(["branches", "--json", "--shop", server.address("chain")]) == 0
    data = json.loads(capsysbinary.readouterr().out)
    assert [one["branch"] for one in data["branches"]] == ["hill", "lake"]
    assert data["branches"][0]["shop"] == "Hill shop" and data["elsewhere"][0]["at"][0]["branch"] == "lake"


async def test_the_office_shows_all_branches_on_x(chain):
    server, _ = chain
    place = place_of(server.address("chain", "hill"))
    clock = Clock(MORNING + timedelta(days=3))
    async with open_board(place, store=open_shop(place, clock=clock), clock=clock, who="cy") as pilot:
        board = pilot.app
        await pilot.press("o")
        await until(pilot, lambda: board.place_name == "office", "the Office")
        await pilot.press("x")
        await until(pilot, lambda: "3 at lake" in screen_text(board) or "1 at lake" in screen_text(board), "the page")
        assert "seal kit [b] (SK-9)" in screen_text(board)


async def test_in_a_folder_x_says_where_branches_are_seen(tmp_path):
    async with open_board(tmp_path / "shop") as pilot:
        await pilot.press("o")
        await pilot.press("x")
        await until(pilot, lambda: "a database keeps several" in screen_text(pilot.app), "the notice")


def test_a_branch_that_cannot_be_read_hides_no_other(chain):
    server, _ = chain
    server.execute(
        "insert into shopboard.text (branch, name, version, body) select id, 'shop.toml', 99, 'name = ' "
        "from shopboard.branch where name = 'lake'",
        "chain",
    )
    found = branches.look(place_of(server.address("chain")), MORNING)
    assert [bool(one.why_not) for one in found.branches] == [False, True]
    assert "shop.toml" in found.branches[1].why_not
    server.execute("delete from shopboard.text where version = 99", "chain")


def shop_with_two_failures(component):
    """Six machines of a model of which two failed young, beside twenty of another model that run without a fault."""
    state = ShopState(settings=Settings(name="one of two"), models={})
    for id in range(1, 27):
        model = "bad" if id <= 6 else "good"
        seen = (HourReading(at=day(0), hours=0.0), HourReading(at=day(700), hours=900.0))
        state.machines[id] = Machine(id=id, customer=1, model=model, layout=Layout.IN_LINE, readings=seen)
    for id in (1, 2):
        state.closed[id] = job(id, id, 150 + id, component, hours=200.0)
    return state


def test_failures_are_pooled_over_branches():
    """Each branch has fewer failures than the rule ever calls early; together they have enough."""
    book = read_book(None)
    component = next(cause.id for cause in book.causes.values() if "in-line" in cause.layouts)
    states = {name: shop_with_two_failures(component) for name in ("hill", "lake")}
    assert not any(branches._early({name: state}, book) for name, state in states.items())
    (found,) = branches._early(states, book)
    assert (found.component, found.model, found.failures, found.machines) == (component, "bad", 4, 12)
