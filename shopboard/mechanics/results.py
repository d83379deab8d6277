"""The one shape of a result: figures with bands, what was assumed, and where the formula is from."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import msgspec

from .units import Quantity, in_shown, shown_unit

#: Half width of a 90 % band in standard errors, normal errors.
Z90 = 1.6448536269514722


class Figure(msgspec.Struct, frozen=True):
    """One number (SI), text or nothing. `dimension` names a row of the unit table, "" for a plain number; `low` and
    `high` bound it with 90 % where the readings have errors."""

    value: float | str | None
    dimension: str = ""
    low: float | None = None
    high: float | None = None

    def shown(self, units: str = "metric") -> dict[str, Any]:
        """The figure in the unit it is shown in: value, and where they exist unit, low and high.

        >>> Figure(0.0381, "length").shown("us")
        {'value': 1.5, 'unit': 'in'}
        """
        if not isinstance(self.value, float | int) or not self.dimension:
            bounds = {"low": self.low, "high": self.high}
            return {"value": self.value} | {k: v for k, v in bounds.items() if v is not None}
        found: dict[str, Any] = {"value": in_shown(self.value, self.dimension, units)}
        found["unit"] = shown_unit(self.dimension, units)
        for name, bound in (("low", self.low), ("high", self.high)):
            if bound is not None:
                found[name] = in_shown(bound, self.dimension, units)
        return found


def as_reading(figure: Figure, units: str = "metric") -> tuple[float, str, float]:
    """A figure as a job keeps a reading: value, unit and standard error in that unit, from its 90 % band.

    Raises ValueError when the figure is no number.

    >>> value, unit, error = as_reading(Figure(0.92, "fraction", 0.87, 0.97))
    >>> round(value, 2), unit, round(error, 2)
    (92.0, '%', 3.04)
    """
    shown = figure.shown(units)
    if not isinstance(shown["value"], float | int):
        raise ValueError("only a number can be kept as a reading")
    error = (shown["high"] - shown["low"]) / 2 / Z90 if "low" in shown and "high" in shown else 0.0
    return float(shown["value"]), shown.get("unit", ""), error


def plain(value: float) -> str:
    """A number with four figures and no exponent where a reader would want none.

    >>> plain(41.8449), plain(25000.0), plain(0.000123456), plain(9.0), plain(11390.4)
    ('41.84', '25000', '0.0001235', '9', '11390')
    """
    if value == 0:
        return "0"
    if abs(value) >= 1000:
        return f"{value:.0f}"
    text = f"{value:.4g}"
    return text if "e" not in text else f"{value:.4e}"


def figure_words(shown: Mapping[str, Any]) -> str:
    """One figure as `Figure.shown` gives it: value, unit and band; "–" for nothing."""
    value = shown["value"]
    if not isinstance(value, float | int) or isinstance(value, bool):
        return "–" if value is None else str(value)
    unit = f" {shown['unit']}" if shown.get("unit") else ""
    band = f" ({plain(shown['low'])} to {plain(shown['high'])})" if "low" in shown else ""
    return f"{plain(value)}{unit}{band}"


class Result(msgspec.Struct, frozen=True, kw_only=True):
    """What a calculation answers. `inputs` are as typed; `rows` are lists such as peaks or runs; `assumes` are the
    sentences one has to believe; `source` names where the formula is published; `outcome` is the one of the
    book's check (see `outcomes.CHECKS`) that the figures speak for, "" where they speak for none."""

    calculation: str
    inputs: Mapping[str, Quantity | float | int | str]
    results: Mapping[str, Figure]
    verdict: str = ""
    rows: tuple[Mapping[str, Figure], ...] = ()
    assumes: tuple[str, ...] = ()
    source: str = ""
    outcome: str = ""

    def as_json(self, units: str = "metric") -> dict[str, Any]:
        """The result as plain data in the one schema every calculation shares; `verdict` and `rows` only if any."""
        found: dict[str, Any] = {
            "calculation": self.calculation,
            "inputs": {name: _typed(given) for name, given in self.inputs.items()},
            "results": {name: figure.shown(units) for name, figure in self.results.items()},
        }
        if self.verdict:
            found["verdict"] = self.verdict
        if self.rows:
            found["rows"] = [{name: figure.shown(units) for name, figure in row.items()} for row in self.rows]
        return found | {"assumes": list(self.assumes), "source": self.source}


def _typed(given: Quantity | float | int | str) -> dict[str, Any]:
    if isinstance(given, Quantity):
        return {"value": given.value, "unit": given.unit}
    return {"value": given, "unit": ""}
