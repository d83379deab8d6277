"""Slope hold: how fast a machine creeps down a known grade in neutral, engine running, turned into leakage.

Half the sum of the downhill speeds nose up and nose down is the leakage; half their difference is a plate a little
off zero, which adds one way and takes away the other. SI; grade in rad, oil in °C.
Prove the brake first: run-out room below, a second person, nobody in the path.
"""

from __future__ import annotations

import math
from typing import NamedTuple

from .runs import GRAVITY, UNMEASURED, Drive

CAUTION = (
    "Prove the brake before a slope test: a clear run-out below, a second person, nobody in the path; the maker's "
    "service manual and the employer's rules come first."
)


class Hold(NamedTuple):
    """`creep` is the leakage's own speed and `offset` the speed a plate off zero adds nose down [m/s]; `pressure` the
    loop pressure the slope makes [Pa], `leakage` the constant k [m³], `error` its standard error [m³]."""

    creep: float
    offset: float
    pressure: float
    leakage: float
    error: float


def slope_pressure(drive: Drive, grade: float) -> float:
    """Loop pressure [Pa] with which the machine pushes its motor on `grade` [rad] > 0.

    F·r·η/(i·V/2π) with F = m·g·(sin − rolling·cos): friction now helps to hold. Zero when rolling resistance holds it.
    Source: traction formulas in general use.
    """
    force = drive.mass * GRAVITY * (math.sin(grade) - drive.rolling * math.cos(grade))
    return max(0.0, force * drive.radius * drive.efficiency / (drive.ratio * drive.motor / (2 * math.pi)))


def hold(
    drive: Drive,
    grade: float,
    nose_up: float,
    nose_down: float,
    celsius: float,
    errors: tuple[float, float] = (0.0, 0.0),
    celsius_error: float = 2.0,
) -> Hold:
    """Leakage from the downhill creep speeds [m/s] nose up and nose down (uphill creep negative).

    k = v·μ/((Δp + p_charge)·metres a volume). The error linearises those of the speeds (`errors`), the oil, the mass,
    rolling resistance and efficiency. Raises ValueError when the slope does not push the drive at all.
    """
    pressure = slope_pressure(drive, grade)
    if pressure <= 0:
        raise ValueError("the slope is too gentle: rolling resistance alone holds the machine")
    creep, offset = (nose_up + nose_down) / 2, (nose_down - nose_up) / 2

    def leakage(speed: float, film: float, mass: float, rolling: float, efficiency: float) -> float:
        moved = drive._replace(mass=mass, rolling=rolling, efficiency=efficiency)
        load = slope_pressure(moved, grade) + drive.charge
        return speed * float(drive.viscosity(film)) / (load * drive.metres_per_volume())

    film = celsius + drive.film_rise
    here = (creep, film, drive.mass, drive.rolling, drive.efficiency)
    mass_error = 0.05 * drive.mass if drive.mass_error is None else drive.mass_error
    steps = (
        math.hypot(*errors) / 2,
        math.hypot(celsius_error, UNMEASURED["film"]),
        mass_error,
        UNMEASURED["rolling"],
        UNMEASURED["efficiency"] * drive.efficiency,
    )
    total = 0.0
    for i, step in enumerate(steps):
        up, down = ([*here[:i], here[i] + sign * step, *here[i + 1 :]] for sign in (1, -1))
        total += ((leakage(*up) - leakage(*down)) / 2) ** 2
    return Hold(creep, offset, pressure, leakage(*here), math.sqrt(total))
