"""Invented sessions of timed runs with a known truth, made by a law of their own with errors the solver is not told.

Each session draws stroke 0.6–1 and leakage 1–8 × new, then a machine and a plan of runs; readings get the usual
instrument errors. What the solver does not know: the tyre's true radius and slip (which also bends upwards with
load), rolling resistance, efficiency, charge pressure, film temperature, true mass, and oil lost on the charge side.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from shopboard.mechanics.oil import of_grade
from shopboard.mechanics.runs import Drive, Run

NEW_EFFICIENCY = 0.90


class Session(NamedTuple):
    """One shop visit: what the solver is given, and what is true."""

    drive: Drive
    runs: tuple[Run, ...]
    stroke: float
    ratio: float
    contrast: float


def machine(rng: np.random.Generator) -> Drive:
    """A machine whose ideal speed is 2.5–4.5 m/s, 450–1,100 kg, new efficiency 90 % at 140 bar and 20 mm²/s."""
    volume, speed = rng.uniform(14e-6, 28e-6), 2600 / 60
    radius = rng.uniform(0.24, 0.36)
    ratio = speed * 2 * math.pi * radius / rng.uniform(2.5, 4.5)
    new = (1 - NEW_EFFICIENCY) * volume * speed * 20e-6 * 870 / 150e5
    mass = rng.uniform(450, 1100)
    grade = rng.choice([32, 46, 68])
    return Drive(volume, volume, ratio, radius, mass, of_grade(float(grade)), new_leakage=new)


def plan(rng: np.random.Generator) -> list[tuple[float, float]]:
    """Grades (rad) and oil temperatures (°C) of 4 to 8 runs; the day's contrast of temperature is 0 to 55 K."""
    cold = rng.uniform(25, 50)
    warm = cold + rng.uniform(0, 55)
    steep = math.atan(rng.uniform(0.08, 0.18))
    kinds = [(0.0, cold), (steep, cold), (0.0, warm), (steep, warm)]
    runs = kinds if rng.random() < 0.7 else [kinds[i] for i in rng.choice(4, 3, replace=False)]
    again = [runs[i] for i in rng.integers(len(runs), size=int(rng.integers(1, 5)))]
    return [(g, t + rng.uniform(-2, 2)) for g, t in [*runs, *again]]


def session(rng: np.random.Generator) -> Session:
    """One session with its truth."""
    drive = machine(rng)
    stroke, ratio = rng.uniform(0.6, 1.0), rng.uniform(1.0, 8.0)
    known = {name: rng.normal(0, size) for name, size in HIDDEN.items()}
    bend, charge_side = rng.uniform(0, 0.15), rng.uniform(0, 0.3)
    mass = drive.mass * (1 + rng.normal(0, 0.05))
    radius = drive.radius * (1 + known["radius"])
    runs = []
    for grade, celsius in plan(rng):
        engine = rng.uniform(2350, 2700) / 60
        pull = math.sin(grade) + max(0.02, 0.06 + known["rolling"]) * math.cos(grade)
        lever = radius / (drive.ratio * drive.motor / (2 * math.pi) * 0.9 * (1 + known["efficiency"]))
        pressure = mass * 9.80665 * pull * lever
        slip = 0.02 / 0.06 * max(0.1, 1 + known["slip"]) * pull * (1 + bend * pull)
        film = celsius + 10 + known["film"]
        viscosity = 870e-6 * drive.oil.viscosity(film)
        charge = 10e5 * (1 + known["charge"])
        lost = ratio * drive.new_leakage * (pressure + charge + charge_side * charge) / viscosity
        metres = 2 * math.pi * radius / (drive.motor * drive.ratio)
        speed = metres * (drive.pump * engine * stroke * (1 - slip) - lost)
        distance = float(rng.choice([20.0, 30.0, 40.0]))
        runs.append(read(rng, distance, distance / speed if speed > 0 else math.inf, engine, grade, celsius))
    moving = tuple(run for run in runs if 0 < run.time < 60)  # slower than that nobody times: it does not climb
    contrast = float(np.ptp([run.celsius for run in moving])) if moving else 0.0
    return Session(drive, moving, stroke, ratio, contrast)


HIDDEN = {"radius": 0.01, "rolling": 0.015, "efficiency": 0.05, "slip": 0.5, "film": 3.0, "charge": 0.2}


def read(rng: np.random.Generator, distance: float, time: float, engine: float, grade: float, celsius: float) -> Run:
    """The run as it is read, with the usual errors of stopwatch, tape, tachometer, inclinometer and thermometer."""
    return Run(
        distance * (1 + rng.normal(0, 0.005)),
        time + rng.normal(0, 0.1),
        engine * (1 + rng.normal(0, 0.005)),
        grade + rng.normal(0, 0.005),
        celsius + rng.normal(0, 2.0),
    )
