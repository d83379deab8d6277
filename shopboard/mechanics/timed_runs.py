"""Timed runs, backwards: stroke fraction and leakage from the times, with bands.

The law is straight in both: v = s·a − k·b. What is known only roughly (radius, slip, film temperature, every
reading) blurs a and b, and more so the larger s and k are; so the runs are weighted with the whole covariance that
blur gives at each s and k: generalised least squares. The stroke follows from the leakage; the leakage is tried over
its whole range, and the bands are the middle 90 % of what the runs leave likely. They are linearised in the blur,
not in the leakage, because a worn unit's band is lopsided.
Source: generalised least squares with estimated covariance, e.g. Carroll, Ruppert, Stefanski, Crainiceanu,
Measurement Error in Nonlinear Models (method only).
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from .runs import COMMON, LAW_ERROR, Array, Drive, Run, column, errors, law, pressures

#: Leakage load (Δp + charge)/μ over speed must differ this many times between runs, or nothing can be separated.
LEAST_SPREAD = 1.25
#: Oil temperatures must differ this much [K] for a wear verdict: tyre slip also grows with load, not with heat.
LEAST_CONTRAST = 10.0
#: The runs must be able to measure a leakage three times a sound unit's to within this share (one standard error).
LEAST_SHARP = 0.4
_GRID = 161
#: Leakages above so many times a sound unit's are not thought of.
_MOST_LEAKAGE = 60.0


class RunsRefused(ValueError):
    """Runs that cannot tell stroke from leakage: why, and `add`, the run that would make them."""

    def __init__(self, why: str, add: str) -> None:
        super().__init__(f"{why}: {add}")
        self.why, self.add = why, add


class Estimate(NamedTuple):
    """A number with its 90 % band, lopsided where it is, and its standard error."""

    value: float
    low: float
    high: float
    error: float


class Fit(NamedTuple):
    """Stroke fraction by direction, leakage [m³] and, where a sound unit's is known, leakage over it.

    `contrast` is the spread of oil temperatures [K]; `misfit` the weighted sum of squares over the freedom left (about
    1 when the errors given are honest, nan without freedom); `chances` are leakages over the reference with their
    probabilities and, for each direction, the probable stroke and its variance there.
    """

    stroke: dict[str, Estimate]
    leakage: Estimate
    ratio: Estimate | None
    contrast: float
    misfit: float
    pressures: tuple[float, ...]
    chances: tuple[Array, Array, Array, Array]


class Blurred(NamedTuple):
    """The law for a set of runs: mean a and b, how each departure moves them, and the variances of the speeds read."""

    full: Array
    lost: Array
    full_by: Array
    lost_by: Array
    noise: Array
    seen: Array
    own: Array

    def covariance(self, stroke: Array, leakage: Array) -> Array:
        """Covariance of the speeds about the law at stroke (a run) and leakage; leading axes are many at once."""
        by = stroke[..., :, None] * self.full_by - leakage[..., None, None] * self.lost_by
        return np.asarray(by @ np.swapaxes(by, -1, -2) + np.diag(self.noise))


def reference(drive: Drive) -> float:
    """The leakage [m³] that others are measured by: a sound unit's, or a plausible one when that is not known."""
    return drive.new_leakage or 0.1 * drive.pump * 40 * 0.02 / 1.5e7


def blurred(drive: Drive, runs: tuple[Run, ...], directions: Sequence[str]) -> Blurred:
    """The law of these runs with everything that is only roughly known: each departure is tried one standard error
    either way, which gives the slopes and the mean's shift by curvature."""
    moves = np.eye(len(COMMON) + 2 * len(runs))
    here, up, down = (law(drive, runs, m) for m in (np.zeros(len(moves)), moves, -moves))
    mean = [h + ((u + d) / 2 - h).sum(axis=0) for h, u, d in zip(here, up, down, strict=True)]
    by = [(u - d).T / 2 for u, d in zip(up, down, strict=True)]
    seen = column(runs, "distance") / column(runs, "time")
    shares = np.sum([(errors(runs, n) / column(runs, n)) ** 2 for n in ("time", "distance", "speed")], axis=0)
    own = np.array([[float(run.direction == name) for name in directions] for run in runs])
    size = reference(drive)
    return Blurred(
        mean[0], mean[1] * size, by[0], by[1] * size, np.asarray(seen**2 * (shares + LAW_ERROR**2)), seen, own
    )


def _inverse(matrices: Array) -> Array:
    return np.asarray(np.linalg.inv(matrices), dtype=np.float64)


def strokes_given(blur: Blurred, leakage: Array) -> tuple[Array, Array, Array, Array]:
    """For each leakage (over the reference): the stroke of each direction, its covariance, the log probability of the
    leakage by the runs alone and the weighted sum of squares."""
    table = blur.full[:, None] * blur.own
    target = blur.seen + leakage[:, None] * blur.lost
    stroke = np.full((len(leakage), blur.own.shape[1]), 0.85)
    weight = spread = np.zeros(0)
    for _ in range(4):
        weight = _inverse(blur.covariance(stroke @ blur.own.T, leakage))
        spread = _inverse(table.T @ weight @ table)
        stroke = (spread @ (table.T @ weight @ target[..., None]))[..., 0]
    miss = target - stroke @ table.T
    squares = np.einsum("gi,gij,gj->g", miss, weight, miss)
    log = -0.5 * squares + 0.5 * np.linalg.slogdet(weight)[1] + 0.5 * np.linalg.slogdet(spread)[1]
    return np.asarray(stroke), np.asarray(spread), np.asarray(log), np.asarray(squares)


def _plausible(stroke: Array, spread: Array) -> Array:
    """Log probability that the strokes are physical, from nothing to full (and 3 % for what the tyre adds)."""
    from scipy.special import log_ndtr

    deviation = np.sqrt(np.diagonal(spread, axis1=1, axis2=2))
    return np.asarray((log_ndtr((1.03 - stroke) / deviation) + log_ndtr(stroke / deviation)).sum(axis=1))


def _check(drive: Drive, runs: tuple[Run, ...], blur: Blurred) -> float:
    """The contrast of oil temperatures [K]. Raises RunsRefused when the runs are too few or too much alike."""
    if len(runs) < 2:
        raise RunsRefused("one run tells speed, not why", "add a run with hot oil on a grade")
    warmth = column(runs, "celsius")
    loads = np.abs(blur.lost / blur.full)
    missing = "cold oil" if warmth.mean() > 60 else "hot oil"
    add = f"add a run with {missing} on the steepest safe grade"
    if loads.max() < LEAST_SPREAD * loads.min():
        raise RunsRefused("these runs are all alike", add)
    if sharpness(blur, 0.9, 3.0) > 3.0 * LEAST_SHARP:
        raise RunsRefused("these runs cannot tell lost stroke from leakage", add)
    return float(np.ptp(warmth))


def _check_possible(strokes: dict[str, Estimate], grid: Array, chance: Array) -> None:
    """Raises RunsRefused for runs that no drive of this model can have made: what was given about them is wrong."""
    amiss = "check gear, tyre size, distance, engine speed and oil before another run"
    if any(stroke.low > 1.05 for stroke in strokes.values()):
        raise RunsRefused("these runs are faster than full stroke allows", amiss)
    if grid[-1] >= _MOST_LEAKAGE and chance[-1] > 1e-4:
        raise RunsRefused("these runs lose more than any worn unit leaks", amiss)


def sharpness(blur: Blurred, stroke: float, leakage: float, of_leakage: bool = True) -> float:
    """Standard error that these runs would give the leakage (over the reference) or the first direction's stroke, if
    `stroke` and `leakage` were true."""
    table = np.column_stack([-blur.lost, blur.full[:, None] * blur.own])
    weight = _inverse(blur.covariance(np.full(len(blur.full), stroke), np.asarray(leakage)))
    information = table.T @ weight @ table
    scale = 1e-9 * np.trace(information) * np.eye(len(information))
    return float(np.sqrt(_inverse(information + scale)[0 if of_leakage else 1][0 if of_leakage else 1]))


def fit(drive: Drive, runs: tuple[Run, ...], reference_error: float = 0.0) -> Fit:
    """Stroke fraction(s) and leakage that explain the runs best.

    `reference_error` is the standard error of the sound unit's leakage as a share (known from rated efficiency: 0).
    Raises RunsRefused for sets that cannot separate the two, and for runs no drive of this model can have made.
    """
    directions = list(dict.fromkeys(run.direction for run in runs))
    blur = blurred(drive, runs, directions)
    contrast = _check(drive, runs, blur)
    grid, chance, stroke, spread, squares = _spread_out(blur)
    variance = np.diagonal(spread, axis1=1, axis2=2)
    leakage = _of_grid(grid, chance)
    strokes = {name: _of_mixture(stroke[:, i], variance[:, i], chance) for i, name in enumerate(directions)}
    _check_possible(strokes, grid, chance)
    freedom = len(runs) - len(directions) - 1
    size = reference(drive)
    return Fit(
        stroke=strokes,
        leakage=Estimate(*(size * part for part in leakage)),
        ratio=_ratio(leakage, reference_error) if drive.new_leakage else None,
        contrast=contrast,
        misfit=float(squares.min()) / freedom if freedom > 0 else float("nan"),
        pressures=tuple(float(p) for p in pressures(drive, runs)),
        chances=(grid, chance, stroke, variance),
    )


def _spread_out(blur: Blurred) -> tuple[Array, Array, Array, Array, Array]:
    """Leakages where there is probability, evenly spaced, with it; strokes, their covariance and the misfits there.

    Before the runs twice the leakage is taken to be about half as likely (1/(1 + k)): blur that grows with the
    leakage would else pull every estimate up by the square of its share.
    """
    low, high = 0.0, _MOST_LEAKAGE
    for _ in range(3):
        grid = np.linspace(low, high, _GRID)
        stroke, spread, log, squares = strokes_given(blur, grid)
        log = log + _plausible(stroke, spread) - np.log1p(grid)
        chance = np.exp(log - log.max())
        alive = grid[chance > 1e-5]
        step = grid[1] - grid[0]
        low, high = max(0.0, alive[0] - step), min(_MOST_LEAKAGE, alive[-1] + step)
    return grid, chance / chance.sum(), stroke, spread, squares


def _of_grid(grid: Array, chance: Array) -> Estimate:
    mean = float(grid @ chance)
    error = max(0.0, float(((grid - mean) ** 2) @ chance)) ** 0.5
    middle = np.cumsum(chance) - chance / 2
    low, high = (float(np.interp(q, middle, grid)) for q in (0.05, 0.95))
    return Estimate(mean, low, high, error)


def _of_mixture(means: Array, variances: Array, chance: Array) -> Estimate:
    """Mean and band of normal numbers mixed by chance."""
    from scipy.special import ndtr

    mean = float(means @ chance)
    error = float(np.sqrt((variances + (means - mean) ** 2) @ chance))
    points = np.linspace(mean - 5 * error, mean + 5 * error, 400)
    below = np.asarray(ndtr((points[:, None] - means) / np.sqrt(variances))) @ chance
    low, high = (float(np.interp(q, below, points)) for q in (0.05, 0.95))
    return Estimate(mean, low, high, error)


def _ratio(leakage: Estimate, reference_error: float) -> Estimate:
    """Leakage over a sound unit's, its band widened by how well that one is known."""
    if not reference_error:
        return leakage
    wider = float(np.hypot(leakage.error, leakage.value * reference_error)) / leakage.error
    low, high = (leakage.value + wider * (end - leakage.value) for end in (leakage.low, leakage.high))
    return Estimate(leakage.value, max(0.0, low), high, leakage.error * wider)
