"""Readings as evidence: a measured number held against the model's own limit, where the book says so."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from shopboard.mechanics import model_data, unit_table, units
from shopboard.records import Job, Model, Reading, Refused

from .said import plain

if TYPE_CHECKING:
    from shopboard.trouble import Book, SoftReading


def _dimension(limit: str | float) -> str:
    """The dimension of a model's number, "" for a count, a ratio or a name the calculations do not know; what is held
    against a plain number is a share or a multiple."""
    if not isinstance(limit, str):
        return "fraction"
    datum = model_data.MODEL_DATA.get(limit)
    return datum.kind if datum and datum.kind in unit_table.DIMENSIONS else ""


def _answered(quantity: str, book: Book) -> Iterator[tuple[str, str | float]]:
    """The checks that this quantity answers, each with the model's number, or the plain one, it is held against."""
    for check in book.checks.values():
        for reading in check.readings:
            if reading.quantity == quantity:
                yield check.id, reading.limit


def fits(quantity: str, value: float, unit: str, error: float, book: Book) -> None:
    """Refuses a unit that does not measure this quantity, and a size no workshop ever sees. A quantity that answers
    no check may be anything."""
    for _, limit in _answered(quantity, book):
        dimension = _dimension(limit)
        if dimension:
            example = unit_table.DIMENSIONS[dimension].example
            try:
                si, si_error = _in_si(value, unit, error, dimension)
            except units.UnitError as refused:
                raise Refused(str(refused), f"give the {quantity} like {example}") from None
            if not _possible(si, si_error, dimension):
                raise Refused(f"a {quantity} of {plain(value)} {unit} cannot be", f"read it again, like {example}")


def _in_si(value: float, unit: str, error: float, dimension: str) -> tuple[float, float]:
    si = units.to_si(value, unit, dimension)
    return si, units.to_si(value + error, unit, dimension) - si


def _possible(si: float, error: float, dimension: str) -> bool:
    most = unit_table.DIMENSIONS[dimension].most
    return abs(si) <= most and error <= most


def counting(job: Job) -> tuple[Reading, ...]:
    """The readings that still count, oldest first: all noted by themselves, and those taken with an answer as long as
    that answer stands. The others stay on the job, as what was once measured."""
    standing = {(answer.check, answer.at) for answer in job.answers}
    return tuple(r for r in job.readings if not r.check or (r.check, r.at) in standing)


def judged(readings: tuple[Reading, ...], model: Model | None, book: Book) -> tuple[SoftReading, ...]:
    """The readings that can be held against a limit of the model, oldest first; the others are noted, not judged."""
    from shopboard.trouble import soft_reading

    found = []
    for reading in readings:
        for check, limit in _answered(reading.quantity, book):
            measured = _measured(reading, limit, model)
            if measured is not None:
                found.append(soft_reading(book, check, *measured, quantity=reading.quantity))
    return tuple(found)


def _measured(reading: Reading, limit: str | float, model: Model | None) -> tuple[float, float, float] | None:
    """Value, limit and error in one unit; None if the model lacks the limit or the units do not fit."""
    dimension = _dimension(limit)
    try:
        most = _limit(limit, model) if dimension else None
        value, error = _in_si(reading.value, reading.unit, reading.error, dimension) if most else (0.0, 0.0)
    except units.UnitError:
        return None
    return (value, most, error) if most and most > 0 and _possible(value, error, dimension) else None


def _limit(limit: str | float, model: Model | None) -> float | None:
    if not isinstance(limit, str):
        return limit
    if model is None or limit not in model.data:
        return None
    return float(model_data.read_datum(limit, model.data[limit]))
