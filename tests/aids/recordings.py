"""Made recordings: known sources in noise, as a phone on the floor plate would log them."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from shopboard.mechanics.model_data import ModelData
from shopboard.mechanics.orders import Source, sources

MODELS = (
    {"cylinders": 3, "joints": 2, "pistons": 9, "pump_displacement": "21 cm3", "motor_displacement": "21 cm3",
     "range_ratio_low": 2.9, "range_teeth": 13, "final_teeth": 11, "final_ratio": 12.4, "tyre_lugs": 21},
    {"cylinders": 4, "joints": 2, "pistons": 7, "pump_displacement": "28 cm3", "motor_displacement": "35 cm3",
     "range_ratio_low": 1.7, "range_teeth": 15, "final_teeth": 9, "final_ratio": 17.1},
    {"cylinders": 2, "pump_ratio": 1.4, "pistons": 5, "pump_displacement": "10 cm3", "motor_displacement": "160 cm3",
     "final_ratio": 1, "belt_length": "1.32 m", "belt_pulley": "140 mm"},
)  # fmt: skip


class Made(NamedTuple):
    """A recording with its truth: samples × 3 axes, the engine speed as read and the sources in it."""

    axes: np.ndarray
    rate: float
    read_speed: float
    data: ModelData
    planted: tuple[Source, ...]


def recording(rng: np.random.Generator, rate: float, decibel: float = -10.0, silent: bool = False) -> Made:
    """20 to 60 s of 1 to 4 sources, all together at `decibel` over the noise on each axis, unknown phase and direction.

    The engine speed read is 0.5 % off (one standard error), the drive's own speed 1.5 %; the engine wanders slowly by
    0.1 %. Noise is white, or falls off with frequency as a soft floor plate makes it.
    """
    data = ModelData(MODELS[int(rng.integers(len(MODELS)))])
    true = rng.uniform(1400, 3000) / 60
    seconds = rng.uniform(20, 60)
    time = np.arange(int(seconds * rate)) / rate
    found, _ = sources(data, true)
    within = [s for s in found if 1.0 < s.frequency < 0.46 * rate]
    planted: list[Source] = []
    wanted = int(rng.integers(1, 5))
    for i in rng.permutation(len(within)):
        if all(abs(within[i].frequency - p.frequency) > 0.5 for p in planted):
            planted.append(within[i])
        if len(planted) == wanted:
            break
    axes = np.stack([_noise(rng, len(time)) for _ in range(3)], axis=1)
    if not silent:
        drive = 1 + rng.normal(0, 0.015)
        wander = 0.001 * true * np.cumsum(np.sin(2 * np.pi * time / rng.uniform(15, 40) + rng.uniform(0, 6))) / rate
        signal = np.zeros_like(axes)
        for source in planted:
            share = drive if source.error else 1.0
            cycles = share * source.order * (true * time + wander)
            direction = np.abs(rng.normal(size=3)) + 0.3
            level = 10 ** (rng.uniform(-3, 3) / 20)
            for axis in range(3):
                signal[:, axis] += level * direction[axis] * np.sin(2 * np.pi * (cycles + rng.random()))
        size = np.sqrt((signal**2).mean(axis=0) / (axes**2).mean(axis=0))
        axes = axes + signal / size * 10 ** (decibel / 20)
    return Made(axes, rate, true * (1 + rng.normal(0, 0.005)), data, () if silent else tuple(planted))


def _noise(rng: np.random.Generator, count: int) -> np.ndarray:
    white = rng.normal(size=count)
    if rng.random() < 0.5:
        return white
    smooth = np.convolve(white, [0.5, 0.3, 0.15, 0.05], mode="same")
    return smooth / smooth.std()


def ride() -> str:
    """The CSV of the handbook's worked example: 40 s at 200 Hz with the joints' 2× at 2,590 rev/min in noise."""
    rng = np.random.default_rng(26)
    time = np.arange(8000) / 200
    tone = np.sin(2 * np.pi * 2 * 2590 / 60 * time)
    rows = (
        f"{t:.3f},{x:.4f},{y:.4f}"
        for t, x, y in zip(time, tone + rng.normal(size=8000), rng.normal(size=8000), strict=True)
    )
    return "time (s),x,y\n" + "\n".join(rows) + "\n"
