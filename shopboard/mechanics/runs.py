"""Timed runs, forwards: how fast a machine with lost stroke and leakage covers a marked distance.

v = v_ideal·s·(1 − slip) − k·(Δp + p_charge)/μ, with stroke fraction s and leakage k: the film between piston and bore
leaks with pressure and one over its viscosity. Δp drives the machine: F·r/(i·V/2π·η), F = m·g·(sin + rolling·cos).
SI inside; oil temperatures in °C, grades in rad, engine speeds in rev/s.
Source: hydrostat and traction formulas in general use; the leakage law is that of `hydrostat.bore_leakage`.
"""

from __future__ import annotations

import math
from functools import lru_cache
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from .model_data import ModelData
from .oil import Walther, of_grade

Array = npt.NDArray[np.float64]
GRAVITY = 9.80665

#: Standard errors taken where a reading gives none. Common practice, no source.
TIME_ERROR = 0.1  # s: two presses of a hand-held stopwatch
SHARE_ERRORS = {"distance": 0.005, "speed": 0.005, "pressure": 0.03, "mass": 0.05}
GRADE_ERROR, CELSIUS_ERROR = 0.005, 2.0
#: Standard errors of what nobody measures in the yard: loaded radius, slip, efficiency and charge pressure as shares
#: of their own, rolling resistance as a share of the weight, film temperature in K. Common practice, no source.
UNMEASURED = {
    "radius": 0.01,
    "slip": 0.5,
    "efficiency": 0.05,
    "charge": 0.2,
    "rolling": 0.015,
    "film": 3.0,
    "paths": 0.06,
}
#: How far a run departs from the law of the module for reasons of its own (turf, wheel, driver), as a share of speed.
LAW_ERROR = 0.005


class Run(NamedTuple):
    """One run as read: `distance` [m] in `time` [s] at engine `speed` [rev/s] under load, on `grade` [rad] (uphill
    positive), sump at `celsius`. `pressure` [Pa] is the loop's difference from a gauge, if there is one; the `_error`
    fields are standard errors in the same units, None: the usual ones."""

    distance: float
    time: float
    speed: float
    grade: float
    celsius: float
    direction: str = "forward"
    pressure: float | None = None
    distance_error: float | None = None
    time_error: float | None = None
    speed_error: float | None = None
    grade_error: float | None = None
    celsius_error: float | None = None
    pressure_error: float | None = None


class Drive(NamedTuple):
    """What of a model the runs need: volumes a turn [m³], motor turns a wheel turn, loaded radius [m], mass [kg] and
    its standard error, charge [Pa], oil, and the usual shares."""

    pump: float
    motor: float
    ratio: float
    radius: float
    mass: float
    oil: Walther
    mass_error: float | None = None
    density: float = 870.0
    charge: float = 10e5
    pump_ratio: float = 1.0
    efficiency: float = 0.9
    rolling: float = 0.06
    slip: float = 0.02
    film_rise: float = 10.0
    new_leakage: float | None = None
    relief: float | None = None

    def metres_per_volume(self) -> float:
        """Way [m] the machine makes for each m³ through the motor."""
        return 2 * math.pi * self.radius / (self.motor * self.ratio)

    def ideal(self, speed: float) -> float:
        """Speed over ground [m/s] at engine `speed` [rev/s], full stroke, no leakage and no slip."""
        return self.pump * self.pump_ratio * speed * self.metres_per_volume()

    def viscosity(self, film: Array | float) -> Array:
        """Dynamic viscosity [Pa·s] of the film at `film` °C; `Walther.viscosity` for a whole array."""
        kinematic = 10**10 ** (self.oil.a - self.oil.b * np.log10(np.clip(film, -40, 200) + 273.15)) - 0.7
        return np.asarray(self.density * kinematic * 1e-6)


COMMON = ("radius", "slip", "efficiency", "charge", "rolling", "film", "paths", "mass")


def new_leakage(data: ModelData) -> float | None:
    """Leakage [m³] of a new unit, from its rated volumetric efficiency: k = (1 − η)·Q·μ/(p + p_charge), or None.

    Source: definition of volumetric efficiency, with `hydrostat.bore_leakage`'s law.
    """
    efficiency, speed = data.find("rated_efficiency"), data.find("rated_speed")
    if efficiency is None or speed is None:
        return None
    lost = (1 - efficiency) * data.need("pump_displacement") * data.need("pump_ratio") * speed
    viscosity = data.need("rated_viscosity") * data.need("oil_density")
    return lost * viscosity / (data.need("rated_pressure") + data.need("charge_pressure"))


def drive(data: ModelData, gear: str = "", mass: float | None = None, mass_error: float | None = None) -> Drive:
    """The drive of a model in a gear. `mass` [kg] as weighed beats the model's own.

    Raises MissingDatum naming the number the model lacks and what can still be said.
    """
    return Drive(
        pump=data.need("pump_displacement"),
        motor=data.need("motor_displacement"),
        ratio=data.range_ratio(gear) * data.need("final_ratio"),
        radius=data.need("rolling_radius"),
        mass=data.need("mass") if mass is None else mass,
        mass_error=mass_error,
        oil=of_grade(data.need("oil_grade"), data.need("oil_index")),
        density=data.need("oil_density"),
        charge=data.need("charge_pressure"),
        pump_ratio=data.need("pump_ratio"),
        efficiency=data.need("mechanical_efficiency"),
        rolling=data.need("rolling_resistance"),
        slip=data.need("tyre_slip"),
        film_rise=data.need("film_rise"),
        new_leakage=new_leakage(data),
        relief=data.find("relief_pressure"),
    )


@lru_cache(maxsize=128)
def column(runs: tuple[Run, ...], name: str) -> Array:
    """One field of all runs as a read-only array, in the field's own SI unit."""
    return _kept([getattr(run, name) for run in runs])


@lru_cache(maxsize=128)
def errors(runs: tuple[Run, ...], name: str) -> Array:
    """The standard errors of one field of all runs, in the field's unit; the usual one where a reading gave none."""
    return _kept([_error(run, name) for run in runs])


def _kept(values: list[float]) -> Array:
    found = np.array(values, dtype=float)
    found.flags.writeable = False
    return found


def _error(run: Run, name: str) -> float:
    given: float | None = getattr(run, f"{name}_error")
    if given is not None:
        return given
    fixed = {"time": TIME_ERROR, "grade": GRADE_ERROR, "celsius": CELSIUS_ERROR}
    value: float = getattr(run, name) or 0.0
    return fixed[name] if name in fixed else SHARE_ERRORS[name] * value


def resistance(grade: Array, mass: Array, rolling: Array) -> Array:
    """Force [N] that drives the machine up `grade` [rad] at a steady speed = m·g·(sin + rolling·cos)."""
    return np.asarray(mass * GRAVITY * (np.sin(grade) + rolling * np.cos(grade)))


def _pull(drive: Drive, runs: tuple[Run, ...], off: dict[str, Array], load: Array) -> tuple[Array, Array]:
    """Driving pressure difference [Pa] of each run, and its drive force over weight."""
    mass_share = SHARE_ERRORS["mass"] if drive.mass_error is None else drive.mass_error / drive.mass
    mass = drive.mass * (1 + mass_share * off["mass"])
    rolling = np.maximum(drive.rolling + UNMEASURED["rolling"] * off["rolling"], 0.01)
    efficiency = drive.efficiency * (1 + UNMEASURED["efficiency"] * off["efficiency"])
    radius = drive.radius * (1 + UNMEASURED["radius"] * off["radius"])
    lever = radius / (drive.ratio * drive.motor / (2 * math.pi) * efficiency)
    gauge = ~np.isnan(column(runs, "pressure"))
    grade = column(runs, "grade") + np.where(gauge, 0.0, errors(runs, "grade") * load)
    force = resistance(grade, mass, rolling)
    read = np.nan_to_num(column(runs, "pressure")) + errors(runs, "pressure") * load
    pressure = np.where(gauge, read, force * lever)
    return pressure, pressure / lever / (mass * GRAVITY)


def pressures(drive: Drive, runs: tuple[Run, ...]) -> Array:
    """Driving pressure difference [Pa] of each run as read, or from the forces where there was no gauge."""
    nothing = {name: np.zeros(1) for name in COMMON}
    return _pull(drive, runs, nothing, np.zeros(len(runs)))[0]


def law(drive: Drive, runs: tuple[Run, ...], off: Array) -> tuple[Array, Array]:
    """The two parts of the law of the module: speed [m/s] of each run at full stroke without leakage, and speed lost
    to one m³ of leakage k.

    `off` holds departures in standard errors: those of COMMON, then one a run for its oil temperature, then one a run
    for its grade or gauge; axes before the last are whole sets at once.
    """
    n, c = len(runs), len(COMMON)
    named = {name: off[..., i, None] for i, name in enumerate(COMMON)}
    pressure, pull = _pull(drive, runs, named, off[..., c + n :])
    slip = drive.slip * (1 + UNMEASURED["slip"] * named["slip"]) * pull / drive.rolling
    film = column(runs, "celsius") + errors(runs, "celsius") * off[..., c : c + n]
    film = film + drive.film_rise + UNMEASURED["film"] * named["film"]
    charge = drive.charge * (1 + UNMEASURED["charge"] * named["charge"])
    metres = drive.metres_per_volume() * (1 + UNMEASURED["radius"] * named["radius"])
    full = drive.pump * drive.pump_ratio * column(runs, "speed") * metres * (1 - slip)
    paths = 1 + UNMEASURED["paths"] * named["paths"]
    lost = np.sign(pressure) * (np.abs(pressure) + charge) * paths / drive.viscosity(film) * metres
    return np.asarray(full), np.asarray(lost)
