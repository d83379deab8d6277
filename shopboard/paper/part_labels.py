"""Labels with a code to scan: one for a bin, one for each line of a job's parts."""

from __future__ import annotations

from shopboard.records import PartLine, PartState, Refused, Stock, Table, tag
from shopboard.records.codes import code_for
from shopboard.shop.catalogue import known

from .blocks import Label, Labels
from .desk import Desk


def bin_labels(desk: Desk, number: str) -> Labels:
    """The labels of the bins that hold a part number. Raises Refused where none does."""
    listed = known(desk.state, number)
    wanted = listed.number if listed else number.strip()
    found = [entry for entry in desk.state.stock.values() if entry.number == wanted]
    if not found:
        raise Refused(f"no bin holds {number or 'nothing'}", "lay pieces into a bin first, at Parts with e")
    return Labels(f"Bins with {wanted}", tuple(_bin(desk, entry) for entry in found))


def _bin(desk: Desk, entry: Stock) -> Label:
    lines = (("part", entry.name), ("number", entry.number))
    title = f"bin {entry.bin}" if entry.bin else entry.number
    return Label(title, code_for(Table.STOCK, entry.id), lines, desk.state.settings.name)


def line_labels(desk: Desk, number: int | None) -> Labels:
    """A label for each line of a job's parts, or (None) of all that is to come. Scanned, it opens what comes next with
    the line. Raises Refused where there is no line."""
    lines = desk.job(number)[1] if number is not None else tuple(desk.state.parts.values())
    over = (PartState.FITTED, PartState.RETURNED)
    wanted = [line for line in lines if line.state not in over]
    if not wanted:
        raise Refused(f"no part of {tag(number)} is open" if number else "no part is to come", "see the list of parts")
    return Labels(f"Parts {tag(number)}" if number else "Parts to come", tuple(_line(desk, line) for line in wanted))


def _line(desk: Desk, line: PartLine) -> Label:
    job = desk.state.jobs.get(line.job) if line.job is not None else None
    machine = f"{desk.machine_words(job)}, {desk.customer(job).name}" if job else ""
    lines = (
        ("part", f"{line.quantity} × {line.name}"),
        ("number", line.number),
        ("from", desk.supplier(line.supplier)),
        ("machine", machine),
    )
    return Label(job.tag if job else "for the bin", code_for(Table.PARTS, line.id), lines, desk.state.settings.name)
