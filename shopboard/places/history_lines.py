"""A job's story: every change in order, and a closed job as a page."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from datetime import datetime
from zoneinfo import ZoneInfo

from shopboard.records import Change, Job, PartLine, ShopState
from shopboard.store import ShopUnusable
from shopboard.trouble import Book

from .bench_lines import answer_words
from .lines import BLANK, Line, cell, line, wrapped

Builder = Callable[[int], list[Line]]


def date_words(moment: datetime, zone: ZoneInfo) -> str:
    """A day with its year: "8 Oct 2026"."""
    local = moment.astimezone(zone)
    return f"{local.day} {local:%b %Y}"


def story_page(changes: Iterable[Change], zone: ZoneInfo) -> Builder:
    """When, who and why, a change a line, oldest first."""
    try:
        kept = list(changes)
    except ShopUnusable as error:
        return _unreadable(error)

    def build(width: int) -> list[Line]:
        rows: list[Line] = []
        for change in kept:
            stamp = f"{change.at.astimezone(zone):%d %b %H:%M}"
            first, *rest = wrapped(change.why, max(20, width - 24))
            rows.append(line(None, (f"{stamp}  ", "soft"), cell(change.by, 9), first.text))
            rows += [line(None, " " * 23, row.text) for row in rest]
        return rows or [line(None, ("no change of this job in the journal", "soft"))]

    return build


def _unreadable(error: ShopUnusable) -> Builder:
    why = str(error)
    return lambda width: wrapped(why, width, "late")


def closed_job_page(state: ShopState, book: Book, job_id: int, zone: ZoneInfo) -> Builder:
    """A closed job, whole."""
    try:
        loaded = state.load_closed(job_id)
    except ShopUnusable as error:
        return _unreadable(error)

    def build(width: int) -> list[Line]:
        if loaded is None:
            return wrapped("this job's month cannot be read: run `shopboard verify`", width, "late")
        return _closed_lines(state, book, *loaded, zone, width)

    return build


def _closed_lines(
    state: ShopState, book: Book, job: Job, parts: tuple[PartLine, ...], zone: ZoneInfo, width: int
) -> list[Line]:
    customer = state.customers.get(job.customer)
    machine = state.machines.get(job.machine)
    model = state.models.get(machine.model) if machine else None
    which = f"{model.name if model else machine.model} {machine.serial}".strip() if machine else "?"
    rows = wrapped(f"{which}, {customer.name if customer else '?'}", width, "strong")
    hours = f" at {job.hours:,.0f} h" if job.hours is not None else ""
    closed = date_words(job.closed_at, zone) if job.closed_at else "–"
    rows += wrapped(f"came {date_words(job.arrived, zone)}{hours}, {job.stage} {closed}", width, "soft")
    rows += [*wrapped(f"complaint: “{job.complaint}”", width), BLANK]
    for answer in job.answers:
        rows += wrapped(answer_words(book, answer.check, answer.outcome), width)
    for finding in job.findings:
        cause = book.causes.get(finding.cause)
        name = cause.name if cause else finding.text or finding.cause
        rows += wrapped(f"cause: {name}{', confirmed' if finding.confirmed else ''}", width, "good")
        if finding.correction:
            known = book.corrections.get(finding.correction)
            rows += wrapped(f"correction: {known.name if known else finding.correction}", width)
    for part in parts:
        rows += wrapped(f"part: {part.quantity} × {part.name} {part.number}, {part.state}", width, "soft")
    minutes = sum(spell.minutes for spell in job.spent)
    rows += wrapped(f"time booked: {minutes:.0f} min", width, "soft")
    for note in job.notes:
        rows += wrapped(f"{note.by}: {note.text}", width, "soft")
    return rows
