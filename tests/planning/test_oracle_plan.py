"""Plans against an independent constraint solver: known optima, and our cost against the proved optimum."""

from __future__ import annotations

import random

import pytest
from aids.job_shops import FT06, LA01, problem_of
from aids.plan_check import faults
from aids.plan_shops import DAY, busy_shop

from shopboard.planning.search import by_tries, plan

pytestmark = pytest.mark.oracle


@pytest.mark.parametrize(("instance", "makespan", "horizon"), [(FT06, 55, 80), (LA01, 666, 900)])
def test_the_model_proves_the_published_makespan_and_the_validator_takes_its_plan(
    instance: str, makespan: int, horizon: int
) -> None:
    from aids.cp_plan import as_plan, solve

    problem = problem_of(instance)
    solved = solve(problem, 120.0, horizon=horizon, makespan=True)
    assert solved.optimal
    assert (solved.cost, solved.bound) == (makespan, makespan)
    made = as_plan(problem, solved)
    assert not faults(made)
    assert max(one.end for one in made.placed) == makespan


@pytest.mark.parametrize("instance", [FT06, LA01])
def test_our_own_plan_of_it_is_legal_and_no_shorter_than_the_optimum(instance: str) -> None:
    made = plan(problem_of(instance), random.Random(1), by_tries(500))
    assert not faults(made)
    assert max(one.end for one in made.placed) >= (55 if instance is FT06 else 666)


def test_small_shops_come_near_the_proved_optimum_and_never_below() -> None:
    from aids.cp_plan import as_plan, solve

    ratios = []
    for seed in range(8):
        problem = busy_shop(seed, 6, 3, 3, tight=seed % 2 == 0, days=20)
        made = plan(problem, random.Random(seed), by_tries(6000))
        horizon = max(one.end for one in made.placed) + 2 * DAY
        solved = solve(problem, 120.0, made, horizon=horizon)
        assert solved.optimal and solved.cost is not None
        assert not faults(as_plan(problem, solved))
        assert as_plan(problem, solved).cost == pytest.approx(solved.cost)
        assert made.cost >= solved.cost - 1e-6
        ratios.append(made.cost / solved.cost)
    assert sum(ratios) / len(ratios) <= 1.01, ratios
