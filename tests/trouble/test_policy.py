"""Our choices against the exact optimum on small books; the full comparison is in tests/benchmarks."""

from __future__ import annotations

import numpy as np
import pytest
from aids.exact_policy import Shop
from aids.policies import by_fixed_chart, by_probability_over_cost, ours
from aids.random_book import random_book


def _ratios(seed: int) -> tuple[float, float, float]:
    rng = np.random.default_rng(seed)
    shop = Shop(random_book(rng, causes=4, checks=3, symptoms=1), "s0")
    best, _ = shop.best(shop.start)
    return tuple(shop.of_policy(policy(shop)) / best for policy in (ours, by_probability_over_cost, by_fixed_chart))  # type: ignore[return-value]


@pytest.fixture(scope="module")
def ratios() -> np.ndarray:
    return np.array([_ratios(seed) for seed in range(200, 210)])


def test_no_policy_beats_the_optimum(ratios: np.ndarray) -> None:
    assert ratios.min() >= 1 - 1e-9


def test_ours_is_within_two_percent_of_the_optimum_and_ahead_of_the_others(ratios: np.ndarray) -> None:
    mean = ratios.mean(axis=0)
    assert mean[0] <= 1.02
    assert mean[0] < mean[1] and mean[0] < mean[2]
