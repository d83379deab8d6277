"""One machine: textbook optima, and small problems against dynamic programming over all subsets."""

from __future__ import annotations

import random
from collections.abc import Callable

import pytest
from aids.plan_check import faults
from aids.single_machine import Job, best_tardiness, problem_of, tardiness

from shopboard.planning.dispatch import dispatch
from shopboard.planning.search import plan


def tries(count: int) -> Callable[[], bool]:
    left = [count]

    def go() -> bool:
        left[0] -= 1
        return left[0] >= 0

    return go


def solved(jobs: list[Job], seed: int, count: int) -> float:
    found = plan(problem_of(jobs), random.Random(seed), tries(count))
    assert not faults(found)
    assert tardiness(jobs, found) == found.cost
    return found.cost


def test_total_tardiness_of_the_textbook_s_five_jobs() -> None:
    """1 || sum T_j with p 121 79 147 83 130 and d 260 266 266 336 337: optimum 370 (Pinedo, Scheduling, branch and
    bound of the total tardiness chapter; value confirmed by enumeration)."""
    jobs: list[Job] = [(121, 1, 260), (79, 1, 266), (147, 1, 266), (83, 1, 336), (130, 1, 337)]
    assert best_tardiness(jobs) == 370
    assert solved(jobs, 1, 400) == 370


def random_jobs(seed: int, count: int) -> list[Job]:
    """Times 1-100, weights 1-10, due dates spread as Potts and Van Wassenhove (Operations Research 33(2), 1985) do."""
    rng = random.Random(seed)
    times = [rng.randint(1, 100) for _ in range(count)]
    total, tight, spread = sum(times), rng.choice((0.2, 0.4, 0.6, 0.8)), rng.choice((0.2, 0.6, 1.0))
    low, high = total * (1 - tight - spread / 2), total * (1 - tight + spread / 2)
    return [(time, float(rng.randint(1, 10)), max(0, round(rng.uniform(low, high)))) for time in times]


@pytest.mark.parametrize("seed", range(12))
def test_ten_random_jobs_reach_the_optimum(seed: int) -> None:
    jobs = random_jobs(seed, 10)
    assert solved(jobs, seed, 4000) == best_tardiness(jobs)


def test_the_earliest_due_date_rule_has_the_least_greatest_lateness() -> None:
    """Jackson's rule (1955) for 1 || L_max, against every order of seven jobs that subsets allow."""
    for seed in range(10):
        jobs = [(time, 1.0, due) for time, _, due in random_jobs(seed, 7)]
        made = dispatch(problem_of(jobs), "EDD")
        assert max(made.lateness.values()) == _least_greatest_lateness(jobs)


def _least_greatest_lateness(jobs: list[Job]) -> int:
    best = {0: -(10**9)}
    for done in range(1, 1 << len(jobs)):
        end = sum(job[0] for number, job in enumerate(jobs) if done >> number & 1)
        best[done] = min(
            max(best[done ^ (1 << last)], end - jobs[last][2]) for last in range(len(jobs)) if done >> last & 1
        )
    return best[(1 << len(jobs)) - 1]
