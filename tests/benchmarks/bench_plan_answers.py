"""How soon the plan answers: each person's next job, and the risk of two hundred open jobs, by hand:

python tests/benchmarks/bench_plan_answers.py > tests/benchmarks/bench_plan_answers.txt
"""

from __future__ import annotations

import os
import platform
import sys
import time
from pathlib import Path
from random import Random

sys.path.insert(0, str(Path(__file__).parents[1]))
sys.path.insert(0, str(Path(__file__).parents[2]))
from planning.test_next_job import ZONE, plan_of, random_shop
from planning.test_promises import crowd, error_against_one_by_one, luck

from shopboard.planning.next_job import next_job, skipped_by
from shopboard.planning.promise import futures, risks
from shopboard.shop import take


def next_jobs(seeds: range) -> list[float]:
    """Milliseconds of processor time of each answer, over random shops."""
    took = []
    for seed in seeds:
        quick = random_shop(Random(seed))
        plan = plan_of(quick)
        for person in ("ana", "bo"):
            begun = time.process_time()
            next_job(
                quick.state, plan, person, quick.now, ZONE,
                lambda job, who, bay, quick=quick: take.can_start(quick.state, quick.now, job, who, bay),
                skipped_by(quick.state, person, quick.now, ZONE),
            )  # fmt: skip
            took.append((time.process_time() - begun) * 1000)
    return sorted(took)


def main() -> None:
    """All figures."""
    print(f"{platform.machine()}, {os.cpu_count()} cores, Python {platform.python_version()}, seeds as in the file")
    took = next_jobs(range(3000, 3200))
    middle, most = took[len(took) // 2], took[len(took) * 99 // 100]
    print(f"next job, {len(took)} answers: median {middle:.2f} ms, 99 % {most:.2f} ms,")
    print(f"  most {took[-1]:.2f} ms (to hold: 50 ms)")
    reckoned = crowd(5, 200, 6, 8)
    begun, wall = time.process_time(), time.perf_counter()
    risks(futures(reckoned, luck(1)), 0.8)
    spent, waited = time.process_time() - begun, time.perf_counter() - wall
    print(
        f"risk of 200 jobs, 6 people, 8 bays, 400 futures: {spent:.2f} s of processor time, {waited:.2f} s on the clock"
    )
    error = error_against_one_by_one(crowd(4, 200, 6, 8), 100)
    print(f"mean error of P(late) against 100 futures of other luck, each run alone: {error:.3f} (to hold: .05)")


if __name__ == "__main__":
    main()
