"""What age and model say about causes: counted by hand, at the edges, and that it helps the ranking in simulation."""

from __future__ import annotations

import math

import msgspec
import numpy as np
import pytest
from aids.lives import job, machine

from shopboard.memory import age_shapes, age_weights, band_of, component_ages, histories, record, weights
from shopboard.memory.age_weights import MOST, PRIOR_FAILURES
from shopboard.records import ClosedJob, Machine


def _shop(seed: int, machines: int = 300) -> tuple[list[Machine], list[ClosedJob]]:
    """Machines of two models, run to even ages up to 2000 h: “young” fails less and less, “old” wears out."""
    rng = np.random.default_rng(seed)
    made, jobs = [], []
    for id in range(1, machines + 1):
        to = float(np.ceil(rng.random() * 2000 + 20))
        one = msgspec.structs.replace(machine(id, (0, 0), (1000, to)), model=f"m{id % 2}")
        made.append(one)
        for cause, shape, scale in (("young", 0.5, 3000.0), ("old", 3.0, 1800.0)):
            age = float(np.round(scale * rng.weibull(shape), 1))
            if 1 < age < to:
                jobs.append(job(len(jobs) + 1, id, 1000 * age / to, cause, age))
    return made, jobs


def test_young_failures_weigh_more_young_and_old_ones_old() -> None:
    shop = record(histories(*_shop(1)))
    at = {age: weights(shop, "m0", age) for age in (10, 700, 1900)}
    assert at[10]["young"] > 2 and at[10]["old"] < 0.7
    assert at[1900]["old"] > 1.5 and at[1900]["young"] < 1
    assert at[10]["young"] > at[700]["young"] > at[1900]["young"]
    assert at[10]["old"] < at[700]["old"] < at[1900]["old"]


def test_one_weight_counted_by_hand() -> None:
    """Two machines run to 100 h; one failed at 40 h, was repaired and ran on."""
    found = histories([machine(1, (0, 0), (10, 100)), machine(2, (0, 0), (10, 100))], [job(1, 1, 4, "seal", 40.0)])
    (weight,) = age_weights(record(found), "m", 10)
    # Hours at 0 to 50: 40 + 50 (renewed at 40, 60 h more: 50 of them young) + 50; all hours 200; one failure
    young = 40 + 50 + 50
    assert weight.by_age == pytest.approx((1 + PRIOR_FAILURES) / (young / 200 + PRIOR_FAILURES))
    # No other model: its own failure is what was to be expected
    assert weight.by_model == 1.0
    assert weight.weight == pytest.approx(weight.by_age)


def test_a_renewed_component_is_as_old_as_its_renewal() -> None:
    made, jobs = _shop(1)
    found = histories(made, jobs)
    first = next(job for job in jobs if job.causes == ("old",))
    ages = component_ages(found, first.machine, (first.hours or 0) + 5)
    assert ages["old"] == pytest.approx(5)
    shop = record(found)
    assert weights(shop, "m0", 1900, {"old": 5.0})["old"] < weights(shop, "m0", 1900)["old"]


def test_weights_are_bounded_and_a_negative_age_is_a_sentence() -> None:
    shop = record(histories(*_shop(2)))
    for age in (0.0, 50.0, 1e5):
        assert all(1 / MOST <= weight <= MOST for weight in weights(shop, "m0", age).values())
    with pytest.raises(ValueError, match="a machine cannot be -5 h old"):
        weights(shop, "m0", -5)
    assert weights(shop, "a model nobody knows", 100) == {}


def test_the_ranking_of_causes_gains_by_them() -> None:
    """Each new failure, told from its machine's age alone: mean log probability of the true cause, with and without."""
    shop = record(histories(*_shop(3, 600)))
    score = {True: 0.0, False: 0.0}
    _, fresh = _shop(4, 400)
    prior = {c: sum(1 for each in fresh if each.causes == (c,)) / len(fresh) for c in ("young", "old")}
    for each in fresh:
        weight = weights(shop, "m0", each.hours or 0.0)
        for used in score:
            odds = {c: prior[c] * (weight[c] if used else 1.0) for c in prior}
            score[used] += math.log(odds[each.causes[0]] / sum(odds.values())) / len(fresh)
    assert score[True] > score[False] + 0.15


@pytest.mark.parametrize("seed", range(5))
def test_the_shape_over_hours_leaves_the_level_alone(seed: int) -> None:
    """Weighed by the hours watched in each band, every shape comes to 1: what it adds young it takes away old."""
    shop = record(histories(*_shop(seed)))
    shapes = age_shapes(shop)
    assert shapes.keys() == {cell.component for cell in shop.cells}
    for cell in shop.cells:
        hours = [a + b for a, b in zip(cell.own, cell.others, strict=True)]
        mean = sum(s * h for s, h in zip(shapes[cell.component], hours, strict=True)) / sum(hours)
        assert mean == pytest.approx(1.0)
    assert shapes["young"][band_of(10)] > 1.5 > shapes["young"][band_of(1900)]
    assert shapes["old"][band_of(10)] < 0.7 < 1.2 < shapes["old"][band_of(1900)]
