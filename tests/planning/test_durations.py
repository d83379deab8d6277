"""Durations and waits: fits against their sources' formulas, shrinkage, and waits given how long they lasted."""

from __future__ import annotations

import math
from random import Random
from statistics import fmean

import pytest

from shopboard.memory.lead_times import Wait
from shopboard.planning.durations import PRIOR, SPREAD, Pace, Took, paces
from shopboard.planning.tasks import Kind
from shopboard.planning.waiting import Waiting, curve


def test_without_closed_jobs_the_defaults_stand_alone() -> None:
    for kind, pace in paces(()).items():
        assert (pace.middle, pace.jobs) == (0.0, 0) and pace.spread == pytest.approx(SPREAD[kind])


def test_few_jobs_are_pulled_to_the_default_and_many_speak_for_themselves() -> None:
    twice = [Took(Kind.REPAIR, "ana", 60, 120)]
    assert paces(twice)[Kind.REPAIR].middle == pytest.approx(math.log(2) / (1 + PRIOR))
    random = Random(3)
    many = [Took(Kind.REPAIR, "ana", 60, 60 * math.exp(random.gauss(0.4, 0.2))) for _ in range(3000)]
    found = paces(many)[Kind.REPAIR]
    assert found.of("ana") == pytest.approx(0.4, abs=0.02) and found.spread == pytest.approx(0.2, abs=0.01)


def test_one_who_is_quick_is_told_from_one_who_is_slow() -> None:
    random = Random(5)
    took = [
        Took(Kind.REPAIR, who, 60, 60 * math.exp(random.gauss(mean, 0.2)))
        for who, mean in (("ana", -0.2), ("bo", 0.2))
        for _ in range(400)
    ]
    pace = paces(took)[Kind.REPAIR]
    assert pace.of("ana") == pytest.approx(-0.2, abs=0.04) and pace.of("bo") == pytest.approx(0.2, abs=0.04)
    assert pace.unsure_of("ana") < pace.unsure_of("new")


@pytest.mark.parametrize("done", [0.0, 20.0, 60.0, 120.0])
def test_what_is_left_is_the_mean_of_those_not_over(done: float) -> None:
    """Against plain drawing: 200,000 steps of 60 minutes, spread 0.4."""
    random, pace = Random(11), Pace(spread=0.4)
    drawn = [60 * math.exp(random.gauss(0, 0.4)) for _ in range(200_000)]
    left = [minutes - done for minutes in drawn if minutes > done]
    assert pace.left(60, done) == pytest.approx(fmean(left), rel=0.03)


def test_a_wait_that_lasted_goes_on_by_those_that_lasted_longer() -> None:
    waits = [Wait(day, True) for day in (1, 2, 3, 10, 12, 14)]
    assert curve(waits).at(0.5) < 10 < curve(waits, waited=5).at(0.5)
    assert curve(waits, waited=5).at(0.01) >= 5


def test_open_waits_count_as_at_least_so_long() -> None:
    over = [Wait(2, True)] * 6
    assert curve([*over, *[Wait(9, False)] * 6]).at(0.6) > curve(over).at(0.6)


def test_a_curve_is_the_distribution_it_was_made_from() -> None:
    """Exponential waits of mean 4 days: quantiles −4·ln(1 − u)."""
    random = Random(7)
    made = curve([Wait(random.expovariate(1 / 4), True) for _ in range(4000)])
    for u in (0.25, 0.5, 0.8, 0.95):
        assert made.at(u) == pytest.approx(-4 * math.log(1 - u), rel=0.08)


def test_without_a_record_waits_are_the_defaults() -> None:
    nothing = Waiting()
    assert 0.2 < nothing.answer().at(0.5) < 1.0
    assert nothing.lead("", "", usual=6).at(0.5) == pytest.approx(6, rel=0.4)
    assert nothing.late("north").at(0.4) == 0.0
