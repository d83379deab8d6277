"""The base of every record, and the one way to decode one with errors that name the field."""

from __future__ import annotations

import re
from datetime import datetime
from enum import StrEnum
from typing import Annotated, Any, TypeVar, dataclass_transform

import msgspec

#: Version of the stored records. Raise it with a numbered upgrade step in the store, never silently.
FORMAT = 2

R = TypeVar("R")

#: A point in time, always with its zone; the shop keeps UTC.
Moment = Annotated[datetime, msgspec.Meta(tz=True)]


class Table(StrEnum):
    """The tables of the shop's database; each holds one kind of record by integer id."""

    CUSTOMERS = "customers"
    MACHINES = "machines"
    JOBS = "jobs"
    PARTS = "parts"
    STOCK = "stock"
    RETURNS = "returns"
    CLOSURES = "closures"


@dataclass_transform(kw_only_default=True, frozen_default=True)
class Record(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True, omit_defaults=True):
    """A frozen record. A field left out has its default, and a default never changes within one FORMAT."""


class FieldError(ValueError):
    """A record that cannot be read: `path` is the field (`answers[0].outcome`), `why` what is wrong there."""

    def __init__(self, what: str, path: str, why: str) -> None:
        super().__init__(f"{what}: {path + ': ' if path else ''}{why}")
        self.what, self.path, self.why = what, path, why


_AT = re.compile(r"^(?P<why>.*?)(?: - at `\$(?P<path>[^`]*)`)?$", re.DOTALL)


def _field_error(error: Exception, what: str) -> FieldError:
    found = _AT.match(str(error))
    path = (found["path"] or "").lstrip(".") if found else ""
    return FieldError(what, path, found["why"] if found else str(error))


def encode(record: Any) -> bytes:
    """The record as compact JSON bytes; times in UTC, money as decimal strings."""
    return msgspec.json.encode(record)


def decode(data: bytes | str, kind: type[R], what: str = "record") -> R:
    """The record of type `kind` in JSON `data`.

    Raises FieldError with the path of the field that is unknown, missing or of the wrong type; `what` says
    whose record it is.
    """
    try:
        return msgspec.json.decode(data, type=kind)
    except UnicodeDecodeError:
        raise FieldError(what, "", "holds bytes that no letter has") from None
    except (msgspec.ValidationError, msgspec.DecodeError) as error:
        raise _field_error(error, what) from None


def to_record(data: Any, kind: type[R], what: str = "record") -> R:
    """The record of type `kind` in plain `data` (dicts and lists, as from TOML). Raises FieldError as `decode`."""
    try:
        return msgspec.convert(data, type=kind)
    except msgspec.ValidationError as error:
        raise _field_error(error, what) from None
