"""A check made by measuring: outcome and numbers in one change, and what they did to the ranking in words."""

from __future__ import annotations

import math
from typing import Any

import pytest
from aids.quick_shop import BOOK, QuickShop

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
