"""Bands of a Weibull's shape and ages by parametric bootstrap of pivots.

Samples are drawn from the fitted life under the same watch (same late entries, same ends of watching) and fitted again.
How far shape*/shape and shape*·ln(age*/age) scatter about the fit hardly depends on the true life, so their quantiles
turned round give bands that hold at few failures too, where the usual likelihood bands are too narrow.
Sources: Meeker & Escobar (1998) ch. 9; Jeng & Meeker, Technometrics 42 (2000) 135-148.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING

import msgspec

from .figures import LEVEL
from .lives import Columns, Life, columns
from .weibull import Fit, Samples, Weibull, fit, shapes

if TYPE_CHECKING:
    from numpy import bool_, float64
    from numpy.random import Generator
    from numpy.typing import NDArray

#: Samples drawn for a band, and how many ages are held in memory at once.
DRAWS, AT_ONCE = 999, 400_000
#: From so many failures on the samples' fits are drawn from the normal distribution they nearly have by then.
NEARLY_NORMAL = 150
#: Samples with fewer failures than this say nothing of a shape and are left out.
LEAST_FAILURES = 2


class Scatter(msgspec.Struct, frozen=True):
    """A fitted life and the lives fitted to samples drawn from it: shapes and scales [h]."""

    fit: Fit
    shapes: NDArray[float64]
    scales: NDArray[float64]

    def shape_band(self, level: float = LEVEL) -> tuple[float, float]:
        """The band of the shape."""
        import numpy as np

        low, high = np.quantile(self.shapes / self.fit.life.shape, [(1 - level) / 2, (1 + level) / 2])
        return float(self.fit.life.shape / high), float(self.fit.life.shape / low)

    def age_band(self, share: float, level: float = LEVEL) -> tuple[float, float]:
        """The band of the age [h] by which `share` has failed (B10: 0.1; the scale: 1 - 1/e)."""
        import numpy as np

        life = self.fit.life
        drawn = self.scales * (-np.log1p(-share)) ** (1 / self.shapes)
        pivot = self.shapes * np.log(drawn / life.age_when(share))
        low, high = np.quantile(pivot, [(1 - level) / 2, (1 + level) / 2])
        age = life.age_when(share)
        return float(age * np.exp(-high / life.shape)), float(age * np.exp(-low / life.shape))


def scatter(lives: Sequence[Life], rng: Generator, draws: int = DRAWS) -> Scatter:
    """The fit of `lives` and of `draws` samples like them. Raises NoFitError as `fit`."""
    import numpy as np

    data = columns(lives)
    found = fit(data)
    if found.failures >= NEARLY_NORMAL:
        return _normal(found, rng, draws)
    limits = _Limits(lives, data)
    rows = max(1, AT_ONCE // len(data.end))
    parts = [_draw(found.life, data, limits, rng, min(rows, draws - at)) for at in range(0, draws, rows)]
    kept_shapes = np.concatenate([part[0] for part in parts])
    return Scatter(found, kept_shapes, np.concatenate([part[1] for part in parts]))


def _normal(found: Fit, rng: Generator, draws: int) -> Scatter:
    """Fits as large samples scatter: logs of shape and scale normal, with the covariance of the information."""
    import numpy as np

    shape, scale = found.life.shape, found.life.scale
    errors = np.array([found.se_shape / shape, found.se_scale / scale])
    part = found.covariance / (found.se_shape * found.se_scale)
    first, second = rng.standard_normal((2, draws))
    logs = errors[:, None] * np.array([first, part * first + math.sqrt(max(1 - part * part, 0.0)) * second])
    return Scatter(found, shape * np.exp(logs[0]), scale * np.exp(logs[1]))


class _Limits:
    """To which age each life would have been watched: known, or drawn from those of the others for a failure whose
    own is not known (Davison & Hinkley, Bootstrap Methods (1997), algorithm 3.1)."""

    def __init__(self, lives: Sequence[Life], data: Columns) -> None:
        import numpy as np

        self.fixed = np.array([life.end if not life.failed else life.limit or np.nan for life in lives])
        self.unknown = np.flatnonzero(np.isnan(self.fixed))
        self.pools = [self._later(data, int(row)) for row in self.unknown]

    def _later(self, data: Columns, row: int) -> tuple[NDArray[float64], NDArray[float64]]:
        """Ends of watching above this failure's age and the chances summed up that watching ended at each."""
        import numpy as np

        ends = np.sort(np.unique(data.end[~data.failed & (data.end >= data.end[row])]))
        left, chances = 1.0, []
        for end in ends:
            at_risk = int(((data.end >= end) & (data.start < end)).sum())
            stopped = int((data.end[~data.failed] == end).sum())
            chances.append(left * stopped / at_risk)
            left -= chances[-1]
        return np.append(ends, np.inf if left > 1e-12 else ends[-1:].sum()), np.cumsum([*chances, left])

    def draw(self, rng: Generator, draws: int) -> NDArray[float64]:
        """One row of limits a sample; one row for all where every limit is known."""
        import numpy as np

        if not len(self.unknown):
            return np.asarray(self.fixed[None, :])
        limits = np.repeat(self.fixed[None, :], draws, axis=0)
        for row, (ends, chances) in zip(self.unknown, self.pools, strict=True):
            picked = np.searchsorted(chances, rng.random(draws) * chances[-1], side="right")
            limits[:, row] = ends[np.minimum(picked, len(ends) - 1)]
        return limits


def _draw(
    life: Weibull, data: Columns, limits: _Limits, rng: Generator, draws: int
) -> tuple[NDArray[float64], NDArray[float64]]:
    """Shapes and scales of samples drawn under the same watch; samples with too few failures are left out."""
    import numpy as np

    fresh = -np.log1p(-rng.random((draws, len(data.end))))
    ages = life.scale * ((data.start / life.scale) ** life.shape + fresh) ** (1 / life.shape)
    to = limits.draw(rng, draws)
    failed: NDArray[bool_] = ages <= to
    enough = failed.sum(axis=1) >= LEAST_FAILURES
    failed, ends = failed[enough], np.minimum(ages, to)[enough]
    samples = Samples.of(ends, data.start[None, :], failed, np.ones((1, len(data.end))))
    k = shapes(samples, np.full(len(ends), life.shape), close=1e-7, rounds=30)
    total, _, _ = samples.sums(k)
    return k, ends.max(axis=1) * (total / samples.failures) ** (1 / k)
