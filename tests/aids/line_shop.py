"""A shop in memory whose jobs and part lines a test sets one by one: what the line builders read."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any
from zoneinfo import ZoneInfo

from aids.small_book import small_book
from shopboard.places.floor_lines import Floor, look
from shopboard.records import Bay, Customer, Job, Layout, Machine, Model, PartLine, Settings, ShopState, Supplier

BERLIN = ZoneInfo("Europe/Berlin")
BOOK = small_book()
#: Tuesday, 10:00 on the wall.
NOW = datetime(2026, 11, 24, 9, tzinfo=UTC)


def shop_of(*records: Job | PartLine) -> ShopState:
    """One customer, one machine, two bays, and these jobs and part lines."""
    settings = Settings(
        name="s",
        hours=dict.fromkeys(("mon", "tue", "wed", "thu", "fri"), "08:00-17:00"),
        bays=(Bay(id="1", name="lift"), Bay(id="2", name="yard")),
        suppliers=(Supplier(id="north", name="North Parts"), Supplier(id="seal", name="Seal House")),
    )
    state = ShopState(settings=settings, models={"m": Model(id="m", name="Ferrow 24", layout=Layout.IN_LINE)})
    state.customers[1] = Customer(id=1, name="Hill Vineyard", phone="555 0117")
    state.machines[1] = Machine(id=1, customer=1, model="m", layout=Layout.IN_LINE, serial="F24-0310")
    for record in records:
        (state.jobs if isinstance(record, Job) else state.parts)[record.id] = record  # type: ignore[index]
    return state


def job(id: int = 1, **facts: Any) -> Job:
    """A job as it stands."""
    start = {"id": id, "customer": 1, "machine": 1, "arrived": NOW, "complaint": "slow when warm", "since": NOW}
    return Job(**{**start, **facts})


def part(id: int = 1, **facts: Any) -> PartLine:
    """A line of parts of job 1."""
    return PartLine(**{"id": id, "job": 1, "number": "N", "name": "seal", "quantity": 1, "needed_at": NOW, **facts})


def floor_of(*records: Job | PartLine) -> Floor:
    """The Floor of such a shop now."""
    return look(shop_of(*records), BOOK, NOW, BERLIN)
