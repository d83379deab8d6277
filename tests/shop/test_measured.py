"""A check made by measuring: outcome and numbers in one change, and what they did to the ranking in words."""

from __future__ import annotations

import math
from typing import Any

import pytest
from aids.quick_shop import BOOK, QuickShop
from hypothesis import given, settings
from hypothesis import strategies as st

from shopboard import shop
from shopboard.records import Refused
from shopboard.shop import evidence
from shopboard.trouble import Evidence, Ranking, rank

FLOW = ("case_drain_flow", 9.5, "L/min", 0.2)


def arrived() -> QuickShop:
    quick = QuickShop()
    quick.take_in(symptoms=("weak-drive",))
    return quick


def test_outcome_and_numbers_come_in_one_change() -> None:
    quick = arrived()
    step = quick.do(evidence.measured, 1, "case-drain", "high", (FLOW, ("oil_temperature", 74.0, "degC", 0.0)),
                    book=BOOK, note="three runs of a minute")  # fmt: skip
    job = quick.job()
    assert len(step.puts) == 1
    assert [(a.check, a.outcome, a.note) for a in job.answers] == [("case-drain", "high", "three runs of a minute")]
    assert [(r.quantity, r.value, r.unit, r.error, r.by, r.at) for r in job.readings] == [
        ("case_drain_flow", 9.5, "L/min", 0.2, "ana", quick.now),
        ("oil_temperature", 74.0, "degC", 0.0, "ana", quick.now),
    ]
    assert step.why == (
        "T-0001, case drain: case drain high; measured: case_drain_flow 9.5 ± 0.2 L/min, oil_temperature 74 degC"
        " – three runs of a minute."
    )


def test_it_ranks_as_reading_and_answering_one_after_the_other() -> None:
    at_once, one_by_one = arrived(), arrived()
    at_once.do(evidence.measured, 1, "case-drain", "high", (FLOW,), book=BOOK)
    one_by_one.do(evidence.read, 1, *FLOW, book=BOOK)
    one_by_one.do(evidence.answer, 1, "case-drain", "high", book=BOOK)
    assert at_once.job().likely == one_by_one.job().likely


def test_measuring_again_replaces_the_answer_and_the_last_number_counts() -> None:
    quick = arrived()
    quick.do(evidence.measured, 1, "case-drain", "high", (FLOW,), book=BOOK)
    high = quick.job().likely
    quick.later(hours=1)
    quick.do(evidence.measured, 1, "case-drain", "right", (("case_drain_flow", 2.0, "L/min", 0.2),), book=BOOK)
    assert [a.outcome for a in quick.job().answers] == ["right"]
    assert [r.value for r in quick.job().readings] == [9.5, 2.0]
    fresh = arrived()
    fresh.do(evidence.measured, 1, "case-drain", "right", (("case_drain_flow", 2.0, "L/min", 0.2),), book=BOOK)
    assert quick.job().likely == fresh.job().likely != high


def test_taking_the_answer_back_restores_the_earlier_ranking_and_keeps_the_numbers() -> None:
    quick = arrived()
    quick.do(evidence.answer, 1, "hot-or-cold", "hot", book=BOOK)
    quick.later(hours=1)
    quick.do(evidence.read, 1, "case_drain_flow", 3.0, "L/min", 0.5, book=BOOK)
    before = quick.job()
    for outcome, flow in (("high", 9.5), ("right", 2.0)):
        quick.later(hours=1)
        quick.do(evidence.measured, 1, "case-drain", outcome, (("case_drain_flow", flow, "L/min", 0.2),), book=BOOK)
        assert quick.job().likely != before.likely
    quick.later(hours=1)
    quick.do(evidence.withdraw, 1, "case-drain", book=BOOK)
    assert quick.job().likely == before.likely
    assert evidence.ranking(quick.state, quick.job(), BOOK) == evidence.ranking(quick.state, before, BOOK)
    assert [r.value for r in quick.job().readings] == [3.0, 9.5, 2.0]


#: One thing told of a machine: the check it is for ("" for a plain reading), and how it is recorded.
TOLD = {
    "hot": ("hot-or-cold", lambda q: q.do(evidence.answer, 1, "hot-or-cold", "hot", book=BOOK)),
    "same": ("hot-or-cold", lambda q: q.do(evidence.answer, 1, "hot-or-cold", "same", book=BOOK)),
    "drain high": ("case-drain", lambda q: q.do(evidence.measured, 1, "case-drain", "high", (FLOW,), book=BOOK)),
    "drain by hand": ("case-drain", lambda q: q.do(evidence.answer, 1, "case-drain", "right", book=BOOK)),
    "drain read": ("", lambda q: q.do(evidence.read, 1, "case_drain_flow", 3.1, "L/min", 0.3, book=BOOK)),
    "unsure": ("oil-level", lambda q: q.do(evidence.answer, 1, "oil-level", "unsure", book=BOOK)),
}


@given(st.lists(st.sampled_from(sorted(TOLD)), max_size=6), st.sampled_from(["hot-or-cold", "case-drain", "oil-level"]))
@settings(max_examples=60, deadline=None, derandomize=True)
def test_taking_any_answer_back_ranks_as_if_the_check_had_never_been_made(told: list[str], check: str) -> None:
    with_it, without = arrived(), arrived()
    for name in told:
        for quick in (with_it, without):
            quick.later(minutes=10)
        TOLD[name][1](with_it)
        if TOLD[name][0] != check:
            TOLD[name][1](without)
    if any(TOLD[name][0] == check for name in told):
        with_it.do(evidence.withdraw, 1, check, book=BOOK)
    rankings = [evidence.ranking(quick.state, quick.job(), BOOK) for quick in (with_it, without)]
    assert rankings[0] == rankings[1] and with_it.job().likely == without.job().likely


def test_with_nothing_left_that_counts_nothing_is_ranked() -> None:
    quick = QuickShop()
    quick.take_in()
    assert quick.job().likely == ()
    quick.later(hours=1)
    quick.do(evidence.measured, 1, "case-drain", "high", (FLOW,), book=BOOK)
    assert quick.job().likely != ()
    quick.do(evidence.withdraw, 1, "case-drain", book=BOOK)
    assert quick.job().likely == ()


def test_an_answer_given_by_hand_afterwards_counts_in_place_of_the_numbers() -> None:
    quick, by_hand = arrived(), arrived()
    quick.do(evidence.measured, 1, "case-drain", "high", (FLOW,), book=BOOK)
    for shop_ in (quick, by_hand):
        shop_.later(hours=1)
        shop_.do(evidence.answer, 1, "case-drain", "right", book=BOOK)
    assert quick.job().likely == by_hand.job().likely
    assert [r.value for r in quick.job().readings] == [9.5]


def test_what_cannot_be_told_is_kept_with_its_numbers() -> None:
    quick = arrived()
    quick.do(evidence.measured, 1, "joint-play", "unsure", (("joint_play", 0.4, "mm", 0.0),), book=BOOK)
    assert quick.job().answers[0].outcome == "unsure"
    assert len(quick.job().readings) == 1


@pytest.mark.parametrize(
    ("check", "outcome", "figures", "why"),
    [
        ("case-drain", "high", (), "nothing was measured"),
        ("case-drein", "high", (FLOW,), "no check case-drein"),
        ("case-drain", "awful", (FLOW,), "cannot come out as awful"),
        ("case-drain", "high", (("case_drain_flow", math.nan, "L/min", 0.0),), "not a number"),
        ("case-drain", "high", (("case_drain_flow", 9.0, "bar", 0.0),), "measures pressure"),
        ("case-drain", "high", (FLOW, ("case_drain_flow", 9.0, "", 0.0)), "unit is blank"),
        ("case-drain", "high", (("case_drain_flow", 9.0, "L/min", -1.0),), "cannot be -1"),
    ],
)
def test_what_is_refused_keeps_nothing(check: str, outcome: str, figures: Any, why: str) -> None:
    quick = arrived()
    before = quick.job()
    with pytest.raises(Refused, match=why):
        quick.do(evidence.measured, 1, check, outcome, figures, book=BOOK)
    assert quick.job() == before


def ranking(*answers: tuple[str, str]) -> Ranking:
    return rank(BOOK, "in-line", Evidence(("weak-drive",), answers))


def test_what_moved_names_the_cause_now_likeliest_and_the_one_that_was() -> None:
    before, after = ranking(), ranking(("oil-level", "low"))
    moved = shop.evidence.moved(before, after)
    assert [name for name, _, _ in moved] == list(dict.fromkeys((after.causes[0].name, before.causes[0].name)))
    for name, was, now in moved:
        assert was == next(c.probability for c in before.causes if c.name == name)
        assert now == next(c.probability for c in after.causes if c.name == name)
    assert len(shop.evidence.moved(before, before)) == 1
