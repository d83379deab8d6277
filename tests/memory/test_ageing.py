"""What is said of how a component ages, and what is not when too little is known."""

from __future__ import annotations

import math
import re

import numpy as np
import pytest

from shopboard.memory import Life, ageing
from shopboard.memory.ageing import Ageing


def _said(lives: list[Life]) -> Ageing:
    return ageing(lives, np.random.default_rng(1), draws=199)


def _lives(failures: int, shape: float, survivors: int = 0, seed: int = 1) -> list[Life]:
    rng = np.random.default_rng(seed)
    ages = np.sort(1000 * rng.weibull(shape, failures + survivors))
    last = float(ages[failures - 1]) + 1e-6
    return [Life(0, float(age), True) for age in ages[:failures]] + [Life(0, last, False)] * survivors


@pytest.mark.parametrize(
    ("lives", "words"),
    [
        ([], "no machine with a known age has it"),
        ([Life(0, 500, False)] * 3, "no failure in 1,500 h of 3 parts: nothing can be said"),
        ([Life(0, 500, True)], "1 failure in 500 h of 1 part: too few"),
        ([Life(0, 500, True)] * 4 + [Life(0, 900, False)], "4 failures in 2,900 h of 5 parts: too few"),
        ([Life(0, 500, True)] * 7, "all 7 failures came at the same age"),
        ([Life(0, 500, True)] * 7 + [Life(0, 900, False)], "all 7 failures came at the same age"),
        ([Life(-5, 500, True)] * 7, "an age is below 0 h: look at the hour meter readings"),
        ([Life(900, 400, True)] * 7, "a life ends before it starts: look at the hour meter readings"),
    ],
)
def test_odd_or_little_data_is_a_sentence_and_no_number(lives: list[Life], words: str) -> None:
    found = _said(lives)
    assert words in found.said and found.why_not
    assert (found.shape, found.b10, found.verdict) == (None, None, "cannot be told")
    assert found.half is None or found.failures >= 5


def test_from_five_failures_only_where_the_shape_lies() -> None:
    found = _said(_lives(5, 2.0, survivors=10))
    assert found.shape is not None and found.shape.value is None
    assert found.shape.low is not None and found.shape.high is not None
    assert "say only where the shape lies" in found.why_not
    assert _said(_lives(4, 2.0, survivors=10)).shape is None


def test_from_twenty_failures_the_shape_itself() -> None:
    assert _said(_lives(19, 2.0)).shape.value is None  # type: ignore[union-attr]
    found = _said(_lives(20, 2.0))
    assert found.shape is not None and found.shape.value is not None
    assert found.shape.low < found.shape.value < found.shape.high  # type: ignore[operator]
    assert found.b10 is not None and re.search(r"a tenth have failed by \d", found.said)
    assert found.why_not == ""


@pytest.mark.parametrize(
    ("shape", "verdict"), [(0.45, "wears in"), (1.0, "random"), (3.0, "wears out"), (1.25, "cannot be told")]
)
def test_the_verdict_is_plain(shape: float, verdict: str) -> None:
    """Spacings of an exact Weibull sample, so that chance plays no part; 1.25 from few failures stays open."""
    many = 12 if shape == 1.25 else 80
    exact = [1000 * (-math.log1p(-(i + 0.5) / many)) ** (1 / shape) for i in range(many)]
    found = _said([Life(0, age, True) for age in exact])
    assert found.verdict == verdict
    assert verdict.split(" ")[0] in found.said


def test_half_have_failed_is_read_from_the_curve() -> None:
    found = _said([Life(0, age, True) for age in (100, 200, 300, 400, 500)])
    assert found.half is not None and found.half.value == 300
    open_end = _said([*(Life(0, age, True) for age in (50, 60, 70, 80, 100)), *[Life(0, 900, False)] * 10])
    assert open_end.half is not None and open_end.half.value is None
    assert "more than half were still good at 900 h" in open_end.half.said
