"""Rows of a customer list, laid over the customers the shop has."""

from __future__ import annotations

from collections.abc import Callable, Iterable

import msgspec

from shopboard.records import Customer, ShopState, Table
from shopboard.shop.said import blank, same

from .entries import Entry
from .outcome import NotTaken, Outcome, Rejected
from .people import Known, number

_FILLED = ("phone", "address", "email", "note")


def take_customers(state: ShopState, entries: Iterable[Entry], tick: Callable[[], None]) -> Outcome:
    """What the rows come to: a new customer, blanks of a known one filled in, nothing new, or rejected. What a known
    customer has is never overwritten; where the row says otherwise, that is told."""
    outcome, known = Outcome(), Known(state.customers.values())
    next_id = state.next_id(Table.CUSTOMERS)
    for entry in entries:
        tick()
        try:
            name = entry.text("name")
            if blank(name):
                raise NotTaken("name shows nothing")
            found, told = known.find(name, entry.text("phone"))
        except NotTaken as fault:
            outcome.rejected.append(Rejected(entry.row, str(fault)))
            continue
        if told:
            outcome.notes.append((entry.row.number, told))
        if found is None:
            found = Customer(id=next_id, name=name, **{id: entry.text(id) for id in _FILLED})
            next_id += 1
            outcome.added += 1
        else:
            filled = _filled(found, entry, outcome)
            if filled == found:
                outcome.known += 1
                continue
            found = filled
            outcome.filled += 1
        outcome.keep(found)
        known.add(found)
    return outcome


def _filled(found: Customer, entry: Entry, outcome: Outcome) -> Customer:
    fresh: dict[str, str] = {}
    for id in _FILLED:
        has, said = getattr(found, id), entry.text(id)
        if not has:
            fresh[id] = said
        elif said and same(said) != same(has) and (id != "phone" or number(said) != number(has)):
            outcome.notes.append((entry.row.number, f"{found.name} keeps the {id} “{has}”; the row says “{said}”"))
    return msgspec.structs.replace(found, **fresh)
