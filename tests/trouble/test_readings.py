"""Readings are soft evidence: far from the limit they speak, at the limit they hardly move anything."""

from __future__ import annotations

import math

import numpy as np
import pytest
from aids.shipped_book import shipped_book
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


# -- a check answered by two quantities -------------------------------------------------------------------------------

SHIPPED = shipped_book()
SLOW = ("weak-drive",)


def _runs(*readings: tuple[str, float, float]) -> Ranking:
    soft = tuple(SoftReading("timed-runs", ratio, error, quantity) for quantity, ratio, error in readings)
    return rank(SHIPPED, "in-line", Evidence(SLOW, readings=soft))


def _of(ranking: Ranking, cause: str) -> float:
    return next(c.probability for c in ranking.causes if c.id == cause)


LEAKS, STROKE = "leakage_over_new", "share_of_stroke"


def test_leakage_speaks_for_wear_and_lost_stroke_for_the_linkage() -> None:
    nothing = rank(SHIPPED, "in-line", Evidence(SLOW))
    worn = _runs((LEAKS, 4.0, 0.5), (STROKE, 0.98, 0.02))
    lost = _runs((LEAKS, 1.1, 0.3), (STROKE, 0.70, 0.02))
    assert _of(worn, "pump-worn") > 2 * _of(nothing, "pump-worn") > _of(lost, "pump-worn")
    assert _of(lost, "cable-stretched") > 1.2 * _of(nothing, "cable-stretched")
    assert _of(lost, "cable-stretched") > _of(worn, "cable-stretched")


TWO = """
[check.case-drain]
reading = [{ quantity = "case_drain_flow", limit = "case_drain_limit" }, { quantity = "pump_efficiency", limit = 1 }]
[check.case-drain.outcomes]
right = { name = "case drain right", normal = true, ratio = [[0.5, 0.2], [0.92, 0.03]] }
high = { name = "case drain high", otherwise = "almost never", ratio = [[1.8, 0.5], [0.75, 0.08]] }
"""


BOOK_OF_TWO = small_book({"two.toml": TWO})


def _dense(x: float, mean: float, spread: float, error: float) -> float:
    s = math.hypot(spread, error)
    dense = math.exp(-0.5 * ((x - mean) / s) ** 2) / (s * math.sqrt(2 * math.pi))
    return (1 - READING_SLIP) * dense + READING_SLIP / READING_SPAN


def _probabilities(evidence: Evidence) -> dict[str, float]:
    return {c.id: c.probability for c in rank(BOOK_OF_TWO, "in-line", evidence).causes}


def test_two_quantities_weigh_the_outcomes_by_the_product_of_their_densities() -> None:
    """By another route: what is believed before is a mixture of what would be believed after each answer; readings
    shift the shares of that mixture by their densities, and nothing else."""
    before = _probabilities(Evidence(SYMPTOM))
    after = {o: _probabilities(Evidence(SYMPTOM, (("case-drain", o),))) for o in ("right", "high")}
    causes = sorted(before)
    table = np.array([[after[o][c] for o in after] for c in causes])
    shares, *_ = np.linalg.lstsq(table, np.array([before[c] for c in causes]), rcond=None)
    assert shares.sum() == pytest.approx(1.0, abs=1e-6)
    flow, efficiency = (1.1, 0.1), (0.84, 0.02)
    dense = [_dense(flow[0], 0.5, 0.2, flow[1]) * _dense(efficiency[0], 0.92, 0.03, efficiency[1]),
             _dense(flow[0], 1.8, 0.5, flow[1]) * _dense(efficiency[0], 0.75, 0.08, efficiency[1])]  # fmt: skip
    shifted = shares * dense / (shares @ dense)
    read = (
        SoftReading("case-drain", *flow, "case_drain_flow"),
        SoftReading("case-drain", *efficiency, "pump_efficiency"),
    )
    seen = _probabilities(Evidence(SYMPTOM, (), read))
    assert [seen[c] for c in causes] == pytest.approx(list(table @ shifted), rel=1e-6)


def test_a_quantity_without_a_name_is_the_first_and_a_strange_one_is_nothing() -> None:
    named = Evidence(SYMPTOM, (), (SoftReading("case-drain", 1.5, 0.0, "case_drain_flow"),))
    assert _probabilities(named) == _probabilities(Evidence(SYMPTOM, (), (SoftReading("case-drain", 1.5),)))
    strange = Evidence(SYMPTOM, (), (SoftReading("case-drain", 1.5, 0.0, "case_drain_colour"),))
    assert _probabilities(strange) == _probabilities(Evidence(SYMPTOM))


def test_of_two_readings_of_one_quantity_the_later_counts() -> None:
    both = (SoftReading("case-drain", 0.4, 0.0), SoftReading("case-drain", 1.5, 0.0))
    assert _probabilities(Evidence(SYMPTOM, (), both)) == _probabilities(Evidence(SYMPTOM, (), both[1:]))
