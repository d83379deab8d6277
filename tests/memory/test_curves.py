"""Shares still good, fits and their bands: independent routes, properties, and how often the bands hold."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shopboard.memory import Life
from shopboard.memory.bands import scatter
from shopboard.memory.kaplan_meier import kaplan_meier
from shopboard.memory.lives import columns
from shopboard.memory.weibull import NoFitError, Weibull, fit, log_likelihood

LIVES = st.lists(
    st.tuples(st.integers(0, 50), st.integers(1, 100), st.booleans()).map(
        lambda row: Life(float(row[0]), float(row[0] + row[1]), row[2])
    ),
    min_size=1,
    max_size=25,
)


@given(LIVES)
@settings(deadline=None)
def test_the_curve_is_the_product_counted_out_by_hand(lives: list[Life]) -> None:
    curve = kaplan_meier(lives)
    good = 1.0
    for age in sorted({life.end for life in lives if life.failed}):
        at_risk = sum(1 for life in lives if life.start < age <= life.end)
        good *= 1 - sum(1 for life in lives if life.failed and life.end == age) / at_risk
        assert curve.good(age) == pytest.approx(good)
        low, high = curve.band(age)
        assert 0 <= low <= good + 1e-12 and good <= high + 1e-12 <= 1 + 1e-9


@given(LIVES, st.floats(0.1, 30))
@settings(deadline=None)
def test_other_units_of_age_change_no_share(lives: list[Life], times: float) -> None:
    scaled = [Life(life.start * times, life.end * times, life.failed) for life in lives]
    assert [s.good for s in kaplan_meier(scaled).steps] == pytest.approx([s.good for s in kaplan_meier(lives).steps])


def test_without_survivors_the_curve_is_the_share_counted() -> None:
    curve = kaplan_meier([Life(0, age, True) for age in (30, 10, 20, 40)])
    assert [curve.good(age) for age in (9, 10, 25, 40)] == [1.0, 0.75, 0.5, 0.0]
    assert curve.quantile(0.5) == 20 and curve.quantile(1.0) == 40


def test_a_quantile_that_was_not_reached_is_none() -> None:
    curve = kaplan_meier([Life(0, 10, True), Life(0, 90, False), Life(0, 95, False)])
    assert curve.quantile(0.5) is None
    assert kaplan_meier([]).steps == () and math.isnan(kaplan_meier([]).good(1))


def _drawn(seed: int, n: int, shape: float, last: float, late: float = 0.0) -> list[Life]:
    """Lives of scale 1000, watched to ages even between 0 and `last`, a share `late` of them from later on."""
    rng = np.random.default_rng(seed)
    start = np.where(rng.random(n) < late, rng.random(n) * last / 2, 0.0)
    limit = start + rng.random(n) * last
    ages = 1000 * ((start / 1000) ** shape + rng.exponential(size=n)) ** (1 / shape)
    return [
        Life(float(s), float(min(a, b)), bool(a <= b), float(b)) for s, a, b in zip(start, ages, limit, strict=True)
    ]


@pytest.mark.parametrize("seed", range(20))
def test_no_other_shape_and_scale_is_likelier(seed: int) -> None:
    from scipy.optimize import minimize

    data = columns(_drawn(seed, 60, 0.6 + seed / 8, 1500, late=0.3))
    found = fit(data)
    there = minimize(
        lambda x: -log_likelihood(data, Weibull(math.exp(x[0]), math.exp(x[1]))),
        [0.0, math.log(900)],
        method="Nelder-Mead",
        options={"xatol": 1e-8, "fatol": 1e-10, "maxiter": 4000},
    )
    assert found.log_likelihood >= -there.fun - 1e-7
    assert found.life.shape == pytest.approx(math.exp(there.x[0]), rel=1e-4)


def test_a_fit_of_many_lives_finds_the_truth() -> None:
    found = fit(columns(_drawn(5, 40_000, 1.7, 2000, late=0.5)))
    assert abs(found.life.shape - 1.7) < 4 * found.se_shape < 0.1
    assert abs(found.life.scale - 1000) < 4 * found.se_scale < 40


@given(st.lists(st.floats(1, 1000), min_size=3, max_size=12, unique=True), st.floats(0.01, 100))
@settings(deadline=None)
def test_other_units_of_age_scale_the_fit(ages: list[float], times: float) -> None:
    try:
        plain = fit(columns([Life(0, age, True) for age in ages])).life
    except NoFitError:  # ages all but equal: a shape beyond what is looked for
        return
    scaled = fit(columns([Life(0, age * times, True) for age in ages])).life
    assert scaled.shape == pytest.approx(plain.shape, rel=1e-6)
    assert scaled.scale == pytest.approx(plain.scale * times, rel=1e-6)


def test_there_is_no_fit_without_failures_or_of_one_age() -> None:
    with pytest.raises(NoFitError, match="no failure is known"):
        fit(columns([Life(0, 100, False)]))
    with pytest.raises(NoFitError, match="the same age"):
        fit(columns([Life(0, 100, True)] * 6 + [Life(0, 80, False)]))


def _coverage(n: int, shape: float, last: float, late: float, sets: int, first: int) -> tuple[float, float, int]:
    """How often the 90 % bands of the shape and of B10 hold the truth, over sets with at least 5 failures."""
    held = np.zeros(2)
    done = 0
    for seed in range(first, first + sets):
        lives = _drawn(seed, n, shape, last, late)
        if sum(life.failed for life in lives) < 5:
            continue
        found = scatter(lives, np.random.default_rng(seed + 10**7), draws=399)
        truth = Weibull(shape, 1000.0)
        (low, high), (b_low, b_high) = found.shape_band(), found.age_band(0.1)
        held += (low <= shape <= high, b_low <= truth.age_when(0.1) <= b_high)
        done += 1
    return float(held[0] / done), float(held[1] / done), done


#: Lives, true shape, last age watched, share watched from later on, and the failures that makes on the average.
TEN = [(40, 1.5, 827.0, 0.0), (30, 2.0, 880.0, 0.5), (25, 1.0, 1150.0, 0.0)]
THIRTY = [(100, 1.5, 1000.0, 0.0), (80, 2.5, 1250.0, 0.3)]


@pytest.mark.parametrize(("n", "shape", "last", "late"), [TEN[0], THIRTY[0]])
def test_bands_hold_nine_times_in_ten(n: int, shape: float, last: float, late: float) -> None:
    """A small sample: within 4 standard errors of 90 %."""
    for share in _coverage(n, shape, last, late, 150, 0)[:2]:
        assert abs(share - 0.9) < 4 * math.sqrt(0.09 / 150)


@pytest.mark.long
@pytest.mark.parametrize(("n", "shape", "last", "late"), TEN + THIRTY)
def test_bands_hold_between_88_and_92_per_cent(n: int, shape: float, last: float, late: float) -> None:
    shape_held, b10_held, done = _coverage(n, shape, last, late, 2000, 50_000)
    print(f"{n} lives, shape {shape}: shape held {shape_held:.3f}, B10 {b10_held:.3f} of {done}")
    assert 0.88 <= shape_held <= 0.92
    assert 0.88 <= b10_held <= 0.92


def test_ends_of_watching_that_are_not_known_are_drawn_from_the_others() -> None:
    """Where every life would have been watched to 500 h, knowing it or not must come to the same."""
    ages = (54, 187, 216, 240, 244, 335, 361, 373, 375, 386)
    bands = []
    for limit in (500.0, None):
        lives = [Life(0, age, True, limit) for age in ages] + [Life(0, 500, False)] * 10
        bands.append(scatter(lives, np.random.default_rng(1), draws=4000).shape_band())
    assert bands[0] == pytest.approx(bands[1], rel=0.02)
    assert bands[0][0] < 1.7208 < bands[0][1]
