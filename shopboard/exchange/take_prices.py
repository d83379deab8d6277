"""Rows of a price list, laid over the shop's parts.toml."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from decimal import Decimal

from shopboard.records import CataloguePart, Settings
from shopboard.shop.said import LARGEST_SUM, blank, same

from .entries import Entry
from .outcome import NotTaken, Outcome, Rejected


@dataclass(frozen=True)
class Price:
    """What parts.toml is to say of a number; `name` and `supplier` only where the number is new."""

    number: str
    price: Decimal
    core: Decimal | None
    name: str = ""
    supplier: str = ""


def take_prices(
    settings: Settings,
    parts: Mapping[str, CataloguePart],
    entries: Iterable[Entry],
    add: bool,
    tick: Callable[[], None],
) -> tuple[Outcome, dict[str, Price]]:
    """What the rows come to, and the prices to write by number. Numbers that parts.toml does not have are rejected
    unless `add`: a supplier's whole list is not a shop's."""
    outcome, prices = Outcome(), dict[str, Price]()
    known = {same(part.number): part for part in parts.values()}
    for entry in entries:
        tick()
        try:
            made = _price(settings, known.get(same(entry.text("number"))), entry, add)
            earlier = prices.get(same(made.number))
            if earlier is not None and earlier != made:
                raise NotTaken(f"an earlier row says {earlier.price:f} for {made.number}")
        except NotTaken as fault:
            outcome.rejected.append(Rejected(entry.row, str(fault)))
            continue
        part = known.get(same(made.number))
        if earlier is not None or (part and part.price == made.price and made.core in (None, part.core_charge)):
            outcome.known += 1
            continue
        prices[same(made.number)] = made
        outcome.added += part is None
        outcome.filled += part is not None
    return outcome, prices


def _price(settings: Settings, part: CataloguePart | None, entry: Entry, add: bool) -> Price:
    number, name = entry.text("number"), entry.text("name")
    price, core = _sum(settings, entry, "price"), _sum(settings, entry, "core")
    assert price is not None
    if part is not None:
        return Price(part.number, price, core)
    if not add:
        raise NotTaken(f"parts.toml has no {number}: repeat with --add to take in new numbers too")
    if blank(name) or blank(number):
        raise NotTaken("name is blank, and parts.toml does not have the number")
    return Price(number, price, core, name, _supplier(settings, entry.text("supplier")))


def _sum(settings: Settings, entry: Entry, id: str) -> Decimal | None:
    amount = entry.figure(id)
    if amount is None:
        return None
    exact = amount.quantize(Decimal(1).scaleb(-settings.decimals)) if amount < LARGEST_SUM else None
    if exact is None or exact != amount:
        raise NotTaken(f"{amount:f} is no sum of this shop's money ({settings.decimals} decimals)")
    return exact


def _supplier(settings: Settings, written: str) -> str:
    for supplier in settings.suppliers:
        if same(written) in (same(supplier.id), same(supplier.name)) and written:
            return supplier.id
    if written:
        raise NotTaken(f"shop.toml has no supplier “{written}”")
    return ""
