"""One machine: textbook optima, and small problems against every order or dynamic programming over all subsets.

A plan's cost is Σ w·(late·tardiness + waiting·wait). So total (weighted) tardiness and total weighted completion time
are costs of plans, and the search is held to their optima. The greatest lateness and the number of late jobs are not:
no choice of `late` and `waiting` makes a plan's cost either of them. For these the plan's own lateness is compared: the
earliest due date rule reaches the least greatest lateness; late jobs are never fewer than Moore and Hodgson's least
number and come to none wherever that is none, but a plan may let one more job be late where that saves tardiness.
"""

from __future__ import annotations

import random

import pytest
from aids.plan_check import faults
from aids.single_machine import Job, best_tardiness, every_order, fewest_late, problem_of, tardiness
from aids.wt40 import OPTIMA, instances

from shopboard.planning.dispatch import dispatch
from shopboard.planning.search import by_tries, plan
from shopboard.planning.tasks import Plan


def solved(jobs: list[Job], seed: int, count: int) -> float:
    found = plan(problem_of(jobs), random.Random(seed), by_tries(count))
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


def test_five_published_optima_are_reached() -> None:
    """OR-Library's wt40, the first five (source beside the numbers): some search among three seeds and up to so many
    tries comes down to each optimum, and none below it."""
    for jobs, optimum in zip(instances(), OPTIMA, strict=True):
        found = [float("inf")]
        for seed, count in ((seed, count) for count in (2_000, 8_000, 32_000, 128_000) for seed in (1, 2, 3)):
            found.append(solved(jobs, seed, count))
            if min(found) <= optimum:
                break
        assert min(found) == optimum


def test_total_tardiness_of_seven_jobs_against_every_order() -> None:
    """1 || sum T_j: all weights 1."""
    for seed in range(20):
        jobs = [(time, 1.0, due) for time, _, due in random_jobs(seed, 7)]
        least = min(sum(max(0, ends[n] - jobs[n - 1][2]) for n in ends) for ends in every_order(jobs))
        assert solved(jobs, seed, 1000) == least


def test_weight_over_time_has_the_least_weighted_completion() -> None:
    """1 || sum w_j C_j: by falling w/p (W. E. Smith, Naval Research Logistics Quarterly 3, 1956), which the apparent
    tardiness cost rule is when nothing can be on time; the search must come down to it too."""
    for seed in range(20):
        jobs = [(time, weight, 0) for time, weight, _ in random_jobs(seed, 7)]
        least = min(sum(jobs[n - 1][1] * end for n, end in ends.items()) for ends in every_order(jobs))
        problem = problem_of(jobs, late=0.0, waiting=1.0)
        work = sum(weight * time for time, weight, _ in jobs)
        for made in (dispatch(problem, "ATC"), plan(problem, random.Random(seed), by_tries(1000))):
            assert not faults(made)
            assert sum(jobs[one.task.job - 1][1] * one.end for one in made.placed) == least
            assert made.cost == least - work


def late_ones(made: Plan) -> int:
    return sum(late > 0 for late in made.lateness.values())


def test_the_textbook_s_least_number_of_late_jobs() -> None:
    """1 || sum U_j with p 7 8 4 6 6 and d 9 17 18 19 21: two are late (Pinedo, Scheduling, example of the number of
    tardy jobs; value confirmed by enumeration)."""
    jobs: list[Job] = [(7, 1, 9), (8, 1, 17), (4, 1, 18), (6, 1, 19), (6, 1, 21)]
    assert fewest_late(jobs) == _fewest_late_of_every_order(jobs) == 2
    assert late_ones(plan(problem_of(jobs), random.Random(1), by_tries(400))) >= 2


def test_late_jobs_are_never_fewer_than_can_be_and_none_where_none_need_be() -> None:
    """1 || sum U_j against Moore and Hodgson's algorithm (1968), which is held to every order here as well."""
    none = 0
    for seed in range(60):
        jobs = [(time, 1.0, due + 60 * (seed % 3)) for time, _, due in random_jobs(seed, 6)]
        least = fewest_late(jobs)
        assert least == _fewest_late_of_every_order(jobs)
        for made in (dispatch(problem_of(jobs), "EDD"), plan(problem_of(jobs), random.Random(seed), by_tries(400))):
            late = {one.task.job: one.end - jobs[one.task.job - 1][2] for one in made.placed}
            assert made.lateness == late
            assert late_ones(made) >= least
            assert least or not late_ones(made)
        none += not least
    assert 5 < none < 55


def test_less_tardiness_can_mean_one_more_late_job() -> None:
    """The difference between the two goals: in all orders of least total tardiness 16 three are late, where two need
    be."""
    jobs: list[Job] = [(4, 1, 1), (4, 1, 7), (5, 1, 1)]
    made = plan(problem_of(jobs), random.Random(1), by_tries(100))
    assert (made.cost, late_ones(made), fewest_late(jobs)) == (16, 3, 2)


def _fewest_late_of_every_order(jobs: list[Job]) -> int:
    return min(sum(end > jobs[n - 1][2] for n, end in ends.items()) for ends in every_order(jobs))


def test_the_earliest_due_date_rule_has_the_least_greatest_lateness() -> None:
    """1 || L_max: J. R. Jackson's rule (UCLA, Management Science Research Project 43, 1955) against every order; a plan
    made for another goal is never below it."""
    for seed in range(20):
        jobs = [(time, 1.0, due) for time, _, due in random_jobs(seed, 7)]
        least = min(max(end - jobs[n - 1][2] for n, end in ends.items()) for ends in every_order(jobs))
        assert max(dispatch(problem_of(jobs), "EDD").lateness.values()) == least
        assert max(plan(problem_of(jobs), random.Random(seed), by_tries(200)).lateness.values()) >= least
