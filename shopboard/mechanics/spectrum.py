"""Spectra of recordings, and the peaks that stand out of the noise.

Welch's method: Hann windows of about eight seconds, half overlapped, averaged. Each axis is measured against its own
noise floor (a running median), the axes are added, and a peak counts when noise alone would reach it in fewer than one
recording in two hundred.
Source: Welch, IEEE Trans. Audio Electroacoust. AU-15 (1967) 70–73; scipy.signal for the transform.
"""

from __future__ import annotations

import math
from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]

SECONDS = 8.0
FALSE_ALARM = 0.005
_FLOOR_BINS = 101


class Spectrum(NamedTuple):
    """`frequency` [Hz], `amplitude` (peak, in the recording's unit, all axes together), `prominence` (power over the
    noise floor, 1 for noise), `resolution` [Hz] (one bin) and the prominence `threshold` above which a peak counts."""

    frequency: Array
    amplitude: Array
    prominence: Array
    resolution: float
    threshold: float


class Peak(NamedTuple):
    """A peak at `frequency` [Hz] of `amplitude`, `prominence` times the noise, its frequency good to `error` [Hz]."""

    frequency: float
    amplitude: float
    prominence: float
    error: float


def power(signal: Array, rate: float, seconds: float = SECONDS) -> tuple[Array, Array, float]:
    """Frequencies [Hz], mean-square power in each bin of a Hann spectrum, and how many independent averages it has.

    √(2·power) is the amplitude of a tone that sits on a bin. Source: scipy.signal.welch, scaling "spectrum".
    """
    from scipy.signal import welch

    length = min(len(signal), max(32, round(seconds * rate)))
    frequency, found = welch(signal, rate, "hann", length, length // 2, detrend="constant", scaling="spectrum")
    pieces = max(1, (len(signal) - length) // (length - length // 2) + 1)
    # Neighbouring half-overlapped Hann windows share one sixth of their weight.
    averages = pieces / (1 + 2 * (1 - 1 / pieces) / 36)
    return np.asarray(frequency), np.asarray(found), averages


def spectrum(axes: Array, rate: float, seconds: float = SECONDS) -> Spectrum:
    """The spectrum of a recording (samples × axes) at `rate` [Hz], all axes together."""
    from scipy.special import gammainccinv

    seconds = min(seconds, max(2.0, len(axes) / rate / 3))
    frequency, total, over = np.zeros(0), np.zeros(0), np.zeros(0)
    averages = 1.0
    for signal in axes.T:
        frequency, found, averages = power(signal, rate, seconds)
        if not len(total):
            total, over = np.zeros_like(found), np.zeros_like(found)
        total += found
        over += found / _floor(found, averages)
    shape = averages * axes.shape[1]
    over /= axes.shape[1]
    threshold = float(gammainccinv(shape, FALSE_ALARM / len(frequency))) / shape
    return Spectrum(frequency, np.sqrt(2 * total), over, float(frequency[1]), threshold * 1.05)


def _floor(found: Array, averages: float) -> Array:
    """The mean of the noise in each bin, from a running median (a median of averaged power is below its mean)."""
    from scipy.ndimage import median_filter
    from scipy.special import gammaincinv

    window = min(_FLOOR_BINS, len(found) // 2 * 2 - 1)
    middle = median_filter(found, size=window, mode="mirror")
    floor = middle * averages / float(gammaincinv(averages, 0.5))
    return np.asarray(np.maximum(floor, np.finfo(float).tiny + 1e-12 * found.max()))


def peaks(found: Spectrum, most: int = 30) -> tuple[Peak, ...]:
    """The peaks above the threshold, strongest first; side lobes and the smear of a wandering tone belong to their
    peak. The two lowest bins, where drift lives, are left out."""
    height = found.prominence
    inner = np.arange(2, len(height) - 1)
    top = inner[(height[inner] >= height[inner - 1]) & (height[inner] > height[inner + 1])]
    top = top[height[top] > found.threshold]
    kept: list[int] = []
    for at in sorted(top, key=lambda i: -height[i]):
        if all(_apart(found, at, other) for other in kept):
            kept.append(int(at))
        if len(kept) == most:
            break
    return tuple(_peak(found, at) for at in kept)


def _apart(found: Spectrum, at: int, other: int) -> bool:
    bins = abs(at - other)
    smear = max(3.0, 0.006 * other)
    if bins <= smear:
        return False
    lobe = found.amplitude[other] ** 2 * 10 ** (-2.6 - 0.02 * bins)  # Hann side lobes, well above their envelope
    return bins > 40 or bool(found.amplitude[at] ** 2 > lobe)


def _peak(found: Spectrum, at: int) -> Peak:
    left, here, right = (math.log(max(found.prominence[i], 1e-300)) for i in (at - 1, at, at + 1))
    bend = left - 2 * here + right
    shift = 0.5 * (left - right) / bend if bend < 0 else 0.0
    frequency = float(found.frequency[at]) + shift * found.resolution
    strength = max(1.0, found.prominence[at] - 1)
    error = found.resolution * min(0.5, 0.1 + 0.7 / math.sqrt(strength))
    return Peak(frequency, float(found.amplitude[at]), float(found.prominence[at]), error)


def rows(found: Spectrum, most: int = 400) -> list[tuple[float, float]]:
    """The spectrum thinned to at most `most` points for drawing, the highest of each stretch kept [Hz, amplitude]."""
    width = max(1, math.ceil(len(found.frequency) / most))
    parts: list[Any] = np.array_split(np.arange(len(found.frequency)), math.ceil(len(found.frequency) / width))
    best = [int(part[np.argmax(found.amplitude[part])]) for part in parts]
    return [(float(found.frequency[i]), float(found.amplitude[i])) for i in best]
