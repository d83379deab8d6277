"""Share still good by age, without assuming a shape: Kaplan and Meier's estimate, with survivors and late entries.

Sources: Kaplan & Meier, J. Amer. Statist. Assoc. 53 (1958) 457-481; the band at each age from Greenwood's variance on
the log(-log) scale (Kalbfleisch & Prentice, The Statistical Analysis of Failure Time Data, 2nd ed., eq. 1.15);
the band of a quantile by inverting those (Brookmeyer & Crowley, Biometrics 38 (1982) 29-41).
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from typing import Protocol

import msgspec

from .figures import LEVEL


class Watched(Protocol):
    """What the estimate needs of a life: watched from `start` to `end`, and whether it `failed` then."""

    @property
    def start(self) -> float:
        """Age when first watched."""

    @property
    def end(self) -> float:
        """Age when failed or last seen."""

    @property
    def failed(self) -> bool:
        """Whether it failed at its end."""


class Step(msgspec.Struct, frozen=True):
    """The share still good from age `at` on, its band, how many failed then and how many were at risk; `gone_on` of
    those left unfailed since the step before (they are the marks on the curve)."""

    at: float
    good: float
    low: float
    high: float
    failed: int
    at_risk: int
    gone_on: int = 0


class Curve(msgspec.Struct, frozen=True):
    """Share still good by age: steps where something failed, oldest last; `to` is the greatest age watched, `unfailed`
    the ages at which lives were last seen unfailed."""

    steps: tuple[Step, ...]
    to: float
    lives: int
    level: float = LEVEL
    unfailed: tuple[float, ...] = ()

    def good(self, age: float) -> float:
        """The share still good just after `age`; 1 before the first failure, not a number beyond what was watched."""
        return self._at(age).good if age <= self.to else math.nan

    def band(self, age: float) -> tuple[float, float]:
        """The band of the share still good just after `age`."""
        step = self._at(age)
        return (step.low, step.high) if age <= self.to else (0.0, 1.0)

    def quantile(self, share: float) -> float | None:
        """The age by which this share has failed; None while fewer have (it is above `to` then)."""
        return next((step.at for step in self.steps if step.good <= 1 - share + 1e-12), None)

    def quantile_band(self, share: float) -> tuple[float | None, float | None]:
        """The band of that age; an end is None where the curve's band never comes there."""
        good = 1 - share + 1e-12
        low = next((step.at for step in self.steps if step.low <= good), None)
        return low, next((step.at for step in self.steps if step.high <= good), None)

    def _at(self, age: float) -> Step:
        found = _NEW
        for step in self.steps:
            if step.at > age:
                break
            found = step
        return found


_NEW = Step(0.0, 1.0, 1.0, 1.0, 0, 0)


def kaplan_meier(lives: Iterable[Watched], level: float = LEVEL) -> Curve:
    """The share of `lives` still good by age, with pointwise bands at `level`.

    A life watched from a later age counts among those at risk only from then on. Lives last seen at the age of a
    failure were at risk at it.

    >>> from shopboard.memory.lives import Life
    >>> curve = kaplan_meier([Life(0, 100, True), Life(0, 150, False), Life(0, 200, True), Life(0, 300, False)])
    >>> [(step.at, step.good) for step in curve.steps]
    [(100, 0.75), (200, 0.375)]
    """
    kept = list(lives)
    return _curve(sorted((life.end, not life.failed) for life in kept), sorted(life.start for life in kept), level)


def _curve(ends: list[tuple[float, bool]], starts: list[float], level: float) -> Curve:
    normal = _normal_quantile((1 + level) / 2)
    steps: list[Step] = []
    good, variance, gone, entered, seen_on = 1.0, 0.0, 0, 0, 0
    unfailed = tuple(end for end, went_on in ends if went_on)
    at = 0
    while at < len(ends):
        age = ends[at][0]
        there = at
        while there < len(ends) and ends[there][0] == age:
            there += 1
        failed = sum(1 for _, went_on in ends[at:there] if not went_on)
        while entered < len(starts) and starts[entered] < age:
            entered += 1
        at_risk = entered - gone
        if failed:
            good *= 1 - failed / at_risk
            variance += failed / (at_risk * (at_risk - failed)) if at_risk > failed else math.inf
            low, high = _band(good, variance, normal)
            steps.append(Step(age, good, low, high, failed, at_risk, seen_on))
            seen_on = 0
        seen_on += there - at - failed
        gone += there - at
        at = there
    return Curve(tuple(steps), ends[-1][0] if ends else 0.0, len(ends), level, unfailed)


def _band(good: float, variance: float, normal: float) -> tuple[float, float]:
    if good <= 0:
        return 0.0, 0.0
    if good >= 1:
        return 1.0, 1.0
    wide = normal * math.sqrt(variance) / math.log(good)
    return float(good ** math.exp(-wide)), float(good ** math.exp(wide))


def _normal_quantile(share: float) -> float:
    from statistics import NormalDist

    return NormalDist().inv_cdf(share)
