"""Fits, curves and bands against lifelines and surpyval on random lives: survivors, late entries, ties."""

from __future__ import annotations

import time

import numpy as np
import pytest

from shopboard.memory.kaplan_meier import kaplan_meier
from shopboard.memory.lead_times import Wait, log_rank
from shopboard.memory.lives import Life, columns
from shopboard.memory.repeats import Repaired, mean_repairs
from shopboard.memory.weibull import Weibull, fit, log_likelihood

pytestmark = pytest.mark.oracle

SETS = 120


def _random_lives(seed: int, size: int = 0) -> list[Life]:
    """10 to 150 lives; in every other set some are watched from later on; ages in whole hours, so that some tie."""
    rng = np.random.default_rng(seed)
    n = size or int(rng.integers(10, 150))
    shape, scale = float(rng.uniform(0.6, 4)), float(rng.uniform(200, 3000))
    late = rng.random(n) < (0.4 if seed % 2 else 0.0)
    start = np.where(late, np.ceil(rng.random(n) * scale * 0.4), 0.0)
    ages = np.ceil(scale * ((start / scale) ** shape + rng.exponential(size=n)) ** (1 / shape))
    seen = np.ceil(start + rng.random(n) * scale * 1.6 + 1)
    ages = np.maximum(ages, start + 1)
    lives = [Life(s, min(a, b), bool(a <= b)) for s, a, b in zip(start, ages, seen, strict=True)]
    return lives if len({life.end for life in lives if life.failed}) >= 3 else _random_lives(seed + 10_000, size)


def _arrays(lives: list[Life]) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    data = columns(lives)
    return data.end, data.failed, data.start


@pytest.mark.parametrize("seed", range(SETS))
def test_the_fit_agrees_with_lifelines(seed: int) -> None:
    from lifelines import WeibullFitter

    lives = _random_lives(seed)
    end, failed, start = _arrays(lives)
    ours = fit(columns(lives))
    entry = start if start.any() else None
    theirs = WeibullFitter().fit(end, failed, entry=entry, fit_options={"ftol": 1e-15, "gtol": 1e-12})
    assert ours.life.shape == pytest.approx(theirs.rho_, rel=1e-6)
    assert ours.life.scale == pytest.approx(theirs.lambda_, rel=1e-6)
    assert ours.log_likelihood == pytest.approx(theirs.log_likelihood_, rel=1e-9)
    errors = theirs.summary["se(coef)"]
    assert ours.se_shape == pytest.approx(errors["rho_"], rel=1e-4)
    assert ours.se_scale == pytest.approx(errors["lambda_"], rel=1e-4)


@pytest.mark.parametrize("seed", range(SETS))
def test_the_fit_agrees_with_surpyval(seed: int) -> None:
    import surpyval

    lives = _random_lives(seed)
    end, failed, start = _arrays(lives)
    ours = fit(columns(lives))
    late = {"tl": start} if start.any() else {}
    theirs = surpyval.Weibull.fit(end, c=(~failed).astype(int), **late)
    scale, shape = theirs.params
    assert ours.life.shape == pytest.approx(shape, rel=1e-5)
    assert ours.life.scale == pytest.approx(scale, rel=1e-5)
    assert ours.log_likelihood >= log_likelihood(columns(lives), Weibull(shape, scale)) - 1e-9


@pytest.mark.parametrize("seed", range(SETS))
def test_the_curve_agrees_with_lifelines(seed: int) -> None:
    from lifelines import KaplanMeierFitter

    lives = _random_lives(seed)
    end, failed, start = _arrays(lives)
    theirs = KaplanMeierFitter(alpha=0.1).fit(end, failed, entry=start if start.any() else None)
    curve = kaplan_meier(lives)
    ages = [step.at for step in curve.steps]
    # Where everything at risk has failed nothing is left to have a band, and the other writes none
    whole = [step for step in curve.steps if 0 < step.good < 1]
    assert [step.good for step in curve.steps] == pytest.approx(list(theirs.predict(ages)), rel=1e-6, abs=1e-12)
    bands = theirs.confidence_interval_survival_function_.loc[[step.at for step in whole]]
    assert [step.low for step in whole] == pytest.approx(list(bands.iloc[:, 0]), rel=1e-6)
    assert [step.high for step in whole] == pytest.approx(list(bands.iloc[:, 1]), rel=1e-6)


def test_a_hundred_times_as_fast_as_lifelines_at_200_machines() -> None:
    from lifelines import WeibullFitter

    lives = _random_lives(3, 200)
    end, failed, start = _arrays(lives)
    data = columns(lives)

    def best(call, times: int) -> float:
        spent = []
        for _ in range(times):
            begun = time.perf_counter()
            call()
            spent.append(time.perf_counter() - begun)
        return min(spent)

    ours = best(lambda: fit(data), 30)
    theirs = best(lambda: WeibullFitter().fit(end, failed, entry=start), 5)
    assert theirs / ours >= 100, f"{theirs / ours:.0f} times as fast"


@pytest.mark.parametrize("seed", range(30))
def test_slower_agrees_with_the_log_rank_test_of_lifelines(seed: int) -> None:
    from lifelines.statistics import logrank_test

    rng = np.random.default_rng(seed)
    sides = []
    for slow in (1.0, 1.0 + 0.5 * (seed % 3)):
        took, seen = np.ceil(rng.lognormal(2, 0.6, 25) * slow), np.ceil(rng.random(25) * 30)
        sides.append([Wait(float(min(t, s)), bool(t <= s)) for t, s in zip(took, seen, strict=True)])
    arrays = [(np.array([w.end for w in side]), np.array([w.failed for w in side])) for side in sides]
    theirs = logrank_test(arrays[0][0], arrays[1][0], arrays[0][1], arrays[1][1])
    ours = log_rank(*sides)
    assert 2 * min(ours, 1 - ours) == pytest.approx(theirs.p_value, rel=1e-6)


@pytest.mark.parametrize("seed", range(20))
def test_mean_repairs_agree_with_surpyval(seed: int) -> None:
    from surpyval.recurrent import NonParametricCounting

    rng = np.random.default_rng(seed)
    machines, x, i, c = [], [], [], []
    for id in range(15):
        to = float(np.ceil(300 + 700 * rng.random())) + 0.5
        ages = sorted({float(a) for a in np.ceil(rng.random(rng.poisson(2)) * (to - 1)) if a > 0})
        machines.append(Repaired(0.0, to, tuple(ages)))
        x += [*ages, to]
        i += [id] * (len(ages) + 1)
        c += [0] * len(ages) + [1]
    theirs = NonParametricCounting.fit(np.array(x), i=np.array(i), c=np.array(c))
    means = mean_repairs(machines)
    assert [mean.repairs for mean in means] == pytest.approx(list(theirs.mcf([m.at for m in means])), rel=1e-5)
