"""Whirl: the speed at which a shaft bows out, and what a slip spline still has."""

from __future__ import annotations

import math

#: First root of the beam equation for each way the ends are held; squared over 2π it gives 1.57, 3.56 and 0.56.
_ROOT = {"pinned": math.pi, "fixed": 4.730040744862704, "cantilever": 1.8751040687119611}
ENDS = tuple(_ROOT)


def whirl_speed(
    outer: float, inner: float, length: float, modulus: float, density: float, ends: str = "pinned"
) -> float:
    """First whirl speed [rev/s] of a uniform round shaft = k·√(E·I/(m·L⁴)).

    Outside and inside diameter [m] (inside 0 for a solid one), length between the ends [m], E [Pa], density [kg/m³];
    k is 1.57 for pinned ends (two joints), 3.56 fixed, 0.56 cantilever. Slender (L > 10 × diameter), no mass in the
    middle, stiff bearings: a real shaft whirls somewhat lower. Source: Carvill, Mechanical Engineer's Data Handbook,
    p. 45. Raises ValueError.

    >>> round(whirl_speed(0.060, 0.054, 1.2, 207e9, 7850) * 60, 1)
    6782.5
    """
    if not 0 <= inner < outer:
        raise ValueError("the inside diameter must be smaller than the outside one")
    if ends not in _ROOT:
        raise ValueError(f"the ends are {', '.join(ENDS)}, not {ends}")
    area = math.pi * (outer**2 - inner**2) / 4
    second_moment = math.pi * (outer**4 - inner**4) / 64
    k = _ROOT[ends] ** 2 / (2 * math.pi)
    return k * math.sqrt(modulus * second_moment / (density * area * length**4))


def spline_left(travel: float, used: float, change: float = 0.0) -> tuple[float, float]:
    """What a slip spline of `travel` [m], pushed in by `used` [m], has left after the shaft shortens by `change` [m]:
    room to go in, and engagement still held. Either below zero means it bottoms or comes apart. Source: geometry.

    >>> tuple(round(c, 3) for c in spline_left(0.040, 0.025, 0.005))
    (0.01, 0.03)
    """
    return travel - used - change, used + change
