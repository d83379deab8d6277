"""Oil: viscosity at a temperature, grade, and whether it is too thin or too thick for the unit.

Kinematic viscosities in mm²/s here (the unit of every oil sheet), temperatures in °C.
"""

from __future__ import annotations

import math
from typing import NamedTuple

from .viscosity_index import viscosity_at_100

_ZERO_C = 273.15

#: ISO 3448 grades by name: mid-point viscosity at 40 °C in tenths of a mm²/s, so that limits are exact.
ISO_GRADES = {
    2: 22, 3: 32, 5: 46, 7: 68, 10: 100, 15: 150, 22: 220, 32: 320, 46: 460, 68: 680, 100: 1000, 150: 1500, 220: 2200,
    320: 3200, 460: 4600, 680: 6800, 1000: 10000, 1500: 15000, 2200: 22000, 3200: 32000,
}  # fmt: skip


class Walther(NamedTuple):
    """Constants of log₁₀ log₁₀(ν + 0.7) = a − b·log₁₀ T, ν in mm²/s, T in K = °C + 273.15."""

    a: float
    b: float

    def viscosity(self, celsius: float) -> float:
        """Viscosity [mm²/s] at `celsius`, good from 2 mm²/s up, between about −20 and 120 °C (no wax, no air).

        Source: ASTM D341 (equation from memory).

        >>> round(walther((40, 32), (100, 5.4)).viscosity(80), 2)
        8.53
        """
        return float(10**10 ** (self.a - self.b * math.log10(celsius + _ZERO_C)) - 0.7)

    def temperature(self, viscosity: float) -> float:
        """Temperature [°C] at which the oil has this viscosity [mm²/s] > 0.3; the reverse of `viscosity`."""
        return float(10 ** ((self.a - _loglog(viscosity)) / self.b) - _ZERO_C)


def _loglog(viscosity: float) -> float:
    return math.log10(math.log10(viscosity + 0.7))


def walther(first: tuple[float, float], second: tuple[float, float]) -> Walther:
    """The line through two points (°C, mm²/s) of an oil. The hotter point must be the thinner; both > 0.3 mm²/s.

    Source: ASTM D341. Raises ValueError.

    >>> [round(c, 4) for c in walther((40, 32), (100, 5.4))]
    [9.5308, 3.7466]
    """
    (cold, thick), (hot, thin) = sorted((first, second))
    if hot == cold or not thick > thin > 0.3:
        raise ValueError("the two points must differ in temperature, and the hotter must be the thinner")
    low, high = math.log10(cold + _ZERO_C), math.log10(hot + _ZERO_C)
    b = (_loglog(thick) - _loglog(thin)) / (high - low)
    return Walther(_loglog(thick) + b * low, b)


def of_grade(grade: float, index: float = 100.0) -> Walther:
    """The oil of an ISO grade at its mid-point with viscosity index `index`, as an unused one is.

    >>> round(of_grade(46, 100).viscosity(40), 3)
    46.0
    """
    at_40 = grade_middle(grade)
    return walther((40.0, at_40), (100.0, viscosity_at_100(at_40, index)))


def grade_middle(grade: float) -> float:
    """Mid-point viscosity [mm²/s] at 40 °C of an ISO 3448 grade. Raises ValueError naming the grades.

    >>> grade_middle(46), grade_middle(2)
    (46.0, 2.2)
    """
    if grade not in ISO_GRADES:
        raise ValueError(f"there is no ISO grade {grade:g}: {', '.join(map(str, ISO_GRADES))}")
    return ISO_GRADES[int(grade)] / 10


def grade_limits(grade: float) -> tuple[float, float]:
    """Least and greatest viscosity [mm²/s] at 40 °C of a grade: the mid-point ± 10 %, both included.

    Source: ISO 3448 (limits as widely reprinted).

    >>> grade_limits(46)
    (41.4, 50.6)
    """
    tenths = round(grade_middle(grade) * 10)
    return tenths * 9 / 100, tenths * 11 / 100


def grade_of(at_40: float) -> int | None:
    """The ISO grade whose limits hold this viscosity [mm²/s] at 40 °C; None between two grades.

    >>> grade_of(50.6), grade_of(40)
    (46, None)
    """
    return next((g for g in ISO_GRADES if grade_limits(g)[0] <= at_40 <= grade_limits(g)[1]), None)


def fitness(oil: Walther, celsius: float, least: float, most: float) -> str:
    """In words: is this oil too thin or too thick at `celsius` for a unit that works from `least` to `most` mm²/s?

    >>> fitness(of_grade(46), 95, 10, 1000)
    'too thin above 84 °C: 7.6 mm²/s at 95 °C, the unit needs 10'
    """
    here = oil.viscosity(celsius)
    if here < least:
        return (
            f"too thin above {oil.temperature(least):.0f} °C: {here:.1f} mm²/s at {celsius:.0f} °C, "
            f"the unit needs {least:g}"
        )
    if here > most:
        return (
            f"too thick below {oil.temperature(most):.0f} °C: {here:.0f} mm²/s at {celsius:.0f} °C, "
            f"the unit takes {most:g}"
        )
    return f"in the window: {here:.3g} mm²/s at {celsius:.0f} °C, from {least:g} to {most:g} allowed"
