"""Rows of a list of what lies in the bins, laid over the bins of the shop."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from datetime import datetime
from decimal import Decimal

from shopboard.records import ShopState, Stock, Table
from shopboard.shop import catalogue
from shopboard.shop.said import blank, same

from .entries import Entry
from .outcome import NotTaken, Outcome, Rejected

#: No bin holds more.
_MOST = Decimal(1_000_000)


def take_parts(state: ShopState, entries: Iterable[Entry], now: datetime, by: str, tick: Callable[[], None]) -> Outcome:
    """What the rows come to: a new entry of a bin, one that says the same already, or rejected. What was counted here
    is never overwritten by a list."""
    outcome = Outcome()
    lying = {(same(entry.number), same(entry.bin)): entry for entry in state.stock.values()}
    next_id = state.next_id(Table.STOCK)
    for entry in entries:
        tick()
        try:
            made = _stock(state, next_id, entry, now, by)
            there = lying.get((same(made.number), same(made.bin)))
            if there is not None and there.quantity != made.quantity:
                where = f"bin {there.bin}" if there.bin else "the bin without a name"
                raise NotTaken(f"{where} holds {there.quantity} × {there.number} here: count it on the board")
        except NotTaken as fault:
            outcome.rejected.append(Rejected(entry.row, str(fault)))
            continue
        if there is not None:
            outcome.known += 1
            continue
        lying[same(made.number), same(made.bin)] = made
        next_id += 1
        outcome.added += 1
        outcome.keep(made)
    return outcome


def _stock(state: ShopState, id: int, entry: Entry, now: datetime, by: str) -> Stock:
    known = catalogue.known(state, entry.text("number"))
    name = entry.text("name") or (known.name if known else "")
    if blank(name) or blank(entry.text("number")):
        raise NotTaken("name is blank, and parts.toml does not have the number")
    quantity = entry.figure("quantity") or Decimal(0)
    if quantity != quantity.to_integral_value() or quantity > _MOST:
        raise NotTaken(f"{quantity:f} pieces cannot be counted")
    return Stock(
        id=id,
        number=known.number if known else entry.text("number"),
        name=name,
        bin=entry.text("bin") or (known.bin if known else ""),
        quantity=int(quantity),
        counted_at=now,
        counted_by=by,
    )
