"""Failure ages against published data sets and values."""

from __future__ import annotations

import math

import pytest

from shopboard.memory.kaplan_meier import kaplan_meier
from shopboard.memory.lives import Life, columns
from shopboard.memory.outcomes import wilson
from shopboard.memory.replacement import best_interval
from shopboard.memory.weibull import Fit, Weibull, fit


def _lives(failed: str, going_on: str = "") -> list[Life]:
    return [Life(0, float(age), True) for age in failed.split()] + [
        Life(0, float(age), False) for age in going_on.split()
    ]


def _fit(failed: str, going_on: str = "") -> Fit:
    return fit(columns(_lives(failed, going_on)))


def test_ten_failures_and_ten_survivors_at_500() -> None:
    """NIST/SEMATECH e-Handbook of Statistical Methods, 8.4.1.3: maximum likelihood, with standard errors and log L."""
    found = _fit("54 187 216 240 244 335 361 373 375 386", "500 " * 10)
    assert found.life.shape == pytest.approx(1.7208, abs=1e-4)
    assert found.life.scale == pytest.approx(606.528, rel=1e-5)
    assert found.log_likelihood == pytest.approx(-75.1346, abs=1e-4)
    assert found.se_shape == pytest.approx(0.5022, abs=1e-4)
    assert found.se_scale == pytest.approx(124.91, abs=1e-2)


def test_five_failures_and_two_suspensions() -> None:
    """Abernethy, The New Weibull Handbook, appendix C.5."""
    found = _fit("1500 2250 4000 4300 7000", "1750 5000")
    assert found.life.shape == pytest.approx(2.257, rel=1e-3)
    assert found.life.scale == pytest.approx(4900.1, rel=1e-3)


def test_twelve_failures_and_eight_suspensions() -> None:
    """J. Quality Technology 29 (1997), doi 10.1080/00224065.1997.11979730."""
    found = _fit("45 46 34 45 32 24 58 79 56 63 34 50", "23 24 57 78 76 85 51 59")
    assert found.life.shape == pytest.approx(2.7540, rel=1e-3)
    assert found.life.scale == pytest.approx(67.919, rel=1e-3)


#: Hours and units still running at them, of 1703 bearing cages; typed in from the table named in the test.
CAGES = {
    50: 288, 150: 148, 250: 124, 350: 111, 450: 106, 550: 99, 650: 110, 750: 114, 850: 119, 950: 127, 1050: 123,
    1150: 93, 1250: 47, 1350: 41, 1450: 27, 1550: 11, 1650: 6, 1850: 1, 2050: 2,
}  # fmt: skip


def test_six_failures_among_1703_bearing_cages() -> None:
    """Meeker & Escobar, Statistical Methods for Reliability Data (1998), table C.5 and example 8.16."""
    failed = _lives("230 334 423 990 1009 1510")
    running = [Life(0, float(age), False) for age in CAGES]
    assert len(failed) + sum(CAGES.values()) == 1703
    found = fit(columns([*failed, *running], [1.0] * 6 + [float(many) for many in CAGES.values()]))
    assert found.life.shape == pytest.approx(2.035, rel=1e-3)
    assert found.life.scale == pytest.approx(11_792, rel=1e-3)
    assert found.log_likelihood == pytest.approx(-76.4369, rel=1e-3)
    assert found.life.age_when(0.1) == pytest.approx(3903, rel=1e-3)


def test_one_by_one_and_counted_are_the_same() -> None:
    one_by_one = _lives("230 334 423 990 1009 1510") + [
        Life(0, float(age), False) for age, many in CAGES.items() for _ in range(many)
    ]
    found = fit(columns(one_by_one))
    assert found.life.shape == pytest.approx(2.035, rel=1e-3)
    assert found.log_likelihood == pytest.approx(-76.4369, rel=1e-3)


def test_23_ball_bearings() -> None:
    """Lieblein & Zelen, J. Res. Nat. Bur. Standards 57 (1956): millions of turns, none unfailed."""
    found = _fit(
        "17.88 28.92 33.00 41.52 42.12 45.60 48.40 51.84 51.96 54.12 55.56 67.80 68.64 68.64 68.88 84.12 93.12 98.64 "
        "105.12 105.84 127.92 128.04 173.40"
    )
    assert found.life.shape == pytest.approx(2.102, rel=1e-3)
    assert found.life.scale == pytest.approx(81.875, rel=1e-3)


def test_share_still_good_with_units_removed() -> None:
    """NIST/SEMATECH e-Handbook of Statistical Methods, 8.2.1.5: 6 failures of 20 units."""
    curve = kaplan_meier(_lives("10 32 56 98 122 181", "50 100 125 150 " + "200 " * 10))
    assert [step.at for step in curve.steps] == [10, 32, 56, 98, 122, 181]
    expected = [0.9500, 0.9000, 0.8471, 0.7941, 0.7374, 0.6704]
    assert [step.good for step in curve.steps] == pytest.approx(expected, abs=1e-4)


def test_weeks_of_remission() -> None:
    """Freireich et al., Blood 21 (1963): the 6-MP arm, 9 of 21 relapsed."""
    curve = kaplan_meier(_lives("6 6 6 7 10 13 16 22 23", "6 9 10 11 17 19 20 25 32 32 34 35"))
    assert [step.at for step in curve.steps] == [6, 7, 10, 13, 16, 22, 23]
    expected = [0.8571, 0.8067, 0.7529, 0.6902, 0.6275, 0.5378, 0.4482]
    assert [step.good for step in curve.steps] == pytest.approx(expected, abs=1e-4)
    assert curve.quantile(0.5) == 23
    assert math.isnan(curve.good(36)), "beyond 35 weeks nobody was watched"


def test_age_replacement() -> None:
    """Planned cost 1, failure cost 5, scale 1000, shape 2.5: Barlow & Hunter (1960), minimised here by scipy and by
    numerical integration of the share still good; a published grid search by another library gives 493.19."""
    from scipy.integrate import quad
    from scipy.optimize import minimize_scalar

    def rate(age: float) -> float:
        gone = 1 - math.exp(-((age / 1000) ** 2.5))
        return ((1 - gone) + 5 * gone) / quad(lambda t: math.exp(-((t / 1000) ** 2.5)), 0, age)[0]

    best = best_interval(Weibull(2.5, 1000.0), 1, 5)
    assert best is not None
    assert best.age == pytest.approx(493.05, abs=0.3)
    assert best.age == pytest.approx(minimize_scalar(rate, bounds=(50, 3000), method="bounded").x, abs=0.01)
    assert best.rate == pytest.approx(0.00346204, abs=1e-8)
    assert best.unplanned == pytest.approx(0.0056353, abs=1e-7)


@pytest.mark.parametrize(
    ("seen", "of", "low", "high"),
    [(81, 263, 0.2553, 0.3662), (15, 148, 0.0624, 0.1605), (0, 20, 0.0, 0.1611), (1, 29, 0.0061, 0.1718)],
)
def test_the_band_of_a_share(seen: int, of: int, low: float, high: float) -> None:
    """Newcombe, Statistics in Medicine 17 (1998) 857-872, table I, method 3 (Wilson), 95 % (figures from memory)."""
    assert wilson(seen, of, 0.95) == pytest.approx((low, high), abs=5e-5)
