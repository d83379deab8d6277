"""Which source a peak belongs to: peaks against orders, with the engine speed a little uncertain.

One scale stretches every order alike (the stated speed is off by the same share for all), so peaks vouch for each
other. A peak may also belong to nothing on the list. Probabilities by Bayes' rule over a grid of scales.
Source: Bayes' rule; normal errors.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from .orders import Group
from .spectrum import Peak

Array = npt.NDArray[np.float64]

#: Standard error of an engine speed read from a dash or a tachometer, as a share. Common practice, no source.
SPEED_ERROR = 0.01
#: Before looking: how often a peak belongs to nothing on the list.
NOTHING = 0.15


class Match(NamedTuple):
    """What a peak most likely is: `group` (None: nothing matches) with its probability, and the second best."""

    peak: Peak
    group: Group | None
    probability: float
    second: Group | None
    second_probability: float


def match(
    peaks: tuple[Peak, ...], groups: tuple[Group, ...], top: float, speed_error: float = SPEED_ERROR
) -> tuple[Match, ...]:
    """Each peak's source, strongest peak first. `top` [Hz] is the highest frequency the recording holds; groups above
    it cannot be seen and are left out. `speed_error` is that of the stated engine speed as a share."""
    seen = [g for g in groups if g.frequency * (1 + 2 * speed_error) < top]
    if not peaks:
        return ()
    scales = 1 + speed_error * np.linspace(-3.5, 3.5, 281) if speed_error else np.ones(1)
    prior = np.exp(-0.5 * ((scales - 1) / speed_error) ** 2) if speed_error else np.ones(1)
    chances = _chances(peaks, seen, scales, top)
    weight = prior / prior.sum() * np.exp(_sums(np.log(chances.sum(axis=2))))
    weight /= weight.sum()
    shares = np.einsum("s,spg->pg", weight, chances / chances.sum(axis=2, keepdims=True))
    return tuple(_best(peak, share, seen) for peak, share in zip(peaks, shares, strict=True))


def _sums(logs: Array) -> Array:
    total = logs.sum(axis=1)
    return np.asarray(total - total.max())


def _chances(peaks: tuple[Peak, ...], groups: list[Group], scales: Array, top: float) -> Array:
    """Likelihood of each peak under each group, and last under nothing, at each scale: scales × peaks × groups."""
    found = np.empty((len(scales), len(peaks), len(groups) + 1))
    at = np.array([peak.frequency for peak in peaks])
    error = np.array([peak.error for peak in peaks])
    for i, group in enumerate(groups):
        found[:, :, i] = (1 - NOTHING) / len(groups) * _of_group(group, scales, at, error)
    found[:, :, -1] = NOTHING / top
    return found


def _of_group(group: Group, scales: Array, at: Array, error: Array) -> Array:
    """Density of each peak's frequency when it is one of the group's sources, any of them alike."""
    total = np.zeros((len(scales), len(at)))
    for source in group.sources:
        spread = np.hypot(error, source.error * source.frequency)
        off = (at - scales[:, None] * source.frequency) / spread
        total += np.exp(-0.5 * off**2) / (spread * np.sqrt(2 * np.pi))
    return total / len(group.sources)


def _best(peak: Peak, share: Array, groups: list[Group]) -> Match:
    first, second = np.argsort(share)[::-1][:2] if len(share) > 1 else (0, 0)
    named = [*groups, None]
    return Match(
        peak, named[first], float(share[first]), named[second], float(share[second]) if len(share) > 1 else 0.0
    )


def hidden(groups: tuple[Group, ...], top: float) -> tuple[Group, ...]:
    """The groups above `top` [Hz], half the sampling rate: the logger cannot hold them, whatever they do."""
    return tuple(group for group in groups if group.frequency >= top)
