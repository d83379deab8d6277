"""The connection cut at each step of a commit: never kept twice, never said to be kept when it is not.

The truth is asked from the server itself, over a line that is not cut.
"""

from __future__ import annotations

import time

import pytest
from aids.cutting import Relay
from aids.store_steps import count_up, picture, remark, take_in

from shopboard.records import Refused
from shopboard.store import CommitFailed
from shopboard.store.postgres import settling

WORD = "only once"


def kept(server, address, word=WORD):
    """How many changes of the branch speak of the word."""
    rows = server.execute(
        "select convert_from(line, 'UTF8') from shopboard.change c join shopboard.branch b on b.id = c.branch "
        f"where b.name = '{address.branch}'",
        "shops",
    )
    return sum(word in line for (line,) in rows)


class Once:
    """Applies a fate to the first piece of a kind that passes, and counts how often it was met."""

    def __init__(self, way, fate, mark=b""):
        self.way, self.fate, self.mark, self.met = way, fate, mark, 0
        self.armed = False

    def __call__(self, way, data):
        if way == "ask" and b'{"c":"' in data:
            self.armed = True
            if self.way == "ask" and not self.met:
                self.met += 1
                return self.fate
        elif way == "answer" and self.armed and self.way == "answer" and not self.met:
            self.met += 1
            return self.fate
        return "pass"


@pytest.mark.parametrize("way,fate", [("ask", "cut"), ("ask", 0), ("ask", 30), ("ask", 400), ("answer", "cut")])
def test_cut_once_on_the_way(way, fate, server, address, far, relay, opening):
    store, other = opening(far), opening(address)
    store.commit("ana", take_in("first"))
    relay.rule = rule = Once(way, fate)
    change = store.commit("ana", take_in(WORD))
    assert rule.met == 1
    assert kept(server, address) == 1
    other.refresh()
    assert change.seq == 2 and picture(store.state) == picture(other.state)
    assert store.refresh() == ()


def answer_length(far, relay, opening):
    """How many bytes the server's answer to a commit has."""
    seen = []
    store = opening(far)
    store.commit("ana", take_in("a"))
    store.commit("ana", take_in("b"))
    asked = []

    def watch(way, data):
        if way == "ask":
            asked.append(data)
        elif asked and b'{"c":"' in asked[-1]:
            seen.append(data)
        return "pass"

    relay.rule = watch
    store.commit("ana", take_in("c"))
    return sum(map(len, seen))


def test_cut_within_the_answer_at_every_byte(server, address, far, relay, opening):
    """Also between the row that says “kept” and the word that the transaction is over."""
    length = answer_length(far, relay, opening)
    assert 40 < length < 400
    store, other = opening(far), opening(address)
    for cut_at in range(0, length, 3):
        word = f"{WORD} {cut_at}."
        relay.rule = rule = Once("answer", cut_at)
        store.commit("ana", take_in(word))
        assert rule.met == 1 and kept(server, address, word) == 1
    other.refresh()
    assert picture(store.state) == picture(other.state)


def test_a_request_that_arrives_late_is_not_kept_a_second_time(server, address, far, relay, opening):
    store, other = opening(far), opening(address)
    store.commit("ana", take_in("first"))
    relay.rule = Once("ask", "late")
    change = store.commit("ana", take_in(WORD))
    assert change.seq == 2 and kept(server, address) == 1
    assert relay.release() == 1
    time.sleep(0.3)
    assert kept(server, address) == 1
    store.commit("ana", take_in("after"))
    other.refresh()
    assert other.state.seq == 3 and picture(store.state) == picture(other.state)


@pytest.fixture
def short_patience(monkeypatch):
    monkeypatch.setattr(settling, "LOCK_WAIT", 0.3)
    monkeypatch.setattr(settling, "_PAUSES", (0.05, 0.1, 0.2))


@pytest.mark.parametrize("way,really", [("ask", 0), ("answer", 1)])
def test_where_nobody_can_know_it_is_said_and_settled_later(
    way, really, server, address, far, relay, opening, short_patience
):
    store, other = opening(far), opening(address)
    store.commit("ana", take_in("first"))
    rule = Once(way, "cut")

    def then_refuse(way_, data):
        fate = rule(way_, data)
        relay.refusing = relay.refusing or rule.met > 0
        return fate

    relay.rule = then_refuse
    with pytest.raises(CommitFailed, match="nobody knows yet whether it was saved"):
        store.commit("ana", take_in(WORD))
    assert 2 not in store.state.jobs and "away since 0" in store.read_only
    assert kept(server, address) == really
    relay.refusing = False
    found = store.refresh()
    assert store.read_only == ""
    (told,) = store.notices()
    assert ("was saved after all" in told) == bool(really) and ("was not saved" in told) == (not really)
    assert len(found) == really and (2 in store.state.jobs) == bool(really)
    if really:  # the same key pressed again must not do it twice without a word
        with pytest.raises(Refused, match="was saved after all"):
            store.commit("ana", take_in(WORD))
        assert kept(server, address) == 1
    store.commit("ana", take_in("after"))
    other.refresh()
    assert picture(store.state) == picture(other.state)


def test_what_was_given_up_cannot_arrive_afterwards(server, address, far, relay, opening, short_patience):
    store = opening(far)
    store.commit("ana", take_in("first"))
    late = Once("ask", "late")

    def then_refuse(way, data):
        fate = late(way, data)
        relay.refusing = relay.refusing or late.met > 0
        return fate

    relay.rule = then_refuse
    with pytest.raises(CommitFailed, match="nobody knows"):
        store.commit("ana", take_in(WORD))
    relay.refusing = False
    store.refresh()
    assert "was not saved" in store.notices()[0]
    relay.release()
    time.sleep(0.3)
    assert kept(server, address) == 0 and store.refresh() == ()


@pytest.mark.parametrize("step", ["before append", "answered", "applied"])
def test_cut_at_each_step_in_the_terminal(step, server, address, far, relay, opening, monkeypatch):
    store = opening(far)
    store.commit("ana", take_in("first"))
    passed = []

    def hook(name):
        passed.append(name)
        if name == step and passed.count(step) == 1:
            relay.cut()

    monkeypatch.setattr(settling, "hook", hook)
    store.commit("ana", take_in(WORD))
    monkeypatch.setattr(settling, "hook", None)
    assert {"before append", "answered", "applied"} == set(passed)
    assert kept(server, address) == 1
    store.commit("ana", remark(2, "goes on"))
    assert store.state.seq == 3


def test_another_came_first_while_the_line_was_down(server, address, far, relay, opening):
    """The rule runs again on what the other did: nothing is lost, nothing doubled."""
    store, other = opening(far), opening(address)
    store.commit("ana", take_in("first"))
    other.refresh()
    done = []

    def cut_and_overtake(way, data):
        if way == "ask" and b'{"c":"' in data and not done:
            done.append(other.commit("bo", count_up(1)))
            return "cut"
        return "pass"

    relay.rule = cut_and_overtake
    change = store.commit("ana", count_up(1))
    assert done[0].seq == 2 and change.seq == 3
    assert store.state.customers[1].note == "2"


def test_the_test_notices_a_store_that_says_kept_when_nothing_came_back(
    server, address, far, relay, opening, monkeypatch
):
    """The test of the test: a terminal that believes without an answer is caught by asking the server."""
    store = opening(far)
    store.commit("ana", take_in("first"))
    monkeypatch.setattr(settling.Append, "ask_again", lambda self, connect: ("kept", connect()))
    relay.rule = Once("ask", "cut")
    store.commit("ana", take_in(WORD))
    assert kept(server, address) == 0


def test_a_frozen_line_is_given_up_in_time(far, relay: Relay, opening, monkeypatch):
    from shopboard.store.postgres import connection

    store = opening(far)
    store.commit("ana", take_in("first"))
    monkeypatch.setattr(connection.Link, "patience", 0.5)
    relay.rule = Once("ask", "swallow")
    begun = time.monotonic()
    assert store.commit("ana", take_in(WORD)).seq == 2
    assert 0.4 < time.monotonic() - begun < 3
