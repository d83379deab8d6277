"""Weibull lives by maximum likelihood: survivors, late entries, and many samples at once.

Share failed by age t: F = 1 - exp(-(t/scale)^shape). With S(k) the sum of end^k - start^k over all lives and r
failures, the likelihood is greatest where 1/k + mean ln(end of failures) = S'(k)/S(k), and then scale^k = S(k)/r.
Source: Meeker & Escobar, Statistical Methods for Reliability Data (1998), ch. 8 and 11 (late entries); the equation
is solved by Newton's method, held between bounds by halving.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import msgspec

from .lives import Columns

if TYPE_CHECKING:
    from numpy import bool_, float64, int64
    from numpy.typing import NDArray

#: Shapes outside of this are not looked for; no component has one.
LEAST_SHAPE, MOST_SHAPE = 0.02, 60.0


class Weibull(msgspec.Struct, frozen=True):
    """A Weibull life: `shape` (no unit; below 1 wears in, 1 random, above 1 wears out) and `scale` [h], the age by
    which 63 % have failed."""

    shape: float
    scale: float

    def failed_by(self, age: float) -> float:
        """The share failed by `age` [h].

        >>> round(Weibull(2.0, 1000.0).failed_by(1000.0), 4)
        0.6321
        """
        return -math.expm1(-((max(age, 0.0) / self.scale) ** self.shape))

    def age_when(self, share: float) -> float:
        """The age [h] by which this share (0 to 1) has failed; B10 is `age_when(0.1)`.

        >>> round(Weibull(2.035, 11792.0).age_when(0.1))
        3902
        """
        return float(self.scale * (-math.log1p(-share)) ** (1 / self.shape))

    def rate(self, age: float) -> float:
        """Failures per hour at `age` among those still good then."""
        return float(self.shape / self.scale * (age / self.scale) ** (self.shape - 1))


class Fit(msgspec.Struct, frozen=True):
    """The likeliest Weibull, its log likelihood, how many failures it rests on, and the standard errors of shape and
    scale [h] with their covariance, from the observed information."""

    life: Weibull
    log_likelihood: float
    failures: int
    se_shape: float
    se_scale: float
    covariance: float = 0.0


class NoFitError(ValueError):
    """There is no likeliest Weibull; the message says why in a sentence."""


def fit(data: Columns) -> Fit:
    """The Weibull that makes the lives likeliest. Raises NoFitError in a sentence where there is none.

    >>> from shopboard.memory.lives import Life, columns
    >>> failed = [Life(0, age, True) for age in (54, 187, 216, 240, 244, 335, 361, 373, 375, 386)]
    >>> found = fit(columns(failed + [Life(0, 500, False)] * 10))
    >>> round(found.life.shape, 4), round(found.life.scale, 1)
    (1.7208, 606.5)
    """
    import numpy as np

    failures = float(data.many[data.failed].sum())
    if failures == 0:
        raise NoFitError("no failure is known")
    ages = np.unique(data.end[data.failed])
    if len(ages) == 1 and not bool((data.end > ages[0]).any()):
        raise NoFitError("every failure came at the same age, and nothing ran longer: no shape fits that best")
    shape = _best_shape(data)
    if not LEAST_SHAPE * 1.01 < shape < MOST_SHAPE / 1.01:
        raise NoFitError("no shape fits best: the ages say too little")
    total = float((data.many * (data.end**shape - data.start**shape)).sum())
    life = Weibull(shape, (total / failures) ** (1 / shape))
    return Fit(life, log_likelihood(data, life), round(failures), *_errors(data, life))


def log_likelihood(data: Columns, life: Weibull) -> float:
    """Log likelihood of a Weibull given the lives (densities per hour)."""
    import numpy as np

    k, scale = life.shape, life.scale
    fell = data.many[data.failed]
    logs = np.log(k / scale) + (k - 1) * np.log(data.end[data.failed] / scale)
    ran = data.many * ((data.end / scale) ** k - (data.start / scale) ** k)
    return float((fell * logs).sum() - ran.sum())


def _best_shape(data: Columns) -> float:
    """The global best: late entries can give the likelihood more than one top."""
    import numpy as np

    logs = Samples.of(data.end[None, :], data.start[None, :], data.failed[None, :], data.many[None, :])
    first = 1.0
    if logs.start is not None:
        grid = np.geomspace(LEAST_SHAPE, MOST_SHAPE, 40)
        first = float(grid[int(np.argmax(logs.profile(grid)))])
    return float(shapes(logs, np.array([first]))[0])


class Samples(msgspec.Struct, frozen=True):
    """Rows of samples as logs of age over each row's greatest age: `fell` is the mean log of the row's failures,
    `start` None where every life is watched from new."""

    end: NDArray[float64]
    start: NDArray[float64] | None
    many: NDArray[float64]
    fell: NDArray[float64]
    failures: NDArray[float64]

    @staticmethod
    def of(end: NDArray[float64], start: NDArray[float64], failed: NDArray[bool_], many: NDArray[float64]) -> Samples:
        """From ages [h] in rows; `start` and `many` may be one row for all."""
        import numpy as np

        top = np.log(end.max(axis=1, keepdims=True))
        log_end = np.log(end) - top
        weight = np.where(failed, many, 0.0)
        failures = weight.sum(axis=1)
        with np.errstate(divide="ignore", invalid="ignore"):
            fell = (weight * log_end).sum(axis=1) / failures
            # An age of 0 adds nothing; a log of -1e9 says so without a special case
            log_start = np.maximum(np.log(start) - top, -1e9) if bool((start > 0).any()) else None
        return Samples(log_end, log_start, many, fell, failures)

    def rows(self, which: NDArray[int64]) -> Samples:
        """Only these rows."""
        if len(which) == len(self.end):
            return self
        start = None if self.start is None else self.start[which]
        many = self.many if len(self.many) == 1 else self.many[which]
        return Samples(self.end[which], start, many, self.fell[which], self.failures[which])

    def sums(self, k: NDArray[float64]) -> tuple[NDArray[float64], NDArray[float64], NDArray[float64]]:
        """S, S' and S'' at shape k, one k a row."""
        import numpy as np

        power = self.many * np.exp(k[:, None] * self.end)
        logs = self.end
        if self.start is None:
            first = power * logs
            return power.sum(axis=1), first.sum(axis=1), (first * logs).sum(axis=1)
        before = self.many * np.exp(k[:, None] * self.start)
        first, first_before = power * logs, before * self.start
        return (
            power.sum(axis=1) - before.sum(axis=1),
            first.sum(axis=1) - first_before.sum(axis=1),
            (first * logs).sum(axis=1) - (first_before * self.start).sum(axis=1),
        )

    def slope(self, k: NDArray[float64]) -> tuple[NDArray[float64], NDArray[float64]]:
        """First and second derivative by ln k of the log likelihood a failure, with the best scale for each k."""
        total, by_k, by_k2 = self.sums(k)
        mean = by_k / total
        slope = k * (1 / k + self.fell - mean)
        return slope, slope - 1 - k * k * (by_k2 / total - mean**2)

    def profile(self, k: NDArray[float64]) -> NDArray[float64]:
        """The log likelihood a failure at shape k with the best scale for it, up to a constant."""
        import numpy as np

        total, _, _ = self.sums(k)
        return np.asarray(np.log(k) + (k - 1) * self.fell - np.log(total))


def shapes(logs: Samples, first: NDArray[float64], close: float = 1e-13, rounds: int = 80) -> NDArray[float64]:
    """The best shape of each row by Newton's method on ln k from `first`, to within `close` (in ln k); a row that has
    no best shape ends at a bound."""
    import numpy as np

    x = np.log(first)
    low, high = np.full(len(x), math.log(LEAST_SHAPE)), np.full(len(x), math.log(MOST_SHAPE))
    todo = np.arange(len(x))
    for _ in range(rounds):
        rows = logs.rows(todo)
        k, was = np.exp(x[todo]), x[todo]
        slope, curve = rows.slope(k)
        low[todo] = np.where(slope > 0, was, low[todo])
        high[todo] = np.where(slope > 0, high[todo], was)
        with np.errstate(divide="ignore", invalid="ignore"):
            step = was - slope / curve
        newton = (step > low[todo]) & (step < high[todo]) & (curve < 0)
        x[todo] = np.where(newton, step, (low[todo] + high[todo]) / 2)
        todo = todo[np.abs(x[todo] - was) > close]
        if not len(todo):
            break
    return np.asarray(np.exp(x))


def _errors(data: Columns, life: Weibull) -> tuple[float, float, float]:
    """Standard errors of shape and scale and their covariance; infinite errors where the information says nothing."""
    import numpy as np

    k, failures = life.shape, float(data.many[data.failed].sum())
    total = [0.0, 0.0, 0.0]
    for ages, sign in ((data.end, 1.0), (data.start, -1.0)):
        ratio = ages[ages > 0] / life.scale
        power, log = sign * data.many[ages > 0] * ratio**k, np.log(ratio)
        for order in range(3):
            total[order] += float((power * log**order).sum())
    by_shape = failures / k**2 + total[2]
    by_scale = (k * (k + 1) * total[0] - failures * k) / life.scale**2
    both = (failures - total[0] - k * total[1]) / life.scale
    determinant = by_shape * by_scale - both**2
    if determinant <= 0 or by_shape <= 0:
        return math.inf, math.inf, 0.0
    return math.sqrt(by_scale / determinant), math.sqrt(by_shape / determinant), -both / determinant
