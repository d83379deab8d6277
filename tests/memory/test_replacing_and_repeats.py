"""When to replace by age, and repairs that come again: refused where nothing is to be said, and by other routes."""

from __future__ import annotations

import math

import numpy as np
import pytest
from aids.lives import job, machine

from shopboard.memory import Life, histories, repaired, repeats, replacement
from shopboard.memory.repeats import Repaired, mean_repairs
from shopboard.memory.replacement import best_interval, cost_rate
from shopboard.memory.weibull import Weibull


def _worn(failures: int, shape: float) -> list[Life]:
    exact = [1000 * (-math.log1p(-(i + 0.5) / failures)) ** (1 / shape) for i in range(failures)]
    return [Life(0, age, True) for age in exact]


def test_an_interval_is_stated_only_where_it_surely_wears_out() -> None:
    rng = np.random.default_rng(1)
    found = replacement(_worn(40, 3.0), rng, 1, 8)
    assert found.value is not None and found.low is not None and found.high is not None
    assert found.low < found.value < found.high
    truth = best_interval(Weibull(3.0, 1000.0), 1, 8)
    assert truth is not None and found.low < truth.age < found.high
    assert "saves" in found.said


@pytest.mark.parametrize(
    ("lives", "failed", "said"),
    [
        (_worn(9, 3.0), 8, "9 failures: too few to set an age to replace at (from 10 on)"),
        (_worn(40, 1.0), 8, "it is not sure that it wears out"),
        (_worn(40, 3.0), 1, "a planned replacement costs as much as a failure"),
        ([Life(0, 500, True)] * 12, 8, "every failure came at the same age"),
        ([Life(-1, 500, True)] * 12, 8, "an age is below 0 h"),
    ],
)
def test_elsewhere_it_is_a_sentence(lives: list[Life], failed: float, said: str) -> None:
    found = replacement(lives, np.random.default_rng(1), 1, failed)
    assert found.value is None and said in found.said


def test_costs_must_be_above_nothing() -> None:
    with pytest.raises(ValueError, match="above 0"):
        replacement(_worn(40, 3.0), np.random.default_rng(1), 0, 8)
    with pytest.raises(ValueError, match="above 0"):
        best_interval(Weibull(3.0, 1000.0), 1, -8)


@pytest.mark.parametrize(("shape", "failed"), [(1.2, 3.0), (2.5, 5.0), (4.0, 1.5), (1.6, 40.0)])
def test_no_age_on_a_fine_grid_costs_less(shape: float, failed: float) -> None:
    life = Weibull(shape, 1000.0)
    best = best_interval(life, 1, failed)
    rates = [cost_rate(life, 1, failed, age) for age in np.geomspace(5, 40_000, 4000)]
    if best is None:
        assert min(rates) >= failed / (1000 * math.gamma(1 + 1 / shape)) * (1 - 1e-9)
    else:
        assert best.rate <= min(rates) * (1 + 1e-12)
        assert 0 < best.saves < 1


def test_the_cost_an_hour_is_what_replaying_the_years_costs() -> None:
    """A part replaced at 400 h or at failure, 200 000 times over."""
    rng = np.random.default_rng(1)
    ages = 1000 * rng.weibull(2.0, 200_000)
    costs, ran = np.where(ages < 400, 5.0, 1.0).sum(), np.minimum(ages, 400).sum()
    assert cost_rate(Weibull(2.0, 1000.0), 1, 5, 400) == pytest.approx(costs / ran, rel=0.01)


def test_mean_repairs_by_hand() -> None:
    """Three machines: at 100 h one of three, at 300 h one of two, at 400 h two repairs on the one left."""
    means = mean_repairs([Repaired(0, 350, (100, 300)), Repaired(0, 500, (400, 400)), Repaired(0, 200)])
    assert [(mean.at, mean.watched) for mean in means] == [(100, 3), (300, 2), (400, 1)]
    assert [mean.repairs for mean in means] == pytest.approx([1 / 3, 1 / 3 + 1 / 2, 1 / 3 + 1 / 2 + 2])
    late = mean_repairs([Repaired(0, 350, (100,)), Repaired(150, 350)])
    assert late[0].repairs == 1.0, "who was not yet watched does not count"
    assert mean_repairs([]) == ()


def test_the_band_of_mean_repairs_holds_nine_times_in_ten() -> None:
    """Repairs at random, more on some machines than on others: 2 a thousand hours on the average."""
    held = 0
    for seed in range(300):
        rng = np.random.default_rng(seed)
        machines = []
        for _ in range(40):
            to = float(600 + 600 * rng.random())
            rate = 2.0 * float(rng.gamma(2.0, 0.5)) / 1000
            machines.append(Repaired(0, to, tuple(sorted(rng.random(rng.poisson(rate * to)) * to))))
        last = [mean for mean in mean_repairs(machines) if mean.at <= 600][-1]
        held += last.low <= 1.2 <= last.high
    assert abs(held / 300 - 0.9) < 4 * math.sqrt(0.09 / 300)


def test_repeats_are_spoken_of_only_where_there_are_some() -> None:
    machines = [machine(id, (0, 0), (100, 1000)) for id in range(1, 6)]
    jobs = [job(10 * id + n, id, 20 * n, "link", 200.0 * n) for id in range(1, 6) for n in (1, 2)]
    few = repeats(repaired(histories(machines, jobs[:4]), "link"), 1000)
    assert few.value is None and few.said == "2 machines had it more than once: too few to say how often it comes again"
    many = repeats(repaired(histories(machines, jobs), "link"), 1000)
    assert many.value == pytest.approx(200)
    assert many.said.startswith("200 repairs on a hundred machines by 1,000 h") and "5 machines" in many.said
    none = repeats(repaired(histories(machines, jobs), "link"), 100)
    assert none.value is None and none.said == "no repair by 100 h in 5 machines"
