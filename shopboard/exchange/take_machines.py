"""Rows of a machine list, laid over the machines the shop has."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from datetime import datetime
from zoneinfo import ZoneInfo

import msgspec

from shopboard.records import Customer, Duty, Machine, Model, ShopState, Table
from shopboard.shop.said import same

from .entries import Entry
from .machines_known import Machines, Models, with_reading
from .outcome import NotTaken, Outcome, Rejected
from .people import Known
from .sheet import many


def take_machines(
    state: ShopState, entries: Iterable[Entry], now: datetime, zone: ZoneInfo, tick: Callable[[], None]
) -> Outcome:
    """What the rows come to: a new machine, a known one with a reading or what it lacked, nothing new, or rejected.
    A machine is known by its serial number; without one, by owner and model where that one has none either."""
    outcome, people = Outcome(), Known(state.customers.values())
    machines, models = Machines(state.machines.values()), Models(state.models, state.machines.values())
    next_id = state.next_id(Table.MACHINES)
    undated = 0
    for entry in entries:
        tick()
        try:
            owner, told = people.owner(entry.text("customer"), entry.text("phone"))
            model = models.find(entry.text("model"), entry.text("layout"))
            found = _known(machines, people, owner, model, entry)
            new = _new(next_id, owner, model, models.listed(model), entry)
            fresh = _machine(found, new, entry, now, zone)
        except NotTaken as fault:
            outcome.rejected.append(Rejected(entry.row, str(fault)))
            continue
        undated += entry.figure("hours") is not None and entry.moment("read") is None
        if told:
            outcome.notes.append((entry.row.number, told))
        if fresh == found:
            outcome.known += 1
            continue
        outcome.filled += found is not None
        outcome.added += found is None
        next_id += found is None
        outcome.keep(fresh)
        machines.add(fresh)
    if undated:
        outcome.notes.append((0, f"{many(undated, 'hour reading')} without a date: read now"))
    return outcome


def _known(machines: Machines, people: Known, owner: Customer, model: Model, entry: Entry) -> Machine | None:
    serial = entry.text("serial")
    if not same(serial):
        silent = [machine for machine in machines.of(owner.id, model.id) if not same(machine.serial)]
        if len(silent) > 1:
            raise NotTaken(f"{owner.name} has {len(silent)} {model.name} without a serial number: which one?")
        return silent[0] if silent else None
    found = [machine for machine in machines.with_serial(serial) if machine.model == model.id]
    if not found:
        return None
    if found[0].customer != owner.id:
        raise NotTaken(
            f"serial {serial} is a machine of customer {found[0].customer}: if it changed hands, say so at the counter"
        )
    return found[0]


def _new(id: int, owner: Customer, model: Model, listed: bool, entry: Entry) -> Machine:
    return Machine(
        id=id,
        customer=owner.id,
        model=model.id,
        serial=entry.text("serial"),
        layout=model.layout,
        unlisted=not listed,
        duty=Duty.SEVERE if entry.yes("severe") else Duty.NORMAL,
        first_seen_used=entry.yes("used"),
    )


def _machine(found: Machine | None, new: Machine, entry: Entry, now: datetime, zone: ZoneInfo) -> Machine:
    read, first_seen = entry.moment("read"), entry.moment("first_seen")
    seen = local(first_seen, zone, now) if first_seen else None
    machine = found or msgspec.structs.replace(new, first_seen=seen)
    fresh: dict[str, object] = {
        "value": machine.value or entry.text("value"),
        "note": machine.note or entry.text("note"),
        "first_seen": machine.first_seen or seen,
    }
    if (hours := entry.figure("hours")) is not None:
        if read is None and any(reading.hours == float(hours) for reading in machine.readings[-1:]):
            return msgspec.structs.replace(machine, **fresh)
        fresh["readings"] = with_reading(machine.readings, hours, local(read, zone, now) if read else now)
    return msgspec.structs.replace(machine, **fresh)


def local(moment: datetime, zone: ZoneInfo, now: datetime, hour: int = 12) -> datetime:
    """The UTC moment of a time on the shop's wall; a bare date is at `hour`, and nothing is later than `now`."""
    from datetime import UTC

    if (moment.hour, moment.minute) == (0, 0):
        moment = moment.replace(hour=hour)
    return min(moment.replace(tzinfo=zone).astimezone(UTC), now)
