"""What a shop sets in shop.toml: its bays, people, suppliers, hours and money."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from typing import Annotated, Literal

import msgspec

from .base import Moment, Record
from .people import Person

DAYS = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")

Hours = Annotated[str, msgspec.Meta(pattern=r"^([01]\d|2[0-3]):[0-5]\d-([01]\d|2[0-3]):[0-5]\d$")]


class Bay(Record, kw_only=True):
    """A place where one machine can stand; `can` says what it offers in the shop's words ("lift", "clean bench",
    "yard", "exhaust", "hoist")."""

    id: str
    name: str
    can: tuple[str, ...] = ()


class Closure(Record, kw_only=True):
    """A person who is away, or a bay that cannot be used, from `start` until `until` (the other one is empty; both are
    where the whole shop is closed): ids of shop.toml, and why in a few words."""

    id: int
    person: str = ""
    bay: str = ""
    start: Moment
    until: Moment
    why: str = ""

    @property
    def whole_shop(self) -> bool:
        """Whether nobody works and no bay can be used."""
        return not self.person and not self.bay


class Supplier(Record, kw_only=True):
    """Who sends parts; `usual_days` is the shop's own guess of working days until they come."""

    id: str
    name: str
    phone: str = ""
    usual_days: int = 5


class Settings(Record, kw_only=True):
    """shop.toml, whole. `hours` by day name ("mon" … "sun") as "HH:MM-HH:MM"; a day left out is closed, and so is a
    public holiday of `country` ("CA"; "": none) and its `region` ("ON"), and each of the `closed_days`.

    Money: `prices_with_tax` when rate and prices hold the tax already; `fee_credited` when the diagnostic fee is taken
    off the bill of work done here; shop supplies are `supplies_percent` of the labour, at most `supplies_most`;
    `deposit_percent` of an estimate is asked for ahead. Paper: `paper` is the sheet ("": by country), `label` a tag's
    width x height in millimetres, `terms` the shop's own words above the signature. A terminal left alone for
    `lock_minutes` locks (0: never)."""

    name: str
    zone: str = "UTC"
    country: str = ""
    region: str = ""
    units: Literal["metric", "us"] = "metric"
    currency: str = "EUR"
    decimals: Annotated[int, msgspec.Meta(ge=0, le=3)] = 2
    tax_percent: Decimal = Decimal(0)
    labour_rate: Decimal = Decimal(60)
    diagnostic_fee: Decimal = Decimal(0)
    overrun_percent: Decimal = Decimal(0)
    prices_with_tax: bool = False
    fee_credited: bool = True
    supplies_percent: Decimal = Decimal(0)
    supplies_most: Decimal | None = None
    deposit_percent: Decimal = Decimal(0)
    paper: Literal["", "A4", "Letter"] = ""
    label: Annotated[str, msgspec.Meta(max_length=20)] = "100x62"
    terms: str = ""
    lock_minutes: Annotated[float, msgspec.Meta(ge=0, le=24 * 60)] = 0
    comeback_days: Annotated[int, msgspec.Meta(ge=0)] = 90
    closed_days: tuple[date, ...] = ()
    promise_probability: Annotated[float, msgspec.Meta(gt=0, lt=1)] = 0.8
    hours: dict[Literal["mon", "tue", "wed", "thu", "fri", "sat", "sun"], Hours] = {}
    instruments: tuple[str, ...] = ()
    bays: tuple[Bay, ...] = ()
    people: tuple[Person, ...] = ()
    suppliers: tuple[Supplier, ...] = ()

    def bay(self, id: str) -> Bay | None:
        """The bay with this id, if there is one."""
        return next((b for b in self.bays if b.id == id), None)

    def person(self, id: str) -> Person | None:
        """The person with this id, if there is one."""
        return next((p for p in self.people if p.id == id), None)

    def supplier(self, id: str) -> Supplier | None:
        """The supplier with this id, if there is one."""
        return next((s for s in self.suppliers if s.id == id), None)
