"""Viscosity index: how little an oil thins as it warms.

Source: ASTM D2270. The reference curves L and H are its published quadratics, one pair a range of the viscosity at
100 °C; kinematic viscosities in mm²/s.
"""

from __future__ import annotations

import math
from bisect import bisect_right

# From this viscosity at 100 °C up: L = a·y² + b·y + c and H = d·y² + e·y + f.
_CURVES = (
    (2.0, (1.14673, 1.7576, -0.109), (0.84155, 1.5521, -0.077)),
    (3.8, (3.38095, -15.4952, 33.196), (0.78571, 1.7929, -0.183)),
    (4.4, (2.5000, -7.2143, 13.812), (0.82143, 1.5679, 0.119)),
    (5.0, (0.10100, 16.6350, -45.469), (0.04985, 9.1613, -18.557)),
    (6.4, (3.35714, -23.5643, 78.466), (0.22619, 7.7369, -16.656)),
    (7.0, (0.01191, 21.4750, -72.870), (0.79762, -0.7321, 14.610)),
    (7.7, (0.41858, 16.1558, -56.040), (0.05794, 10.5156, -28.240)),
    (9.0, (0.88779, 7.5527, -16.600), (0.26665, 6.7015, -10.810)),
    (12.0, (0.76720, 10.7972, -38.180), (0.20073, 8.4658, -22.490)),
    (15.0, (0.97305, 5.3135, -2.200), (0.28889, 5.9741, -4.930)),
    (18.0, (0.97256, 5.2500, -0.980), (0.24504, 7.4160, -16.730)),
    (22.0, (0.91413, 7.4759, -21.820), (0.20323, 9.1267, -34.230)),
    (28.0, (0.87031, 9.7157, -50.770), (0.18411, 10.1015, -46.750)),
    (40.0, (0.84703, 12.6752, -133.310), (0.17029, 11.4866, -80.620)),
    (55.0, (0.85921, 11.1009, -83.19), (0.17130, 11.3680, -76.940)),
    (70.0, (0.83531, 14.6731, -216.246), (0.16841, 11.8493, -96.947)),
)
_STARTS = tuple(row[0] for row in _CURVES)


def reference(at_100: float) -> tuple[float, float]:
    """L and H [mm²/s]: viscosities at 40 °C of the oils of index 0 and 100 that have `at_100` ≥ 2 mm²/s at 100 °C.

    Raises ValueError below 2 mm²/s, where the standard stops.

    >>> [round(c, 2) for c in reference(8.86)]
    [119.96, 69.48]
    """
    if at_100 < 2:
        raise ValueError("a viscosity index needs at least 2 mm²/s at 100 °C")
    _, low, high = _CURVES[bisect_right(_STARTS, at_100) - 1]
    return _quadratic(low, at_100), _quadratic(high, at_100)


def _quadratic(c: tuple[float, float, float], y: float) -> float:
    return (c[0] * y + c[1]) * y + c[2]


def index(at_40: float, at_100: float) -> float:
    """Viscosity index of an oil of `at_40` and `at_100` mm²/s, unrounded; the standard rounds it to a whole number.

    Up to 100 by procedure A, above it by procedure B. Raises ValueError where the standard does not reach.

    >>> round(index(73.30, 8.86)), round(index(22.83, 5.05))
    (92, 156)
    """
    if at_40 <= at_100:
        raise ValueError("an oil must be thicker at 40 °C than at 100 °C")
    low, high = reference(at_100)
    if at_40 >= high:
        return 100 * (low - at_40) / (low - high)
    power = (math.log10(high) - math.log10(at_40)) / math.log10(at_100)
    return (10**power - 1) / 0.00715 + 100


def viscosity_at_100(at_40: float, wanted: float) -> float:
    """The viscosity [mm²/s] at 100 °C of an oil of `at_40` mm²/s and index `wanted`, by bisection.

    Raises ValueError for an index no such oil has.

    >>> round(viscosity_at_100(46, 100), 2)
    6.76
    """
    low, high = 2.0, at_40 / 1.0001
    if high <= low or not index(at_40, low) <= wanted <= index(at_40, high):
        raise ValueError(f"no oil of {at_40:g} mm²/s at 40 °C has a viscosity index of {wanted:g}")
    for _ in range(80):
        middle = (low + high) / 2
        low, high = (middle, high) if index(at_40, middle) < wanted else (low, middle)
    return low
