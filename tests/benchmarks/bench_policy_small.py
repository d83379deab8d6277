"""Expected minutes to fix of several policies against the exact optimum, on small random books.

Run by hand: PYTHONPATH=tests python tests/benchmarks/bench_policy_small.py [instances]
Results: bench_policy_small.txt.
"""

from __future__ import annotations

import platform
import sys
import time

import numpy as np
from aids.exact_policy import Shop
from aids.policies import by_fixed_chart, by_information, by_probability_over_cost, ours
from aids.random_book import random_book
from aids.simulate import perturbed

SEED = 1000
NAMES = (
    "two steps ahead (ours)",
    "one step ahead",
    "information a minute",
    "probability / cost",
    "fixed chart",
    "ours, parameters off by logit noise 0.7",
)


def _instance(seed: int) -> list[float]:
    rng = np.random.default_rng(seed)
    causes, checks = ((4, 3), (4, 3), (4, 3), (5, 3), (4, 4))[seed % 5]
    book = random_book(rng, causes=causes, checks=checks, symptoms=1)
    shop = Shop(book, "s0")
    best, _ = shop.best(shop.start)
    policies = (
        ours(shop),
        ours(shop, deep=False),
        by_information(shop),
        by_probability_over_cost(shop),
        by_fixed_chart(shop),
    )
    ratios = [shop.of_policy(policy) / best for policy in policies]
    believed = Shop(perturbed(book, rng, logit=0.7), "s0")
    return [*ratios, shop.of_policy(ours(believed), believed) / best]


def _interval(values: np.ndarray, rng: np.random.Generator) -> tuple[float, float]:
    means = rng.choice(values, size=(2000, len(values))).mean(axis=1)
    return float(np.quantile(means, 0.025)), float(np.quantile(means, 0.975))


def main() -> None:
    """Print the table."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 300
    start = time.perf_counter()
    ratios = np.array([_instance(SEED + n) for n in range(count)])
    rng = np.random.default_rng(SEED)
    print(f"{count} random books of 4-5 causes, 3-4 checks, 3 covers; seeds {SEED} to {SEED + count - 1}")
    print(f"{platform.machine()}, Python {platform.python_version()}, {time.perf_counter() - start:.0f} s")
    print("expected minutes to fix over those of the exact optimum (dynamic programming)\n")
    print(f"{'policy':<42}{'mean':>7}{'95 % interval':>18}{'95th pct':>10}{'worst':>8}")
    for name, column in zip(NAMES, ratios.T, strict=True):
        low, high = _interval(column, rng)
        pct = np.quantile(column, 0.95)
        print(f"{name:<42}{column.mean():>7.3f}{f'{low:.3f} to {high:.3f}':>18}{pct:>10.3f}{column.max():>8.3f}")


if __name__ == "__main__":
    main()
