"""Exact chances of counts, and what remains of many tests at once."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from functools import lru_cache
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from numpy import float64
    from numpy.typing import NDArray


#: Counts less likely than this are left out of sums: they would change no figure that is shown or compared.
NEVER = 1e-30


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
    """Chances of each sum of independent binomial counts, by folding them together; sums beyond the last are less
    likely than NEVER each.

    >>> [round(float(p), 4) for p in sum_of_binomials([1, 1], [0.5, 0.2])]
    [0.4, 0.5, 0.1]
    """
    import numpy as np

    total = np.ones(1)
    for many, chance in zip(trials, chances, strict=True):
        if many:
            one = binomial(many, chance)
            total = np.convolve(total, one[: int(np.flatnonzero(one > NEVER)[-1]) + 1])
    return total


def at_least(
    observed: int, failed: Sequence[int], own: Sequence[float], others: Sequence[float], times: float
) -> float:
    """The chance of `observed` failures or more in a cell, had it failed at `times` the others' rate.

    In each age band `failed` failures (cell and others together) fall to the cell by its share of the hours watched,
    `own` against `others`: the exact test given the totals, age band by age band.
    Source: Breslow & Day, Statistical Methods in Cancer Research II (1987), sec. 3.6 (comparison of rates, exact).
    """
    return float(min(1.0, _chances(failed, own, others, times)[observed:].sum()))


def _chances(failed: Sequence[int], own: Sequence[float], others: Sequence[float], times: float) -> NDArray[float64]:
    """The chances of each number of failures in the cell at `times` the others' rate."""
    shares = [times * a / (times * a + b) if a > 0 else 0.0 for a, b in zip(own, others, strict=True)]
    return sum_of_binomials(failed, shares)


def times_band(
    observed: int, failed: Sequence[int], own: Sequence[float], others: Sequence[float], level: float
) -> tuple[float, float]:
    """The exact band of how many times the others' rate the cell fails at; infinite where the others never failed."""
    tail = (1 - level) / 2
    tails = _Tails(observed, failed, own, others)
    mean = sum(f * a / (a + b) for f, a, b in zip(failed, own, others, strict=True) if a > 0)
    near = math.log(max(observed, 0.5) / max(mean, 1e-3))
    low = 0.0 if observed == 0 else _crossing(lambda t: _log(tails.at(t)[0]) - math.log(tail), near)
    return low, _crossing(lambda t: math.log(tail) - _log(tails.at(t)[1]), near)


#: Chances reckoned at one rate serve rates up to so far from it (log), less far the more the counts: further off, what
#: was left out might count, and powers grow beyond what a number holds.
REACH, POWERS = 0.7, 300.0


class _Tails:
    """The chances of `observed` failures or more, and of no more than those, at any number of times the others' rate.

    Folded together once, the chances of each count at another rate follow: count k becomes (t'/t)^k times as likely
    against the others, as in every exponential family (the odds of each failure's falling to the cell grow by t'/t).
    """

    def __init__(self, observed: int, failed: Sequence[int], own: Sequence[float], others: Sequence[float]) -> None:
        self._observed, self._bands = observed, (failed, own, others)
        self._at, self._reach = math.inf, min(REACH, POWERS / (1 + sum(failed)))
        self._chances: NDArray[float64] | None = None

    def at(self, times: float) -> tuple[float, float]:
        """Both chances at this many times the others' rate."""
        import numpy as np

        off = math.log(times) - self._at
        if self._chances is None or abs(off) > self._reach:
            self._at, off = math.log(times), 0.0
            self._chances = _chances(*self._bands, times)
        told = self._chances * np.exp(off * (np.arange(len(self._chances)) - self._observed))
        more = float(told[self._observed :].sum())
        least = float(told[: self._observed + 1].sum())
        every = more + least - float(told[self._observed]) if self._observed < len(told) else least
        return more / every, least / every


def _log(chance: float) -> float:
    return math.log(max(chance, 1e-300))


def _crossing(rising: Callable[[float], float], near: float) -> float:
    """Where a function that rises crosses 0, from 1e-4 to 1e4, to one in a million; infinite or 0 beyond. The search
    begins at e^near and goes on by false position (its Illinois variant) on the logarithm."""
    bracket = _bracket(rising, near)
    if isinstance(bracket, float):
        return bracket
    low, at_low, high, at_high = bracket
    side = 0
    for step in range(100):
        # Now and then by half, should the function be far from straight
        part = 0.5 if step % 8 == 7 else -at_low / (at_high - at_low)
        middle = low + part * (high - low)
        found = rising(math.exp(middle))
        if found > 0:
            high, at_high, at_low, side = middle, found, at_low / 2 if side > 0 else at_low, 1
        else:
            low, at_low, at_high, side = middle, found, at_high / 2 if side < 0 else at_high, -1
        if high - low < 1e-6 or abs(found) < 1e-9:
            break
    return math.exp(middle)


def _bracket(rising: Callable[[float], float], near: float) -> tuple[float, float, float, float] | float:
    """Two places around the crossing with the function there; 0 or infinite if it is not between 1e-4 and 1e4."""
    least, most = math.log(1e-4), math.log(1e4)
    at = min(max(near, least), most)
    found, step = rising(math.exp(at)), 0.5
    way = -1.0 if found > 0 else 1.0
    while True:
        following = min(max(at + way * step, least), most)
        if following == at:
            return 0.0 if way < 0 else math.inf
        then = rising(math.exp(following))
        if (then > 0) != (found > 0):
            return (following, then, at, found) if way < 0 else (at, found, following, then)
        at, found, step = following, then, 2 * step


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
