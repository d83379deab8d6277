"""Models and machines: what is bolted to what, and how many hours it has run."""

from __future__ import annotations

from enum import StrEnum
from typing import Annotated

import msgspec

from .base import Moment, Record

MeterHours = Annotated[float, msgspec.Meta(ge=0)]


class Layout(StrEnum):
    """What is bolted to what; it decides what can fail and what must come off."""

    IN_LINE = "in-line"
    SPLIT = "split"
    TRANSAXLE = "transaxle"
    GEAR = "gear"


class Duty(StrEnum):
    """How hard a machine is used; service intervals differ."""

    NORMAL = "normal"
    SEVERE = "severe"


class ServicePoint(Record, kw_only=True):
    """A point to grease, fill or change: intervals in hours by duty (from the machine's own manual), at
    least every `months` (0: no such limit), and the covers (ids of the trouble book) that hide it."""

    id: str
    name: str
    normal_hours: MeterHours
    severe_hours: MeterHours
    months: MeterHours = 0
    covers: tuple[str, ...] = ()
    minutes: float = 5.0


class Model(Record, kw_only=True):
    """A model the shop looks after. `data` are numbers of this model by name as quantities with units
    ("pump_displacement" = "21 cm3/rev"): what is missing there cannot be computed, and is said so.
    `lacks` names what its units do not have ("case drain", "charge pump", "test port")."""

    id: str
    name: str
    layout: Layout
    family: str = ""
    kind: str = ""
    note: str = ""
    lacks: tuple[str, ...] = ()
    data: dict[str, str | float | int] = {}
    service_points: tuple[ServicePoint, ...] = ()


class HourReading(Record, kw_only=True):
    """What the hour meter showed at a visit. `new_meter` marks the first reading after the meter was replaced:
    the machine's age is then the last age before plus what the new meter shows."""

    at: Moment
    hours: MeterHours
    new_meter: bool = False


class Machine(Record, kw_only=True):
    """One machine of one customer. `unlisted`: the shop kept no such model when it came, `model` is its name as it
    was written at the counter."""

    id: int
    customer: int
    model: str
    serial: str = ""
    layout: Layout
    readings: tuple[HourReading, ...] = ()
    duty: Duty = Duty.NORMAL
    first_seen: Moment | None = None
    first_seen_used: bool = False
    value: str = ""
    note: str = ""
    unlisted: bool = False

    def meter(self) -> float | None:
        """What the meter showed last, in hours; None if it was never read."""
        return self.readings[-1].hours if self.readings else None

    def age(self) -> float | None:
        """Hours the machine has run, over replaced meters; None if it was never read.

        >>> from datetime import UTC, datetime
        >>> day = datetime(2026, 1, 1, tzinfo=UTC)
        >>> seen = (HourReading(at=day, hours=900), HourReading(at=day, hours=40, new_meter=True))
        >>> Machine(id=1, customer=1, model="m", layout=Layout.IN_LINE, readings=seen).age()
        940.0
        """
        if not self.readings:
            return None
        before, last = 0.0, self.readings[0].hours
        for reading in self.readings[1:]:
            if reading.new_meter:
                before += last
            last = reading.hours
        return before + last
