"""Exact chances of counts, and what remains of many tests at once."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from functools import lru_cache
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from numpy import float64
    from numpy.typing import NDArray


def binomial(trials: int, chance: float) -> NDArray[float64]:
    """Chances of 0 … `trials` successes at this chance each.

    >>> [round(float(p), 4) for p in binomial(3, 0.5)]
    [0.125, 0.375, 0.375, 0.125]
    """
    import numpy as np

    if chance <= 0 or chance >= 1:
        sure = np.zeros(trials + 1)
        sure[0 if chance <= 0 else trials] = 1.0
        return sure
    logs = _log_factorials(1 << (trials + 1).bit_length())[: trials + 1]
    k = np.arange(trials + 1)
    odds = math.log(chance) - math.log1p(-chance)
    return np.asarray(np.exp(logs[trials] + trials * math.log1p(-chance) - logs - logs[::-1] + k * odds))


@lru_cache(maxsize=32)
def _log_factorials(many: int) -> NDArray[float64]:
    import numpy as np

    return np.concatenate(([0.0], np.cumsum(np.log(np.arange(1, many)))))


def sum_of_binomials(trials: Sequence[int], chances: Sequence[float]) -> NDArray[float64]:
    """Chances of each sum of independent binomial counts, by folding them together.

    >>> [round(float(p), 4) for p in sum_of_binomials([1, 1], [0.5, 0.2])]
    [0.4, 0.5, 0.1]
    """
    import numpy as np

    total = np.ones(1)
    for many, chance in zip(trials, chances, strict=True):
        if many:
            total = np.convolve(total, binomial(many, chance))
    return total


def at_least(
    observed: int, failed: Sequence[int], own: Sequence[float], others: Sequence[float], times: float
) -> float:
    """The chance of `observed` failures or more in a cell, had it failed at `times` the others' rate.

    In each age band `failed` failures (cell and others together) fall to the cell by its share of the hours watched,
    `own` against `others`: the exact test given the totals, age band by age band.
    Source: Breslow & Day, Statistical Methods in Cancer Research II (1987), sec. 3.6 (comparison of rates, exact).
    """
    shares = [times * a / (times * a + b) if a > 0 else 0.0 for a, b in zip(own, others, strict=True)]
    chances = sum_of_binomials(failed, shares)
    return float(min(1.0, chances[observed:].sum()))


def times_band(
    observed: int, failed: Sequence[int], own: Sequence[float], others: Sequence[float], level: float
) -> tuple[float, float]:
    """The exact band of how many times the others' rate the cell fails at; infinite where the others never failed."""
    tail = (1 - level) / 2

    def chance(times: float) -> float:
        return at_least(observed, failed, own, others, times)

    def no_more(times: float) -> float:
        return 1 - at_least(observed + 1, failed, own, others, times)

    low = 0.0 if observed == 0 else _crossing(lambda t: chance(t) - tail)
    return low, _crossing(lambda t: tail - no_more(t))


def _crossing(rising: Callable[[float], float]) -> float:
    """Where a function that rises crosses 0, from 1e-4 to 1e4, to one in a million; infinite or 0 beyond."""
    low, high = math.log(1e-4), math.log(1e4)
    if rising(math.exp(high)) < 0:
        return math.inf
    if rising(math.exp(low)) > 0:
        return 0.0
    for _ in range(24):
        middle = (low + high) / 2
        low, high = (low, middle) if rising(math.exp(middle)) > 0 else (middle, high)
    return math.exp((low + high) / 2)


def benjamini_hochberg(chances: Sequence[float], rate: float) -> list[bool]:
    """Which of many tests stand if a share `rate` of those that stand may be false.

    Source: Benjamini & Hochberg, J. R. Statist. Soc. B 57 (1995) 289-300.

    >>> benjamini_hochberg([0.001, 0.04, 0.03, 0.9], 0.1)
    [True, True, True, False]
    """
    order = sorted(range(len(chances)), key=lambda i: chances[i])
    last = -1
    for rank, i in enumerate(order):
        if chances[i] <= rate * (rank + 1) / len(order):
            last = rank
    standing = set(order[: last + 1])
    return [i in standing for i in range(len(chances))]
