"""Readings as evidence: a measured number held against the model's own limit, where the book says so."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from shopboard.mechanics import model_data, unit_table, units
from shopboard.records import Model, Reading, Refused

if TYPE_CHECKING:
    from shopboard.trouble import Book, SoftReading


def _dimension(limit: str) -> str:
    """The dimension of a model's number, "" for a count, a ratio or a name the calculations do not know."""
    datum = model_data.MODEL_DATA.get(limit)
    return datum.kind if datum and datum.kind in unit_table.DIMENSIONS else ""


def _answered(quantity: str, book: Book) -> Iterator[tuple[str, str]]:
    """The checks that this quantity answers, each with the model's number it is held against."""
    for check in book.checks.values():
        if check.reading is not None and check.reading.quantity == quantity:
            yield check.id, check.reading.limit


def unit_fits(quantity: str, unit: str, book: Book) -> None:
    """Refuses a unit that does not measure this quantity. A quantity that answers no check may have any."""
    for _, limit in _answered(quantity, book):
        dimension = _dimension(limit)
        if dimension:
            try:
                units.to_si(0.0, unit, dimension)
            except units.UnitError as error:
                raise Refused(
                    str(error), f"give the {quantity} like {unit_table.DIMENSIONS[dimension].example}"
                ) from None


def judged(readings: tuple[Reading, ...], model: Model | None, book: Book) -> tuple[SoftReading, ...]:
    """The readings that can be held against a limit of the model, oldest first; the others are noted, not judged."""
    from shopboard.trouble import soft_reading

    found = []
    for reading in readings:
        for check, limit in _answered(reading.quantity, book):
            measured = _measured(reading, limit, model)
            if measured is not None:
                found.append(soft_reading(book, check, *measured))
    return tuple(found)


def _measured(reading: Reading, limit: str, model: Model | None) -> tuple[float, float, float] | None:
    """Value, limit and error in one unit; None if the model lacks the limit or the units do not fit."""
    dimension = _dimension(limit)
    if model is None or limit not in model.data or not dimension:
        return None
    try:
        most = model_data.read_datum(limit, model.data[limit])
        value = units.to_si(reading.value, reading.unit, dimension)
        error = units.to_si(reading.value + reading.error, reading.unit, dimension) - value
    except units.UnitError:
        return None
    return (value, float(most), error) if float(most) > 0 else None
