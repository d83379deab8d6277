"""A line of parts: one part number a job (or the bin) needs, from needed to fitted."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from enum import StrEnum
from typing import Annotated

import msgspec

from .base import Moment, Record

Count = Annotated[int, msgspec.Meta(ge=0)]


class PartState(StrEnum):
    """Where a line stands; the words are the trade's."""

    NEEDED = "needed"
    ORDERED = "ordered"
    PARTLY_RECEIVED = "partly received"
    BACK_ORDERED = "back-ordered"
    RECEIVED = "received"
    FITTED = "fitted"
    RETURNED = "returned"


class PartLine(Record, kw_only=True):
    """`quantity` pieces of part `number` for `job`. `received` counts those that came, `price` is one piece's in
    the shop's currency, `expected` the supplier's date, `lead_class` groups parts that take about as long.
    `core_charge` is paid for each piece until its old part (the core) is back. `reserved` pieces lie in a bin for this
    line, `from_bin` were taken out of one, `stocked` of those that came without a job were laid into one."""

    id: int
    job: int | None
    number: str
    name: str
    quantity: Annotated[int, msgspec.Meta(ge=1)]
    received: Count = 0
    state: PartState = PartState.NEEDED
    supplier: str = ""
    price: Decimal | None = None
    lead_class: str = ""
    needed_at: Moment
    ordered_at: Moment | None = None
    order_reference: str = ""
    expected: date | None = None
    received_at: Moment | None = None
    back_ordered_at: Moment | None = None
    core: bool = False
    core_charge: Decimal | None = None
    note: str = ""
    reserved: Count = 0
    from_bin: Count = 0
    stocked: Count = 0

    @property
    def missing(self) -> int:
        """Pieces still to come."""
        return self.quantity - self.received
