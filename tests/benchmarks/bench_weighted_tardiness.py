"""Our search on one machine against published optima of OR-Library's wt40 (total weighted tardiness, 40 jobs):

    PYTHONPATH=tests python tests/benchmarks/bench_weighted_tardiness.py > tests/benchmarks/bench_weighted_tardiness.txt

Each of the first five instances is searched from ten seeds with the same number of tries; the best of the ten is held
against the optimum, and how many of the ten reach it stands beside.
"""

from __future__ import annotations

import platform
import random
import time

from aids.plan_check import faults
from aids.single_machine import problem_of, tardiness
from aids.wt40 import OPTIMA, instances

from shopboard.planning.search import by_tries, plan

SEEDS, TRIES = range(1, 11), 30_000


def main() -> None:
    """Print the table."""
    print(f"OR-Library wt40, first five; {TRIES} tries from each of seeds {SEEDS[0]} to {SEEDS[-1]}")
    print(f"{platform.machine()}, Python {platform.python_version()}, one process; seconds of processor time a search")
    print(f"{'instance':>8}{'optimum':>9}{'best found':>12}{'reached by':>12}{'worst found':>13}{'seconds':>9}")
    reached = 0
    for number, (jobs, optimum) in enumerate(zip(instances(), OPTIMA, strict=True), 1):
        begun, found = time.process_time(), []
        for seed in SEEDS:
            made = plan(problem_of(jobs), random.Random(seed), by_tries(TRIES))
            assert not faults(made), faults(made)[:3]
            found.append(tardiness(jobs, made))
        each, hits = (time.process_time() - begun) / len(SEEDS), sum(cost == optimum for cost in found)
        reached += min(found) == optimum
        share = f"{hits} of {len(SEEDS)}"
        print(f"{number:>8}{optimum:>9}{min(found):>12.0f}{share:>12}{max(found):>13.0f}{each:>9.1f}", flush=True)
    print(f"optima reached: {reached} of {len(OPTIMA)} (wanted: all)")


if __name__ == "__main__":
    main()
