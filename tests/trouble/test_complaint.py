"""A check is spent on what was complained of, and on a machine that can do it."""

from __future__ import annotations

import numpy as np
from aids.shipped_book import shipped_book

from shopboard.trouble import Evidence, next_checks
from shopboard.trouble.complaint import without_bystanders
from shopboard.trouble.evidence import items
from shopboard.trouble.network import network
from shopboard.trouble.next_check import looking
from shopboard.trouble.ranking import hypotheses

CLUNK = Evidence(symptoms=("clunk",), answers=(("grease-look", "dry-rear"),))


def _pair(one: str, other: str) -> int:
    net = network(shipped_book(), "in-line")
    wanted = sorted((net.number[one], net.number[other]))
    pairs = list(zip(net.first, net.second, strict=True))
    return 1 + len(net.causes) + next(n for n, pair in enumerate(pairs) if list(pair) == wanted)


def test_a_fault_that_shows_nothing_of_what_was_found_is_counted_to_the_one_that_does() -> None:
    net = network(shipped_book(), "in-line")
    found = items(net, CLUNK)
    chance = hypotheses(net, found)
    told = without_bystanders(net, found, chance)
    joint_and_leak, both_shown = _pair("joint-rear", "hose-leak"), _pair("joint-rear", "hub-loose")
    assert chance[joint_and_leak] > 0
    assert told[joint_and_leak] == 0
    assert told[both_shown] == chance[both_shown]
    assert told[1 + net.number["joint-rear"]] > chance[1 + net.number["joint-rear"]]
    np.testing.assert_allclose(told.sum(), chance.sum(), rtol=1e-12)


def test_a_second_fault_that_was_seen_stays() -> None:
    net = network(shipped_book(), "in-line")
    seen = Evidence(symptoms=("clunk",), answers=(("grease-look", "dry-rear"), ("leaks", "hose")))
    told = without_bystanders(net, items(net, seen), hypotheses(net, items(net, seen)))
    assert told[_pair("joint-rear", "hose-leak")] > 0


def test_without_evidence_nothing_is_folded() -> None:
    net = network(shipped_book(), "split")
    chance = hypotheses(net, ())
    np.testing.assert_array_equal(without_bystanders(net, (), chance), chance)


def test_an_oil_sample_is_not_offered_for_a_clunk() -> None:
    """Any cheap check could go before the best one; only those that add something of their own are named."""
    named = [check.check for check in next_checks(shipped_book(), "in-line", CLUNK, at="bay", limit=50)]
    assert named[0] == "joint-play"
    assert not {"settle-jar", "oil-level", "leaks", "bypass-lever", "cable-look"} & set(named)


def test_a_machine_without_drive_is_not_timed_over_a_distance() -> None:
    weak, stands = Evidence(symptoms=("weak-drive",)), Evidence(symptoms=("weak-drive", "no-drive"))
    idle = {"timed-runs", "slope-hold", "drive-both-ways", "ask-direction"}
    assert idle <= set(_offered(weak))
    assert not idle & set(_offered(stands))
    assert "input-turns" in _offered(stands)


def _offered(evidence: Evidence) -> tuple[str, ...]:
    return looking(shipped_book(), "in-line", evidence, (), (), None, None, None).names
