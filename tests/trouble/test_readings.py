"""Readings are soft evidence: far from the limit they speak, at the limit they hardly move anything."""

from __future__ import annotations

import math

import pytest
from aids.small_book import small_book
from hypothesis import given
from hypothesis import strategies as st

from shopboard.trouble import Evidence, Ranking, SoftReading, rank, soft_reading
from shopboard.trouble.scales import READING_SLIP, READING_SPAN

BOOK = small_book()
SYMPTOM = ("weak-drive",)


def _wear(ranking: Ranking) -> float:
    return next(c.probability for c in ranking.causes if c.id == "piston-wear")


def _read(ratio: float, error: float = 0.0) -> float:
    return _wear(rank(BOOK, "in-line", Evidence(SYMPTOM, readings=(SoftReading("case-drain", ratio, error),))))


def test_high_flow_speaks_for_wear_and_low_flow_against() -> None:
    nothing = _wear(rank(BOOK, "in-line", Evidence(SYMPTOM)))
    assert _read(1.8) > 0.5 > nothing > _read(0.5)


def test_a_reading_between_the_bands_moves_little() -> None:
    """Where both classes are equally dense, only the book's own opinion of the outcomes is left: none."""
    low, high = 0.5, 1.8

    def density(x: float, mean: float, spread: float) -> float:
        return math.exp(-0.5 * ((x - mean) / spread) ** 2) / spread

    left, right = low, high
    for _ in range(60):
        middle = (left + right) / 2
        left, right = (middle, right) if density(middle, low, 0.2) > density(middle, high, 0.5) else (left, middle)
    assert _read(left) == pytest.approx(_wear(rank(BOOK, "in-line", Evidence(SYMPTOM))), rel=1e-6)


def test_a_poor_gauge_says_less() -> None:
    nothing = _wear(rank(BOOK, "in-line", Evidence(SYMPTOM)))
    assert _read(1.8) > _read(1.8, error=0.8) > nothing


@given(st.floats(0, 1e6), st.floats(0, 1e3))
def test_no_reading_however_wild_decides_alone(ratio: float, error: float) -> None:
    """Some readings are slips, so the odds move by no more than the densest class over the slip floor."""
    assert 0 < _read(ratio, error) < 1
    most = ((1 - READING_SLIP) / (0.2 * math.sqrt(2 * math.pi)) + READING_SLIP / READING_SPAN) / (
        READING_SLIP / READING_SPAN
    )
    nothing = _wear(rank(BOOK, "in-line", Evidence(SYMPTOM)))
    seen = _read(ratio, error)
    assert abs(math.log(seen / (1 - seen)) - math.log(nothing / (1 - nothing))) <= math.log(most)


def test_a_reading_counts_before_an_answer_to_the_same_check() -> None:
    reading = (SoftReading("case-drain", 1.8),)
    alone = rank(BOOK, "in-line", Evidence(SYMPTOM, (), reading))
    assert rank(BOOK, "in-line", Evidence(SYMPTOM, (("case-drain", "right"),), reading)) == alone


def test_a_reading_of_a_check_that_is_not_measured_is_nothing() -> None:
    odd = Evidence(SYMPTOM, (), (SoftReading("oil-level", 1.0),))
    assert rank(BOOK, "in-line", odd).causes == rank(BOOK, "in-line", Evidence(SYMPTOM)).causes


def test_a_reading_against_the_limit() -> None:
    assert soft_reading(BOOK, "case-drain", 9.0, 5.0, 0.5) == SoftReading("case-drain", 1.8, 0.1)
    with pytest.raises(ValueError, match="limit"):
        soft_reading(BOOK, "case-drain", 9.0, 0.0)
    with pytest.raises(ValueError, match="oil-level"):
        soft_reading(BOOK, "oil-level", 9.0, 1.0)
