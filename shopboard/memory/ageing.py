"""How a component ages, as far as the failures allow: share still good, shape, B10 life, and a plain verdict.

Fewer than 5 failures: no figure is stated. 5 to 19: only where it lies. From 20 on: the fit and its band.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Literal

import msgspec

from .bands import DRAWS, Scatter, scatter
from .figures import Figure, count, hours, rounded
from .kaplan_meier import Curve, kaplan_meier
from .lives import Life, columns
from .weibull import NoFitError

if TYPE_CHECKING:
    from numpy.random import Generator

#: Failures from which on the shape's band, and the fitted shape itself, are stated.
BAND_FROM, FIT_FROM = 5, 20
#: A shape whose band lies within these is as good as 1: age tells nothing.
NEARLY_RANDOM = (0.67, 1.5)

Verdict = Literal["wears in", "random", "wears out", "cannot be told"]

_MEANS: dict[Verdict, str] = {
    "wears in": "wears in: what fails fails young, so look at the fitting and the part, and do not replace by age",
    "random": "random: it fails as often young as old, so replacing by age gains nothing",
    "wears out": "wears out: the older, the sooner it fails",
    "cannot be told": "whether it wears in, wears out or fails at random cannot be told yet",
}


class Ageing(msgspec.Struct, frozen=True, kw_only=True):
    """What the lives of one component say. `shape`, `b10` (age by which a tenth has failed) and `half` (by which half
    have) are None where the failures do not carry them; `said` says everything, `why_not` why something is missing."""

    failures: int
    lives: int
    curve: Curve
    verdict: Verdict
    said: str
    why_not: str = ""
    shape: Figure | None = None
    scale: Figure | None = None
    b10: Figure | None = None
    half: Figure | None = None


def ageing(lives: Sequence[Life], rng: Generator, draws: int = DRAWS) -> Ageing:
    """How a component ages by its lives; bands from `draws` samples of `rng`.

    Nothing here is raised for odd data: no lives, no failure, all at one age, an age below 0 each get their sentence.
    """
    failures = sum(1 for life in lives if life.failed)
    try:
        columns(lives)
    except ValueError as error:
        return _silent([], 0, str(error))
    if failures < BAND_FROM:
        return _silent(lives, failures, _too_few(lives, failures))
    if len({life.end for life in lives if life.failed}) == 1:
        return _silent(lives, failures, f"all {failures} failures came at the same age: no shape can be told from that")
    try:
        found = scatter(lives, rng, draws)
    except NoFitError as error:
        return _silent(lives, failures, str(error))
    return _told(lives, failures, found)


def _silent(lives: Sequence[Life], failures: int, why: str) -> Ageing:
    curve = kaplan_meier(lives)
    verdict: Verdict = "cannot be told"
    half = half_life(curve) if failures >= BAND_FROM else None
    return Ageing(failures=failures, lives=len(lives), curve=curve, verdict=verdict, said=why, why_not=why, half=half)


def _too_few(lives: Sequence[Life], failures: int) -> str:
    if not lives:
        return "no machine with a known age has it"
    ran = hours(sum(life.end - life.start for life in lives))
    seen = f"{count(failures, 'failure')} in {ran} of {count(len(lives), 'part')}"
    if failures == 0:
        return f"{seen}: nothing can be said of how it ages"
    return f"{seen}: too few to say how it ages (from {BAND_FROM} on)"


def verdict_of(low: float, high: float) -> Verdict:
    """The plain verdict from the band of the shape.

    >>> verdict_of(1.2, 3.4), verdict_of(0.4, 0.9), verdict_of(0.8, 1.3), verdict_of(0.6, 2.2)
    ('wears out', 'wears in', 'random', 'cannot be told')
    """
    if low > 1:
        return "wears out"
    if high < 1:
        return "wears in"
    return "random" if low >= NEARLY_RANDOM[0] and high <= NEARLY_RANDOM[1] else "cannot be told"


def half_life(curve: Curve) -> Figure | None:
    """The age by which half have failed, from the curve alone; None without a failure."""
    if not curve.steps:
        return None
    age, (low, high) = curve.quantile(0.5), curve.quantile_band(0.5)
    if age is None:
        said = f"more than half were still good at {hours(curve.to)}, the greatest age known"
        return Figure(low=low, unit="h", said=said)
    ends = f"{hours(low) if low else '0 h'} to {hours(high) if high else 'no known end'}"
    return Figure(value=age, low=low, high=high, unit="h", said=f"half had failed by {hours(age)} ({ends})")


def _told(lives: Sequence[Life], failures: int, found: Scatter) -> Ageing:
    life, fitted = found.fit.life, failures >= FIT_FROM
    shape_low, shape_high = found.shape_band()
    verdict = verdict_of(shape_low, shape_high)
    ends = rounded(shape_low), rounded(shape_high)
    why = "" if fitted else f"{failures} failures say only where the shape lies (from {FIT_FROM} on it is stated)"
    shape = Figure(
        value=life.shape if fitted else None,
        low=shape_low,
        high=shape_high,
        said=f"shape {rounded(life.shape)} ({' to '.join(ends)})" if fitted else f"shape between {' and '.join(ends)}",
    )
    curve = kaplan_meier(lives)
    b10 = _age(found, 0.1, "a tenth have", fitted)
    said = f"{count(failures, 'failure')} in {count(len(lives), 'part')}: {_MEANS[verdict]}; {shape.said}, {b10.said}"
    return Ageing(
        failures=failures,
        lives=len(lives),
        curve=curve,
        verdict=verdict,
        said=said,
        why_not=why,
        shape=shape,
        scale=_age(found, 0.6321205588285577, "63 % have", fitted),
        b10=b10,
        half=half_life(curve),
    )


def _age(found: Scatter, share: float, who: str, fitted: bool) -> Figure:
    low, high = found.age_band(share)
    if not fitted:
        said = f"{who} failed somewhere between {hours(low)} and {hours(high)}"
        return Figure(low=low, high=high, unit="h", said=said)
    age = found.fit.life.age_when(share)
    return Figure(
        value=age, low=low, high=high, unit="h", said=f"{who} failed by {hours(age)} ({hours(low)} to {hours(high)})"
    )
