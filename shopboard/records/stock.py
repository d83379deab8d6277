"""What lies in the bins, what goes back to suppliers, and the shop's own list of parts."""

from __future__ import annotations

import re
from datetime import date
from decimal import Decimal
from enum import StrEnum
from typing import Annotated

import msgspec

from .base import Moment, Record
from .parts import Count


class Stock(Record, kw_only=True):
    """`quantity` pieces of part `number` lie in `bin`; those reserved are told by the part lines they are kept for."""

    id: int
    number: str
    name: str
    bin: str = ""
    quantity: Count = 0
    counted_at: Moment | None = None
    counted_by: str = ""


class ReturnKind(StrEnum):
    """What goes back: an old part for its core charge, or a part that was not needed."""

    CORE = "core"
    PART = "part"


class Return(Record, kw_only=True):
    """Something a supplier gets back, from the line of parts `line` of `job`: `credit` is what it should give for all
    pieces (None: not known), `due` the day it must be there. Open until `sent_at`, then until `credited_at`."""

    id: int
    kind: ReturnKind
    line: int
    job: int | None = None
    number: str
    name: str
    quantity: Annotated[int, msgspec.Meta(ge=1)] = 1
    supplier: str = ""
    credit: Decimal | None = None
    due: date | None = None
    since: Moment
    sent_at: Moment | None = None
    reference: str = ""
    credited_at: Moment | None = None
    credited: Decimal | None = None


class CataloguePart(Record, kw_only=True):
    """A part of parts.toml. `known_as` are other names of it, such as the trouble book's; `models` those it fits (none
    named: all); serials from `serials_from` to `serials_to`, both fitting, where the number changed within a model.
    `replaced_by` is the number that is sent instead. `price` is one piece's without tax, `core_charge` comes on top
    until the old part is back, at most `core_days` after it was fitted; unused pieces are taken back for
    `return_days`."""

    number: str
    name: str
    known_as: tuple[str, ...] = ()
    supplier: str = ""
    price: Decimal | None = None
    lead_class: str = ""
    core_charge: Decimal | None = None
    core_days: Annotated[int, msgspec.Meta(ge=0)] | None = None
    return_days: Annotated[int, msgspec.Meta(ge=0)] | None = None
    replaced_by: str = ""
    models: tuple[str, ...] = ()
    serials_from: str = ""
    serials_to: str = ""
    bin: str = ""

    def called(self, name: str) -> bool:
        """Whether this is a name of the part; case does not count."""
        return name.casefold() in (self.name.casefold(), *(other.casefold() for other in self.known_as))

    def fits(self, model: str, serial: str) -> bool | None:
        """Whether it fits a machine; None where the serial decides and cannot be read."""
        if self.models and model not in self.models:
            return False
        if not (self.serials_from or self.serials_to):
            return True
        own = serial_key(serial)
        if not own:
            return None
        first, last = serial_key(self.serials_from), serial_key(self.serials_to)
        if any(bound and _shape(bound) != _shape(own) for bound in (first, last)):
            return None
        return (not first or first <= own) and (not last or own <= last)

    @property
    def break_words(self) -> str:
        """The serials it fits, in words; "" for all.

        >>> CataloguePart(number="A", name="seal", serials_to="F-299").break_words
        'serials to F-299'
        """
        words = [f"from {self.serials_from}"] if self.serials_from else []
        words += [f"to {self.serials_to}"] if self.serials_to else []
        return f"serials {' '.join(words)}" if words else ""


SerialKey = tuple[tuple[str, int], ...]


def serial_key(serial: str) -> SerialKey:
    """A serial number to compare by: its figures count as numbers, case, blanks and dashes do not count.

    >>> serial_key("F24-0310") == serial_key("f24 310"), serial_key("F24-0299") < serial_key("F24-0310")
    (True, True)
    """
    found = re.findall(r"[^\W\d_]+|[0-9]+", serial.casefold())
    return tuple(("", int(piece)) if piece.isascii() and piece.isdigit() else (piece, 0) for piece in found)


def _shape(key: SerialKey) -> tuple[str, ...]:
    return tuple(text for text, _ in key)
