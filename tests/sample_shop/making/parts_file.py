"""parts.toml of the sample: every part that a correction may ask for on a model that is looked after here.

Numbers, prices and suppliers are those the journal's lines carry; bins, core days and the few numbers that changed
within a model are written here.
"""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal
from typing import Any

from .sources import Sources

HEAD = """\
# The parts this shop asks for. Everything in here is invented: see README.md beside this file. Made from the sample's
# sources; in a shop of your own this file is written by hand.
"""

#: What lies on the shelf, and where.
BINS = {
    "drive oil": "A-1", "gear oil": "A-2", "fuel filter": "A-4", "key": "B-1", "lug bolt": "B-2", "shim set": "B-3",
    "universal joint cross": "C-1", "drive oil filter": "C-2", "shaft seal": "C-3",
}  # fmt: skip
#: Days after which a supplier takes nothing back.
TAKEN_BACK = {"cinder": 14, "ballast": 30, "northwharf": 60}
#: Numbers that changed: what they were, from which serial the new one fits, and what it is.
BREAKS = {
    "LS-SK-610": ("LS-21000", "LS-SK-618", "79.50"),
}
#: A number that is no longer made, and what is sent instead.
REPLACED = {"T26-D-219": "T26-D-220"}

Row = dict[str, Any]


def rows(given: Sources) -> list[Row]:
    """Every part once, by number."""
    found: dict[str, Row] = {}
    for row in _asked_for(given):
        known = found.setdefault(row["number"], row)
        if "models" in row and row["models"][0] not in known["models"]:
            known["models"].append(row["models"][0])
    return [row for number in sorted(found) for row in _changed(found[number])]


def _asked_for(given: Sources) -> Iterator[Row]:
    for model in given.models.values():
        for correction in given.book.corrections.values():
            if model.layout.value in correction.layouts:
                for part in correction.parts:
                    yield _row(given, part.name, part.lead_class, model.id)


def _row(given: Sources, name: str, lead_class: str, model: str) -> Row:
    line = given.catalogue.line(name, lead_class, model)
    row: Row = {"number": line["number"], "name": name, "supplier": line["supplier"], "price": str(line["price"])}
    row["lead_class"] = lead_class
    if line["core"]:
        charge = line["price"] * Decimal("0.15")
        row |= {"core_charge": str(charge.quantize(Decimal("1.00"))), "core_days": 30}
    if line["supplier"] in TAKEN_BACK:
        row["return_days"] = TAKEN_BACK[line["supplier"]]
    if given.catalogue.by_model(name):
        row["models"] = [model]
    if name in BINS:
        row["bin"] = BINS[name]
    return row


def _changed(row: Row) -> Iterator[Row]:
    """A part, the one that took its place from some serial on, and the one it took the place of."""
    first, number, price = BREAKS.get(row["number"], ("", "", ""))
    if not number:
        yield row
    else:
        stem, _, figures = first.rpartition("-")
        yield row | {"serials_to": f"{stem}-{int(figures) - 1}"}
        yield row | {"number": number, "price": price, "serials_from": first}
    for old in (old for old, new in REPLACED.items() if new == row["number"]):
        yield {"number": old, "name": row["name"], "models": row["models"], "replaced_by": row["number"]}


def text(given: Sources) -> str:
    """parts.toml."""
    return "\n".join([HEAD, *(_written(row) for row in rows(given))])


def _written(row: Row) -> str:
    def shown(value: Any) -> str:
        if isinstance(value, list):
            return f"[{', '.join(shown(one) for one in value)}]"
        return str(value) if isinstance(value, int) else f'"{value}"'

    return "\n".join(["[[part]]", *(f"{name} = {shown(value)}" for name, value in row.items()), ""])
