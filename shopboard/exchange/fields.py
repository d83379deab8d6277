"""What each kind of list holds: its fields, and the words people head their columns with."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

Reads = Literal["text", "exact", "date", "figure", "money", "yes"]


@dataclass(frozen=True)
class Field:
    """One thing a row may say. `reads`: "text", "exact" (text that a spreadsheet's dates and rounding spoil), a "date",
    a "figure", "money", a "yes" or no. `headings` are whole, `parts` those of columns that together make it up, put
    together with `joins`; a field without `joins` takes one column. `units` may stand behind a figure."""

    id: str
    label: str
    headings: tuple[str, ...]
    reads: Reads = "text"
    needed: bool = False
    joins: str = ""
    parts: tuple[str, ...] = ()
    units: tuple[str, ...] = ()


_CUSTOMER = Field(
    "customer",
    "the customer's name",
    (
        "customer",
        "customer name",
        "cust name",
        "kunde",
        "kundenname",
        "firma",
        "client",
        "client name",
        "owner",
        "owner name",
        "company",
        "account",
        "name",
        "sold to",
        "bill to",
    ),
    joins=" ",
    parts=("first name", "given name", "forename", "last name", "surname", "family name"),
)
_PHONE = Field(
    "phone",
    "their telephone number",
    (
        "phone",
        "telephone",
        "tel",
        "tel no",
        "tel nr",
        "telefon",
        "telefone",
        "telefonnummer",
        "phone number",
        "phone no",
        "telephone number",
        "mobile",
        "mobile phone",
        "cell",
        "cell phone",
        "contact number",
        "customer phone",
        "owner phone",
    ),
    "exact",
)
_NOTE = Field(
    "note",
    "a remark",
    ("note", "notes", "remark", "remarks", "comment", "comments", "memo", "bemerkung", "notiz"),
    joins="\n",
)
_SERIAL = Field(
    "serial",
    "serial number",
    (
        "serial",
        "serial number",
        "serial no",
        "serial nr",
        "s/n",
        "sn",
        "seriennummer",
        "machine serial",
        "vin",
        "pin",
        "id plate",
    ),
    "exact",
)
_MODEL = Field(
    "model",
    "model",
    (
        "model",
        "machine",
        "machine model",
        "type",
        "equipment",
        "unit",
        "model name",
        "make and model",
        "modell",
        "maschine",
    ),
)
_HOURS = Field(
    "hours",
    "hour meter",
    (
        "hours",
        "hour meter",
        "meter",
        "meter reading",
        "hrs",
        "engine hours",
        "machine hours",
        "hour meter reading",
        "betriebsstunden",
        "stunden",
    ),
    "figure",
    units=("h", "hr", "hrs", "hour", "hours"),
)


def _needed(field: Field) -> Field:
    return replace(field, needed=True)


_PART_NUMBER = Field(
    "number",
    "part number",
    ("part number", "part no", "part", "number", "item number", "item no", "item", "sku", "article", "article number"),
    "exact",
    needed=True,
)
_PART_NAME = ("name", "description", "part name", "item name", "title", "part description")

FIELDS: dict[str, tuple[Field, ...]] = {
    "customers": (
        Field("name", "name", _CUSTOMER.headings, needed=True, joins=" ", parts=_CUSTOMER.parts),
        _PHONE,
        Field(
            "address",
            "address",
            ("address", "full address", "postal address", "mailing address", "street address", "billing address"),
            joins=", ",
            parts=(
                "street",
                "address 1",
                "address 2",
                "city",
                "town",
                "zip",
                "zip code",
                "postcode",
                "postal code",
                "state",
                "province",
                "county",
                "country",
            ),
        ),
        Field("email", "e-mail", ("email", "e-mail", "mail", "email address", "e-mail address"), "exact"),
        _NOTE,
    ),
    "machines": (
        _needed(_CUSTOMER),
        _PHONE,
        _needed(_MODEL),
        Field("layout", "layout, for a model that models.toml does not have", ("layout",)),
        _SERIAL,
        _HOURS,
        Field(
            "read",
            "when the hours were read",
            ("read", "hours date", "date read", "meter date", "as of", "last seen", "last visit", "date"),
            "date",
        ),
        Field(
            "first_seen",
            "first seen here",
            ("first seen", "since", "bought", "purchase date", "date of purchase", "sold"),
            "date",
        ),
        Field("used", "used when first seen", ("used", "second hand", "bought used", "used when first seen"), "yes"),
        Field("severe", "hard use", ("severe", "severe duty", "hard use", "duty severe"), "yes"),
        Field("value", "worth", ("value", "worth", "machine value")),
        _NOTE,
    ),
    "parts": (
        _PART_NUMBER,
        Field("name", "name", _PART_NAME),
        Field("bin", "bin", ("bin", "location", "shelf", "place", "bin location"), "exact"),
        Field(
            "quantity",
            "pieces",
            ("quantity", "qty", "on hand", "stock", "count", "pieces", "in stock", "qty on hand"),
            "figure",
            needed=True,
            units=("pcs", "pc", "x"),
        ),
    ),
    "prices": (
        _PART_NUMBER,
        Field("name", "name", _PART_NAME),
        Field(
            "price",
            "price of one",
            ("price", "unit price", "list price", "cost", "net price", "price each"),
            "money",
            needed=True,
        ),
        Field("core", "core charge", ("core charge", "core", "core deposit"), "money"),
        Field("supplier", "supplier", ("supplier", "vendor", "source", "from")),
    ),
    "past-jobs": (
        Field(
            "arrived",
            "taken in on",
            ("arrived", "date in", "in", "received", "intake", "opened", "date opened", "dropped off", "start"),
            "date",
        ),
        Field(
            "closed",
            "closed on",
            (
                "closed",
                "date out",
                "out",
                "date",
                "completed",
                "finished",
                "date closed",
                "date completed",
                "done",
                "invoiced",
                "invoice date",
                "job date",
            ),
            "date",
            needed=True,
        ),
        _CUSTOMER,
        _PHONE,
        _MODEL,
        _SERIAL,
        _HOURS,
        Field(
            "complaint",
            "complaint",
            (
                "complaint",
                "problem",
                "symptom",
                "issue",
                "reason",
                "customer states",
                "fault",
                "description",
                "concern",
            ),
            needed=True,
            joins="\n",
        ),
        Field("cause", "cause", ("cause", "diagnosis", "found", "finding", "what it was", "failure")),
        Field(
            "correction",
            "correction",
            ("correction", "repair", "work done", "work performed", "what was done", "fix", "solution"),
            joins="\n",
        ),
        Field(
            "minutes",
            "minutes worked",
            ("minutes", "labour minutes", "labor minutes", "time minutes", "min"),
            "figure",
            units=("min", "minutes"),
        ),
        Field(
            "labour",
            "hours worked",
            ("labour", "labor", "labour hours", "labor hours", "hours worked", "work hours", "man hours", "time spent"),
            "figure",
            units=("h", "hr", "hrs", "hours"),
        ),
        Field("total", "sum charged", ("total", "invoice total", "amount", "charged", "sum", "price", "bill"), "money"),
        Field("paid", "sum paid", ("paid", "amount paid", "sum paid"), "money"),
        Field("stage", "how it ended: collected or declined", ("stage", "outcome", "status", "ended")),
        Field(
            "number",
            "its number there",
            (
                "number",
                "job",
                "job number",
                "job no",
                "ticket",
                "work order",
                "wo",
                "ro",
                "invoice",
                "invoice number",
                "invoice no",
                "order number",
                "tag",
            ),
            "exact",
        ),
        _NOTE,
    ),
}

#: What each kind is called when one, and when many.
NAMES = {
    "customers": ("customer", "customers"),
    "machines": ("machine", "machines"),
    "parts": ("bin entry", "bin entries"),
    "prices": ("part", "parts"),
    "past-jobs": ("past job", "past jobs"),
}


def field_of(kind: str, id: str) -> Field | None:
    """The field of a kind with this id."""
    return next((field for field in FIELDS[kind] if field.id == id), None)
