"""At which age to replace a part that wears out before it fails, given what a planned and a failed one cost.

Cost per hour of replacing at age T or at failure: (planned·S(T) + failed·F(T)) / (integral of S to T).
Source: Barlow & Hunter, Operations Research 8 (1960) 90-100 (age replacement).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING

import msgspec

from .bands import Scatter, scatter
from .figures import LEVEL, Figure, count, hours, per_cent
from .lives import Life
from .weibull import Weibull

if TYPE_CHECKING:
    from numpy import float64
    from numpy.random import Generator
    from numpy.typing import NDArray

#: With fewer failures than this no interval is stated.
LEAST_FAILURES = 10
#: Ages beyond so many times the scale are as good as never.
MOST_SCALES = 50.0


class Interval(msgspec.Struct, frozen=True):
    """Replace at `age` [h]; costs run at `rate` an hour then and at `unplanned` an hour if it is run to failure, in the
    unit of the costs."""

    age: float
    rate: float
    unplanned: float

    @property
    def saves(self) -> float:
        """The share of the costs that replacing by age saves."""
        return 1 - self.rate / self.unplanned


def cost_rate(life: Weibull, planned: float, failed: float, age: float) -> float:
    """Costs an hour when replaced at `age` [h] for `planned`, or at failure for `failed`.

    >>> round(cost_rate(Weibull(2.5, 1000.0), 1, 5, 493.05), 8)
    0.00346204
    """
    gone = life.failed_by(age)
    return (planned * (1 - gone) + failed * gone) / _mean_to(life, age)


def _mean_to(life: Weibull, age: float) -> float:
    """Mean hours run to failure or to `age`: the integral of the share still good."""
    from scipy.special import gamma, gammainc

    mean = life.scale * float(gamma(1 + 1 / life.shape))
    return mean * float(gammainc(1 / life.shape, (age / life.scale) ** life.shape))


def best_interval(life: Weibull, planned: float, failed: float) -> Interval | None:
    """The age with the least costs an hour; None where replacing by age saves nothing (a shape of 1 or less, or a
    planned replacement as dear as a failure). Raises ValueError for costs that are not above 0.

    >>> found = best_interval(Weibull(2.5, 1000.0), 1, 5)
    >>> round(found.age, 1), round(found.unplanned, 7)
    (493.0, 0.0056353)
    """
    import numpy as np

    if not (planned > 0 and failed > 0):
        raise ValueError("both costs must be above 0")
    age = life.scale * float(_best_ages(np.array([life.shape]), planned, failed)[0])
    if not math.isfinite(age):
        return None
    return Interval(age, cost_rate(life, planned, failed, age), failed / _mean_to(life, math.inf))


def _best_ages(shapes: NDArray[float64], planned: float, failed: float) -> NDArray[float64]:
    """The best ages over the scale, infinite where there is none: where rate·(mean run) - F = planned/(failed-planned),
    whose left side rises with age for a shape above 1."""
    import numpy as np
    from scipy.special import gamma, gammainc

    if failed <= planned:
        return np.full(len(shapes), np.inf)
    wanted, mean = planned / (failed - planned), gamma(1 + 1 / shapes)
    low, high = np.full(len(shapes), math.log(1e-9)), np.full(len(shapes), math.log(MOST_SCALES))
    for _ in range(60):
        middle = (low + high) / 2
        age = np.exp(middle)
        run = mean * gammainc(1 / shapes, age**shapes)
        young = shapes * age ** (shapes - 1) * run + np.expm1(-(age**shapes)) < wanted
        low, high = np.where(young, middle, low), np.where(young, high, middle)
    ages = np.exp((low + high) / 2)
    return np.asarray(np.where((shapes > 1) & (ages < 0.999 * MOST_SCALES), ages, np.inf))


def replacement(lives: Sequence[Life], rng: Generator, planned: float, failed: float) -> Figure:
    """The age to replace a component at, from its lives and the two costs, with its band by bootstrap; only a sentence
    unless at least 10 failures are known and the whole band of the shape lies above 1.

    Raises ValueError for costs that are not above 0.
    """
    if not (planned > 0 and failed > 0):
        raise ValueError("both costs must be above 0")
    failures = sum(1 for life in lives if life.failed)
    if failures < LEAST_FAILURES:
        return Figure(
            said=f"{count(failures, 'failure')}: too few to set an age to replace at (from {LEAST_FAILURES} on)"
        )
    try:
        found = scatter(lives, rng)
    except ValueError as error:
        return Figure(said=str(error))
    if found.shape_band()[0] <= 1:
        return Figure(said="it is not sure that it wears out, so replacing it by age may gain nothing")
    best = best_interval(found.fit.life, planned, failed)
    if best is None:
        return Figure(said="a planned replacement costs as much as a failure: run it until it fails")
    low, high = _band(found, best.age, planned, failed)
    ends = f"{hours(low)} to {hours(high) if math.isfinite(high) else 'no known end'}"
    said = f"replace at {hours(best.age)} ({ends}): saves {per_cent(best.saves)} of its costs"
    return Figure(value=best.age, low=low, high=high if math.isfinite(high) else None, unit="h", said=said)


def _band(found: Scatter, age: float, planned: float, failed: float) -> tuple[float, float]:
    import numpy as np

    shape = found.fit.life.shape
    drawn = found.scales * _best_ages(found.shapes, planned, failed)
    pivot = found.shapes * np.log(drawn / age)
    low, high = np.quantile(pivot, [(1 - LEVEL) / 2, (1 + LEVEL) / 2], method="nearest")
    return float(age * np.exp(-high / shape)), float(age * np.exp(-low / shape))
