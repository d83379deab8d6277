"""Run-ups: order tracking when the engine speed over time is known.

The recording is read anew at even steps of the engine's turn instead of time, so that what follows the engine stands
still in the spectrum while the speed changes. Speeds in rev/min over seconds; orders are per engine turn.
Source: computed order tracking, general use; scipy's splines for the reading between samples.
"""

from __future__ import annotations

import numpy as np

from .spectrum import Array, Spectrum, power, spectrum


def turns(times: Array, rpm: Array) -> Array:
    """Engine turns since the first moment, the speed straight between readings. Source: integral of speed."""
    steps = np.diff(times) * (rpm[1:] + rpm[:-1]) / 120
    return np.concatenate([[0.0], np.cumsum(steps)])


def by_turn(signal: Array, rate: float, rpm: Array, per_turn: int = 64) -> Array:
    """The signal (samples × axes, or one axis) at `per_turn` even steps of each whole turn; rpm beside each sample.

    Raises ValueError when the engine makes less than eight turns or is not turning all along.
    """
    from scipy.interpolate import make_interp_spline

    if (rpm <= 0).any():
        raise ValueError("the engine speed must be above zero all through a run-up")
    times = np.arange(len(signal)) / rate
    angle = turns(times, rpm)
    whole = int(angle[-1])
    if whole < 8:
        raise ValueError("a run-up needs at least eight turns of the engine")
    steps = np.arange(whole * per_turn) / per_turn
    # Between samples the speed is straight, so the turn is a parabola: find the time by that, not along a chord.
    index = np.clip(np.searchsorted(angle, steps, side="right") - 1, 0, len(angle) - 2)
    rest = steps - angle[index]
    start, slope = rpm[index] / 60, (rpm[index + 1] - rpm[index]) / 60 * rate
    moment = times[index] + 2 * rest / (start + np.sqrt(np.maximum(start**2 + 2 * slope * rest, 0.0)))
    return np.asarray(make_interp_spline(times, signal, k=5)(moment))


def order_amplitudes(signal: Array, rate: float, rpm: Array, per_turn: int = 64) -> tuple[Array, Array]:
    """Orders and their amplitudes over the whole run-up, one axis; good to a quarter of the samples a turn holds."""
    even = by_turn(signal, rate, rpm, per_turn)
    orders, found, _ = power(even, per_turn, seconds=len(even) / per_turn)
    return orders, np.sqrt(2 * found)


def held_orders(rate: float, rpm: Array) -> float:
    """The highest order the recording holds all through: half the sampling rate over the highest speed.

    >>> held_orders(400.0, np.array([1200.0, 2400.0]))
    5.0
    """
    return rate / 2 / (float(rpm.max()) / 60)


def order_spectrum(axes: Array, rate: float, rpm: Array, per_turn: int = 64) -> Spectrum:
    """As `spectrum`, in orders instead of Hz, up to the highest order held; windows of 64 turns or a third of the
    run-up."""
    found = spectrum(by_turn(axes, rate, rpm, per_turn), per_turn, seconds=64.0)
    held = found.frequency <= min(held_orders(rate, rpm), per_turn / 2)
    parts = (found.frequency[held], found.amplitude[held], found.prominence[held])
    return Spectrum(*parts, found.resolution, found.threshold)
