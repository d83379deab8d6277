"""The one shape of a result: figures with bands, what was assumed, and where the formula is from."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import msgspec

from .units import Quantity, in_shown, shown_unit


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


class Result(msgspec.Struct, frozen=True, kw_only=True):
    """What a calculation answers. `inputs` are as typed; `rows` are lists such as peaks or runs; `assumes` are the
    sentences one has to believe; `source` names where the formula is published."""

    calculation: str
    inputs: Mapping[str, Quantity | float | int | str]
    results: Mapping[str, Figure]
    verdict: str = ""
    rows: tuple[Mapping[str, Figure], ...] = ()
    assumes: tuple[str, ...] = ()
    source: str = ""

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
