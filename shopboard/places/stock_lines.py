"""What Parts says of the bins, and of what suppliers get back."""

from __future__ import annotations

from datetime import date

from shopboard.records import Return, ReturnKind, ShopState, Stock, tag
from shopboard.shop import stock

from .lines import BLANK, Line, Role, cell, line

#: Credited returns stay in sight for so many days.
_SHOWN_DAYS = 30


def bin_lines(state: ShopState, width: int) -> list[Line]:
    """Every bin: where, what, how many lie there, how many of these are kept for jobs, and for which."""
    if not state.stock:
        nothing = "nothing is written down to lie in a bin: n lays pieces into one"
        return [line(None, (cell(nothing, width), "soft"))]
    head = cell("bin", 10) + cell("part", width - 30) + cell("there", 8, ">") + cell("kept", 8, ">")
    rows = [line(None, (head, "strong"))]
    for entry in sorted(state.stock.values(), key=lambda e: (e.bin.casefold(), e.number)):
        rows.append(_bin_line(state, entry, width))
    return rows


def _bin_line(state: ShopState, entry: Stock, width: int) -> Line:
    kept = stock.reserved(state, entry.number)
    count: Role = "" if entry.quantity else "wait"
    return line(
        str(entry.id),
        cell(entry.bin or "–", 9) + " ",
        cell(f"{entry.name}  {entry.number}", width - 30),
        (cell(str(entry.quantity), 8, ">"), count),
        (cell(str(kept) if kept else "", 8, ">"), "soft"),
    )


def return_lines(state: ShopState, today: date, width: int) -> list[Line]:
    """What goes back: to be sent, the soonest due first; sent and not credited yet; credited lately."""
    every = list(state.returns.values())
    to_send = sorted((r for r in every if r.sent_at is None), key=lambda r: (r.due or date.max, r.id))
    awaited = [r for r in every if r.sent_at is not None and r.credited_at is None]
    done = [r for r in every if r.credited_at is not None and (today - r.credited_at.date()).days <= _SHOWN_DAYS]
    rows: list[Line] = []
    for title, found in (("to be sent back", to_send), ("sent, credit to come", awaited), ("credited", done)):
        if found:
            rows += [*([BLANK] if rows else []), line(None, (cell(title, width), "strong"))]
            rows += [_return_line(state, entry, today, width) for entry in found]
    return rows or [line(None, (cell("no core and no part goes back to a supplier", width), "soft"))]


def _return_line(state: ShopState, entry: Return, today: date, width: int) -> Line:
    words, role = _due(entry, today)
    supplier = state.settings.supplier(entry.supplier)
    old = "core: " if entry.kind is ReturnKind.CORE else ""
    sum_ = entry.credited if entry.credited_at else entry.credit
    return line(
        str(entry.id),
        (cell(words, 14), role),
        cell(f"{old}{entry.quantity} × {entry.name}", max(10, width - 52)) + " ",
        cell(tag(entry.job) if entry.job else "bin", 8),
        (cell(supplier.name if supplier else entry.supplier or "no supplier", 18), "soft"),
        cell("" if sum_ is None else str(sum_), 11, ">"),
    )


def _due(entry: Return, today: date) -> tuple[str, Role]:
    if entry.credited_at is not None:
        return "credited", "good"
    if entry.sent_at is not None:
        return f"sent {(today - entry.sent_at.date()).days} d ago", ""
    if entry.due is None:
        return "no date", "soft"
    days = (entry.due - today).days
    if days < 0:
        return f"{-days} d late", "late"
    return ("due today" if not days else f"due in {days} d"), "wait" if days <= 7 else ""
