"""Tables as CSV and JSON."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Sequence
from datetime import datetime
from decimal import Decimal

import msgspec

from .formulas import defused
from .sheet import cell_text
from .tables import Value


def as_csv(columns: Sequence[str], rows: Iterable[Sequence[Value]], *, bom: bool = False) -> bytes:
    """The table as CSV (RFC 4180) in UTF-8; no text in it is computed by a spreadsheet program. With `bom`, the mark
    by which old spreadsheet programs know UTF-8 stands before it."""
    text = io.StringIO(newline="")
    writer = csv.writer(text, lineterminator="\r\n")
    writer.writerow(columns)
    writer.writerows([_field(value) for value in row] for row in rows)
    return text.getvalue().encode("utf-8-sig" if bom else "utf-8")


def _field(value: Value) -> str:
    if value is None:
        return ""
    if isinstance(value, Decimal):
        return f"{value:f}"
    if isinstance(value, datetime):
        return value.replace(tzinfo=None).isoformat(" ", "minutes")
    return defused(value) if isinstance(value, str) else cell_text(value)


def as_json(columns: Sequence[str], rows: Iterable[Sequence[Value]]) -> bytes:
    """The table as a JSON list with one object a row: numbers as numbers, sums as text with their decimals, times in
    ISO 8601 with their offset, null where nothing stands."""
    data = [dict(zip(columns, row, strict=True)) for row in rows]
    return msgspec.json.format(msgspec.json.encode(data), indent=2) + b"\n"
