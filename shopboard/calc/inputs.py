"""What options take: quantities with units, counts, ratios and lists, read by the mechanics room's own grammar."""

from __future__ import annotations

import argparse
import re
from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING, Any

from shopboard.mechanics import units
from shopboard.mechanics.model_data import MODEL_DATA, RANGES, ModelData
from shopboard.mechanics.units import Quantity, UnitError

if TYPE_CHECKING:
    from shopboard.store import Place


def named_reader(read: Callable[[str], Any]) -> Callable[[str], Any]:
    """`read` with its refusal as argparse wants it: one line that names the option."""

    def checked(text: str) -> Any:
        try:
            return read(text)
        except ValueError as error:
            raise argparse.ArgumentTypeError(str(error)) from None

    return checked


def quantity(dimension: str, *, signed: bool = False, zero: bool = False) -> Callable[[str], Any]:
    """Reads a quantity of `dimension`."""
    return named_reader(lambda text: units.parse(text, dimension, signed=signed, zero=zero))


def count(least: int, most: int) -> Callable[[str], Any]:
    """Reads a whole number."""
    return named_reader(lambda text: units.count(text, least=least, most=most))


def number(least: float, most: float) -> Callable[[str], Any]:
    """Reads a plain number that has no unit, within bounds."""

    def read(text: str) -> float:
        value = units.number(text)
        if not least <= value <= most:
            raise UnitError(f"'{text.strip()}' must be from {least:g} to {most:g}")
        return value

    return named_reader(read)


grade = named_reader(units.grade)


def _pair(text: str) -> tuple[Quantity, Quantity]:
    parts = text.split(",")
    if len(parts) != 2:
        raise UnitError(f"'{text}' must be two angles, PITCH,YAW, such as 2 deg,0 deg")
    first, second = (units.parse(part, "angle", signed=True) for part in parts)
    return first, second


pair = named_reader(_pair)


def _wheels(text: str) -> tuple[Quantity, ...]:
    return tuple(units.parse(part, "angle", signed=True) for part in text.split("/"))


wheels = named_reader(_wheels)


def fields(text: str) -> dict[str, str]:
    """The NAME=VALUE parts of a text, separated by commas; a comma inside a number parts nothing. Raises UnitError.

    >>> fields("distance=20 m, speed=2,600 rpm")
    {'distance': '20 m', 'speed': '2,600 rpm'}
    """
    found: dict[str, str] = {}
    for part in re.split(r",\s*(?=[A-Za-z_][A-Za-z0-9_ ]*=)", text):
        name, equals, value = part.partition("=")
        if not equals or not name.strip():
            raise UnitError(f"'{part.strip()}' must be NAME=VALUE")
        if name.strip() in found:
            raise UnitError(f"'{name.strip()}' is given twice")
        found[name.strip()] = value.strip().rstrip(",")
    return found


def _datum(text: str) -> dict[str, str]:
    given = fields(text)
    for name in given:
        if name not in MODEL_DATA and not name.startswith(RANGES):
            raise UnitError(f"'{name}' is no number of a model; there are {', '.join(sorted(MODEL_DATA))}")
    return given


datum = named_reader(_datum)
named = named_reader(fields)


class CalcError(ValueError):
    """Bad input that only shows once options are put together: one line, exit code 2."""


def model_data(options: argparse.Namespace) -> ModelData:
    """The numbers of --model from the shop's models, with those of --set over them. Raises CalcError."""
    given: Mapping[str, str | float | int] = {}
    if options.model:
        given = _of_shop(options.model, options)
    for part in options.set or []:
        given = {**given, **part}
    return ModelData(given)


def _of_shop(model: str, options: argparse.Namespace) -> Mapping[str, str | float | int]:
    folder = shop_folder(options)
    if folder is None:
        raise CalcError("--model needs a shop: give --shop FOLDER or set SHOPBOARD_SHOP, or give numbers with --set")
    from shopboard.store import read_models

    models = read_models(folder)
    found = models.get(model) or next((m for m in models.values() if m.name.casefold() == model.casefold()), None)
    if found is None:
        raise CalcError(f"the shop has no model '{model}': it has {', '.join(models) or 'none'}")
    return found.data


def shop_folder(options: argparse.Namespace) -> Place | None:
    """The shop's folder or address from --shop or $SHOPBOARD_SHOP, if either is given."""
    import os

    from shopboard.store import place_of

    named = getattr(options, "shop", None) or os.environ.get("SHOPBOARD_SHOP") or ""
    return place_of(named) if named else None
