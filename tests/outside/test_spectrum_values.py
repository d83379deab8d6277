"""Spectra against scipy.signal and against tones put in by hand."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import signal as ss

from shopboard.mechanics import run_up, spectrum

RATE, SECONDS = 2048.0, 8.0
TIME = np.arange(int(RATE * SECONDS)) / RATE
TONES = {1: 1.0, 2: 0.5, 18: 0.2}  # orders at 540 rev/min: 9, 18, 162 Hz
WAVE = sum(a * np.sin(2 * np.pi * 9 * order * TIME + order) for order, a in TONES.items())


def test_amplitudes_of_tones_at_540_rev_min() -> None:
    frequency, power, _ = spectrum.power(WAVE, RATE, SECONDS)
    for order, amplitude in TONES.items():
        at = int(np.argmin(np.abs(frequency - 9 * order)))
        assert frequency[at] == 9 * order
        assert np.sqrt(2 * power[at]) == pytest.approx(amplitude, abs=1e-9)


def test_amplitudes_agree_with_a_plain_periodogram() -> None:
    # scipy.signal.periodogram, Hann, scaling 'spectrum'.
    _, mine, _ = spectrum.power(WAVE, RATE, SECONDS)
    _, theirs = ss.periodogram(WAVE, RATE, "hann", detrend="constant", scaling="spectrum")
    assert mine == pytest.approx(theirs, abs=1e-12)


def test_parseval() -> None:
    # ½·(1² + 0.5² + 0.2²) = 0.645, and the power spectral density summed says the same.
    frequency, density = ss.periodogram(WAVE, RATE, "boxcar", scaling="density")
    assert density.sum() * frequency[1] == pytest.approx(0.645, abs=1e-9)
    _, power, _ = spectrum.power(WAVE, RATE, SECONDS)
    assert power.sum() / 1.5 == pytest.approx(0.645, abs=1e-9)  # a Hann window spreads a tone over 1.5 bins


def test_run_up_orders_are_recovered() -> None:
    # 600 to 1,800 rev/min in 10 s, orders 1, 2 and 9 at .8, .3 and .1, read anew 64 times a turn; order 3 is empty.
    rate = 4096.0
    time = np.arange(int(10 * rate) + 1) / rate
    rpm = 600 + 120 * time
    turn = 10 * time + time**2
    wave = sum(a * np.sin(2 * np.pi * order * turn + order) for order, a in ((1, 0.8), (2, 0.3), (9, 0.1)))
    orders, amplitude = run_up.order_amplitudes(wave, rate, rpm, per_turn=64)
    for order, expected in ((1, 0.8), (2, 0.3), (9, 0.1), (3, 0.0)):
        at = int(np.argmin(np.abs(orders - order)))
        assert orders[at] == pytest.approx(order, abs=1e-12)
        assert amplitude[at] == pytest.approx(expected, abs=5e-5)


# The worked frequencies of a phone on a drive at 2,600 rev/min: 2 and 14 times 43.3 Hz.
@pytest.mark.parametrize(("name", "hertz"), [("joints 2×", 87), ("pump pistons 14×", 607)])
def test_orders_at_2600_rev_min(name: str, hertz: float) -> None:
    from shopboard.mechanics.model_data import ModelData
    from shopboard.mechanics.orders import sources

    found, _ = sources(ModelData({"joints": 2, "pistons": 7}), 2600 / 60)
    assert round(next(s.frequency for s in found if s.name == name)) == hertz
