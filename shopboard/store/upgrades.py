"""Numbered steps from one FORMAT to the next. A shop of an older format is read through them and kept in the new one.

Step n takes the plain data of one record of format n and returns it in format n + 1. FORMAT 1 is the first. FORMAT 2
has the tables `stock`, `returns` and `closures`, which a program of format 1 would lose at its next checkpoint.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from shopboard.records import FORMAT, Table

#: One step: table and plain record in, plain record out.
Upgrade = Callable[[Table, dict[str, Any]], dict[str, Any]]

STEPS: Mapping[int, Upgrade] = {1: lambda _table, data: data}

#: The oldest format whose summaries of closed jobs say what they say today.
SUMMARIES_SINCE = 1


def upgraded(table: Table, data: dict[str, Any], found: int) -> dict[str, Any]:
    """The plain record `data` of format `found`, brought to FORMAT one step at a time."""
    for number in range(found, FORMAT):
        data = STEPS[number](table, data)
    return data
