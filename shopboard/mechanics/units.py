"""Quantities as people type them: a number, a fraction or both, and a unit that must fit.

Our own small grammar reads the text; Pint only converts between units of the table. Nothing is evaluated.
"""

from __future__ import annotations

import math
import re
from functools import cache
from typing import Any

import msgspec

from .unit_table import DIMENSIONS, Dimension

_LONGEST = 60
_VULGAR = {"½": "1/2", "¼": "1/4", "¾": "3/4", "⅛": "1/8", "⅜": "3/8", "⅝": "5/8", "⅞": "7/8"}
_NUMBER = r"(?:[0-9]{1,3}(?:,[0-9]{3})+(?:\.[0-9]+)?|[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][+-]?[0-9]{1,3})?"
_FRACTION = r"(?:(?P<whole>[0-9]+)(?:\s+|-))?(?P<top>[0-9]+)/(?P<under>[0-9]+)"
_VALUE = re.compile(rf"(?P<sign>[+\-−]?)\s*(?:{_FRACTION}|(?P<number>{_NUMBER}))(?![0-9.,*^/])")
_PLUS_MINUS = re.compile(r"±|\+/?-")


class UnitError(ValueError):
    """A quantity that cannot be read: one clear line that says what was typed and what would do."""


class Quantity(msgspec.Struct, frozen=True):
    """A quantity as typed (`value` in `unit`) and in SI (`si`), with its standard error in SI (0: none given)."""

    value: float
    unit: str
    si: float
    dimension: str
    error: float = 0.0


@cache
def _registry() -> Any:
    import pint

    return pint.UnitRegistry(cache_folder=None)


@cache
def _line(pint_name: str, base: str) -> tuple[float, float]:
    """Scale and offset so that SI = scale·value + offset."""
    if pint_name == "percent":
        return 0.01, 0.0
    registry = _registry()
    offset = float(registry.Quantity(0.0, pint_name).to(base or "dimensionless").magnitude)
    if offset == 0.0:
        return float(registry.Quantity(1.0, pint_name).to(base or "dimensionless").magnitude), 0.0
    scale = float(registry.Quantity(1.0, f"delta_{pint_name}").to(base).magnitude)
    return scale, offset


def _dimension(name: str) -> Dimension:
    return DIMENSIONS[name]


def to_si(value: float, unit: str, dimension: str) -> float:
    """`value` in `unit` (a spelling of the table) in the SI unit of `dimension`. Raises UnitError for another unit.

    >>> round(to_si(1.5, "in", "length"), 6), round(to_si(80, "degC", "temperature"), 2)
    (0.0381, 353.15)
    """
    spelled = _dimension(dimension).spellings.get(unit)
    if spelled is None:
        raise UnitError(_wrong_unit(unit, dimension))
    scale, offset = _line(spelled, _dimension(dimension).base)
    return value * scale + offset


def from_si(si: float, unit: str, dimension: str) -> float:
    """The SI number `si` of `dimension` in `unit`; the reverse of `to_si`.

    >>> round(from_si(353.15, "degF", "temperature"), 2)
    176.0
    """
    spelled = _dimension(dimension).spellings.get(unit, unit)
    scale, offset = _line(spelled, _dimension(dimension).base)
    return (si - offset) / scale


def shown_unit(dimension: str, units: str = "metric") -> str:
    """The unit a result of `dimension` is shown in, `units` being "metric" or "us"."""
    row = _dimension(dimension)
    return row.us if units == "us" else row.metric


def in_shown(si: float, dimension: str, units: str = "metric") -> float:
    """The SI number in the unit it is shown in.

    >>> in_shown(0.0381, "length", "us")
    1.5
    """
    unit = shown_unit(dimension, units)
    spelled = _SHOWN_ONLY.get(unit) or _dimension(dimension).spellings[unit]
    scale, offset = _line(spelled, _dimension(dimension).base)
    return round((si - offset) / scale, 12) if math.isfinite(si) else si


_SHOWN_ONLY = {"rad/s2": "rad/s^2"}


def _wrong_unit(unit: str, dimension: str) -> str:
    row = _dimension(dimension)
    others = [name for name, d in DIMENSIONS.items() if unit in d.spellings]
    what = f"'{unit}' measures {others[0]}, not {dimension}" if others else f"'{unit}' is no unit known here"
    return f"{what}; write it like {row.example}"


def number(text: str) -> float:
    """The bare number in `text`: decimal point, thousands commas in full groups of three, or a fraction.

    Raises UnitError for anything else, a decimal comma above all.

    >>> number("1 1/2"), number("2,600"), number(".5"), number("-3/8")
    (1.5, 2600.0, 0.5, -0.375)
    """
    value, rest = _split(text)
    if rest:
        raise UnitError(f"'{text.strip()[:_LONGEST]}' is not a plain number")
    return value


def _split(text: str) -> tuple[float, str]:
    """The number at the start of `text` and what follows it."""
    if len(text) > _LONGEST:
        raise UnitError(f"'{text[:20]}…' is too long for a quantity")
    plain = text.strip()
    for sign, spelled in _VULGAR.items():
        plain = re.sub(rf"(?<=[0-9])\s*{sign}", f" {spelled}", plain).replace(sign, spelled)
    found = _VALUE.match(plain)
    if not found:
        raise UnitError(_why_no_number(plain))
    value = _value(found, plain)
    return value, plain[found.end() :].strip()


def _value(found: re.Match[str], plain: str) -> float:
    if found["number"]:
        if re.match(r"0,", found["number"]):
            raise UnitError(_why_no_number(plain))
        size = float(found["number"].replace(",", ""))
    else:
        if int(found["under"]) == 0:
            raise UnitError(f"'{plain}' divides by zero")
        size = int(found["whole"] or 0) + int(found["top"]) / int(found["under"])
    if not math.isfinite(size):
        raise UnitError(f"'{plain}' is too large a number")
    return -size if found["sign"] in ("-", "−") else size


def _why_no_number(plain: str) -> str:
    if not plain:
        return "a quantity is missing: write a number and its unit"
    if re.match(r"[+−-]?\s*[0-9][0-9.]*,[0-9]", plain):
        return f"'{plain}' has a comma that could be read two ways: write a decimal point, such as 1.5"
    return f"'{plain}' does not start with a number: write one like 12, 1.5, 1 1/2 or 2,600, then its unit"


def _parse_side(text: str, dimension: str) -> tuple[float, str]:
    value, unit = _split(text)
    if not unit:
        raise UnitError(f"'{text.strip()}' has no unit; write it like {_dimension(dimension).example}")
    if unit not in _dimension(dimension).spellings:
        raise UnitError(f"'{text.strip()}': {_wrong_unit(unit, dimension)}")
    return value, unit


def parse(text: str, dimension: str, *, signed: bool = False, zero: bool = False) -> Quantity:
    """The quantity in `text`, which must measure `dimension` (a name of `unit_table.DIMENSIONS`).

    An error may follow, `9.4 s ± 0.1 s` or `9.4 s +- 0.1 s`: one standard error. Negative values need `signed`, zero
    needs `zero` (or `signed`); sizes that make no sense in a workshop are refused. Raises UnitError, one line.

    >>> round(parse("1 1/2 in", "length").si, 9)
    0.0381
    >>> parse("2,600 rpm", "rotation").value
    2600.0
    >>> parse("1.5", "length")
    Traceback (most recent call last):
    shopboard.mechanics.units.UnitError: '1.5' has no unit; write it like 38 mm
    """
    said, *after = _PLUS_MINUS.split(text, maxsplit=1)
    value, unit = _parse_side(said, dimension)
    si = to_si(value, unit, dimension)
    _check_size(said.strip(), value, si, dimension, signed, zero or signed)
    return Quantity(value, unit, si, dimension, _error(after[0], unit, dimension) if after else 0.0)


def _error(text: str, unit: str, dimension: str) -> float:
    if dimension == "temperature":
        value, _ = _parse_side(text, "temperature rise")
        size = to_si(value, _split(text)[1], "temperature rise")
    else:
        value, own = _split(text)
        size = to_si(value, own or unit, dimension)
    if not 0 <= size < math.inf:
        raise UnitError(f"'± {text.strip()}' is no error: it must not be negative")
    return size


def _check_size(said: str, value: float, si: float, dimension: str, signed: bool, zero: bool) -> None:
    row = _dimension(dimension)
    below_nothing = si <= 0 if dimension == "temperature" else value < 0
    if below_nothing and not signed:
        raise UnitError(f"'{said}' must not be negative")
    if si == 0:
        if zero:
            return
        raise UnitError(f"'{said}' must not be zero")
    if not row.least <= abs(si) <= row.most:
        raise UnitError(f"'{said}' is outside anything a workshop measures; write it like {row.example}")


def count(text: str, *, least: int = 1, most: int = 1_000_000) -> int:
    """The whole number in `text`, between `least` and `most`. Raises UnitError.

    >>> count("9")
    9
    """
    value = number(text)
    if value != int(value) or not least <= value <= most:
        raise UnitError(f"'{text.strip()}' must be a whole number from {least} to {most}")
    return int(value)


def ratio(text: str) -> float:
    """The plain ratio in `text`, such as `17.6` or `1/2`; greater than zero and below 10 000. Raises UnitError.

    >>> ratio("17.6")
    17.6
    """
    value = number(text)
    if not 1e-4 <= value < 1e4:
        raise UnitError(f"'{text.strip()}' must be a ratio between 0.0001 and 10000")
    return value


def grade(text: str) -> Quantity:
    """A slope as an angle in rad: typed as `12 %` (rise over run) or as `7 deg`; downhill negative.

    >>> round(math.degrees(grade("12 %").si), 3), round(math.degrees(grade("7 deg").si), 3)
    (6.843, 7.0)
    """
    said = _PLUS_MINUS.split(text, maxsplit=1)[0]
    unit = _split(said)[1]
    if unit in DIMENSIONS["angle"].spellings:
        found = parse(text, "angle", signed=True)
    else:
        slope = parse(text, "fraction", signed=True)
        error = slope.error / (1 + slope.si**2)
        found = Quantity(slope.value, slope.unit, math.atan(slope.si), "angle", error)
    if abs(found.si) > math.radians(45):
        raise UnitError(f"'{said.strip()}' is steeper than 45 degrees: no machine stands there")
    return found
