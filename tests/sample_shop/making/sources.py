"""The hand-written part of the sample: files beside this one, and what the package ships."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from decimal import Decimal
from pathlib import Path
from typing import Any
from zlib import crc32

from shopboard.records import Model, Settings
from shopboard.store import read_book, read_models, read_settings
from shopboard.trouble import Book

HERE = Path(__file__).resolve().parent.parent
SOURCE = HERE / "source"
SHIPPED = HERE.parent.parent / "sample_shop"

#: The kind of machine of each model, as the words files name it.
KIND = {
    "tarrow-26": "tr",
    "tarrow-34": "tr",
    "luddon-s": "pa",
    "osmere-52": "zt",
    "osmere-60": "zt",
    "pirrel-36": "so",
    "quend-t": "ld",
    "sollay-42": "lt",
    "sollay-46": "lt",
    "wendle-38": "lt",
    "hathe-2w": "bm",
    "yarrick-g": "gt",
}

#: Who could have said what only some could have said, by the word after an @.
WHO = {
    "golf": ("Nine Elders Golf Club",),
    "vine": ("Corbel Hill Vineyard", "Three Ladders Wine"),
    "boat": ("Marrow Lake Marina",),
    "horse": ("Kestle Brook Equestrian",),
    "rail": ("Lantern Valley Railway",),
    "foot": ("Ottersby Rovers Football Club",),
    "hosp": ("Ansel Ridge Hospital, Grounds",),
    "parks": ("Ottersby Parks & Paths",),
    "nuns": ("Saint Aubrey Cemetery",),
    "hall": ("Bellfield Village Hall",),
    "farm": ("Ruben Ashgrove", "Pellow Orchard", "Thaddeus Quill", "Corbel Hill Vineyard", "Danforth Nursery"),
    "firm": (
        "Brightwell Grounds Care",
        "Green Tally Mowing",
        "Delphi Road Garden Contractors",
        "Mossgate Estates",
        "Ottersby School District",
        "Sundew Solar Fields",
        "Fenwick Snow & Stone",
        "Ottersby Parks & Paths",
    ),
    "home": (
        "Juno Tembo",
        "Aurelio Banks",
        "Wilhelmina Stroud",
        "Casimir Doyle",
        "Perpetua Lim",
        "Ferdie & Maud Okafor",
        "Gilbert Nunn",
        "Ruben Ashgrove",
        "Thaddeus Quill",
        "Ingrid Vasko",
    ),
}

#: The age in hours at which a machine of this kind counts as old, whatever the other machines of a group can take.
_OLD = {"lt": 240, "bm": 120, "so": 700}

#: What the letters before a complaint mean, as kinds.
SAID_BY = {
    "il": ("tr", "pa"),
    "zs": ("zt", "so"),
    "sp": ("zt", "so", "ld"),
    "h6": ("zt",),
}


def table(name: str) -> dict[str, Any]:
    """One of the hand-written files, as plain data."""
    return tomllib.loads((SOURCE / f"{name}.toml").read_text(encoding="utf-8"))


@dataclass(frozen=True)
class Complaint:
    """One thing somebody said, with what it was in the end. `models` may have said it, between two ages in hours."""

    said: str
    models: tuple[str, ...]
    cause: str
    symptoms: tuple[str, ...]
    answers: tuple[tuple[str, str], ...]
    after: float
    before: float
    other: str = ""
    correction: str = ""
    quick: bool = True
    customers: tuple[str, ...] = ()


def complaints(book: Book) -> list[Complaint]:
    """Everything said at the counter by the customers of closed jobs, in the order of the files. A `quick` one needs no
    part that is long in coming."""
    found = []
    for name in ("closed_inline", "closed_split", "closed_small", "closed_more"):
        for group in table(name)["group"]:
            found += [_complaint(group, line, _quick(group["cause"], book)) for line in group["said"]]
    return found


def _quick(cause: str, book: Book) -> bool:
    fixes = book.causes[cause].correction if cause in book.causes else ()
    return all(part.lead_class in ("shelf", "common") for fix in fixes for part in book.corrections[fix].parts)


def _complaint(group: dict[str, Any], line: str, quick: bool) -> Complaint:
    letters, _, said = line.partition("|")
    letters, _, who = letters.partition("@")
    kinds = SAID_BY.get(letters, (letters,))
    models = tuple(model for model, kind in KIND.items() if kind in kinds)
    if group["cause"] == "wheel-motor-seal":
        models = tuple(m for m in models if (m == "osmere-60") == (letters == "h6"))
    return Complaint(
        said=said,
        models=models,
        cause=group["cause"],
        symptoms=tuple(group["symptoms"]),
        answers=tuple(group.get("answers", {}).items()),
        after=min(group["after"], _OLD.get(kinds[0], 1e9)),
        before=group.get("before", 1e9),
        other=group.get("other", ""),
        correction=group.get("correction", ""),
        quick=quick,
        customers=WHO[who] if who else (),
    )


class Catalogue:
    """Part numbers, prices and suppliers of what the trouble book's corrections ask for."""

    def __init__(self) -> None:
        data = table("parts")
        self._by, self._letters, self._parts, self._usual = data["by"], data["letters"], data["part"], data["usual"]

    def by_model(self, name: str) -> bool:
        """Whether each model has a number of its own for the part."""
        return not self._parts.get(name, {}).get("flat", False)

    def line(self, name: str, lead_class: str, model: str) -> dict[str, Any]:
        """What `parts.need` takes for this part on this model: number, price, supplier, core."""
        part = self._parts.get(name) or {"number": f"X-{crc32(name.encode()) % 900 + 100}", **self._usual[lead_class]}
        flat = part.get("flat", False)
        price = part["price"] * (1.0 if flat else self._by[model])
        number = part["number"] if flat else f"{self._letters[model]}-{part['number']}"
        return {
            "number": number,
            "price": Decimal(str(price)).quantize(Decimal("0.10")).quantize(Decimal("0.01")),
            "supplier": part["supplier"],
            "core": part.get("core", False),
        }


@dataclass(frozen=True)
class Sources:
    """All that the making needs and does not make."""

    settings: Settings
    models: dict[str, Model]
    book: Book
    catalogue: Catalogue
    found: dict[str, list[str]]
    counter: dict[str, Any]
    people: list[dict[str, Any]]
    comebacks: list[dict[str, Any]]


def sources() -> Sources:
    """Read the shop's files as the store reads them, and the hand-written ones."""
    return Sources(
        settings=read_settings(SHIPPED),
        models=read_models(SHIPPED),
        book=read_book(SHIPPED),
        catalogue=Catalogue(),
        found=table("found"),
        counter=table("counter"),
        people=table("customers")["customer"],
        comebacks=table("comebacks")["comeback"],
    )
