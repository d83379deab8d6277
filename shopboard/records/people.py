"""Customers, and the people who work in the shop."""

from __future__ import annotations

from enum import StrEnum

from .base import Record


class Role(StrEnum):
    """What a person does in the shop; one person may have several."""

    COUNTER = "counter"
    TECHNICIAN = "technician"
    OWNER = "owner"


class Customer(Record, kw_only=True):
    """Who brings machines. `phone` is kept as typed; find it by its digits."""

    id: int
    name: str
    phone: str = ""
    address: str = ""
    email: str = ""
    note: str = ""


class Person(Record, kw_only=True):
    """Someone who works here: `id` is the short name that signs changes ("ana"), `hours` a week's working hours
    by day name ("mon" … "sun") as "HH:MM-HH:MM", empty for the shop's own; `skills` are the shop's words
    ("hydrostat", "driveline", "engine" …)."""

    id: str
    name: str
    roles: tuple[Role, ...]
    skills: tuple[str, ...] = ()
    hours: dict[str, str] = {}
