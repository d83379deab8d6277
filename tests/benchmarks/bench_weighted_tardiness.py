"""Our search on one machine against the published optima of OR-Library's wt40 (total weighted tardiness, 40 jobs).

The instances are not kept here: get wt40.txt from OR-Library (J. E. Beasley, "OR-Library: distributing test problems by
electronic mail", J. Opl. Res. Soc. 41(11), 1990) and run by hand:
PYTHONPATH=tests python tests/benchmarks/bench_weighted_tardiness.py wt40.txt
Results: bench_weighted_tardiness.txt.
"""

from __future__ import annotations

import platform
import random
import sys
import time
from collections.abc import Callable
from pathlib import Path

from aids.plan_check import faults
from aids.single_machine import Job, problem_of, tardiness

from shopboard.planning.search import plan

#: Optima of the first five instances, published with the files.
OPTIMA = (913, 1225, 537, 2094, 990)
JOBS, TRIES = 40, 30_000


def _instances(path: str) -> list[list[Job]]:
    numbers = [int(word) for word in Path(path).read_text().split()]
    found = []
    for first in range(0, len(OPTIMA) * 3 * JOBS, 3 * JOBS):
        times, weights, dues = (numbers[first + k * JOBS : first + (k + 1) * JOBS] for k in range(3))
        found.append([(p, float(w), d) for p, w, d in zip(times, weights, dues, strict=True)])
    return found


def _counter(left: int, done: Callable[[], bool] = lambda: False) -> Callable[[], bool]:
    count = [left]

    def go() -> bool:
        count[0] -= 1
        return count[0] >= 0 and not done()

    return go


def main() -> None:
    """Print the table."""
    print(f"OR-Library wt40, first five; {TRIES} tries from seed 1 each; {platform.machine()}, one process")
    print(f"{'instance':>8}{'optimum':>9}{'found':>8}{'seconds':>9}")
    for number, (jobs, optimum) in enumerate(zip(_instances(sys.argv[1]), OPTIMA, strict=True), 1):
        start = time.perf_counter()
        found = plan(problem_of(jobs), random.Random(1), _counter(TRIES))
        assert not faults(found)
        print(f"{number:>8}{optimum:>9}{tardiness(jobs, found):>8.0f}{time.perf_counter() - start:>9.1f}", flush=True)


if __name__ == "__main__":
    main()
