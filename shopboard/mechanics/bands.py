"""Error bands: how the readings' errors come through a formula.

Linearised: each reading is moved one standard error up and down, the halved differences add as squares. Good while
the formula is nearly straight over the errors, which workshop errors of a few percent are.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping

from .results import Z90, Figure
from .units import Quantity

__all__ = ["Z90", "figure", "spread"]


def spread(formula: Callable[..., float], values: Mapping[str, float], errors: Mapping[str, float]) -> float:
    """The standard error of formula(**values) when each value has the standard error in `errors`; all in SI.

    >>> round(spread(lambda a, b: a * b, {"a": 2.0, "b": 3.0}, {"a": 0.1, "b": 0.2}), 6)
    0.5
    """
    total = 0.0
    for name, error in errors.items():
        if error > 0:
            up = formula(**{**values, name: values[name] + error})
            down = formula(**{**values, name: values[name] - error})
            total += ((up - down) / 2) ** 2
    return math.sqrt(total)


def figure(formula: Callable[..., float], dimension: str, given: Mapping[str, Quantity | float]) -> Figure:
    """formula(**given) as a figure of `dimension`, with the 90 % band when any quantity given has an error.

    Source: law of propagation of uncertainty, JCGM 100 (GUM) clause 5.1.
    """
    values = {name: q.si if isinstance(q, Quantity) else q for name, q in given.items()}
    errors = {name: q.error for name, q in given.items() if isinstance(q, Quantity)}
    value = formula(**values)
    if not any(errors.values()):
        return Figure(value, dimension)
    half = Z90 * spread(formula, values, errors)
    return Figure(value, dimension, value - half, value + half)
