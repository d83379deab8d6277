"""Kits: the parts that a correction uses, asked for in one step with the numbers that fit this machine."""

from __future__ import annotations

from datetime import datetime
from typing import TYPE_CHECKING, NamedTuple

from shopboard.records import CataloguePart, Job, PartLine, PartState, Record, Refused, ShopState, Step, Table

from . import catalogue, evidence, parts, stock
from .guards import both, changed, machine_of, open_job, rule

if TYPE_CHECKING:  # the trouble room brings numpy, which nothing loads before the first paint
    from shopboard.trouble import Book


class Kit(NamedTuple):
    """What a correction needs on one machine: pieces by part of parts.toml, and what cannot be asked for, with why."""

    parts: tuple[tuple[CataloguePart, int], ...]
    left_out: tuple[str, ...]

    @property
    def words(self) -> str:
        """The kit in a few words."""
        return both(f"{count} × {part.name} ({part.number})" for part, count in self.parts)


def kit(state: ShopState, job: Job, correction: str, book: Book) -> Kit:
    """The kit of a correction for the job's machine, without what the job has a line for already."""
    entry, machine = book.corrections.get(correction), machine_of(state, job)
    have = {line.number for line in state.parts_of(job.id) if line.state is not PartState.RETURNED}
    wanted: dict[str, int] = {}
    left_out: list[str] = []
    for part in entry.parts if entry else ():
        found = catalogue.by_name(state, part.name, machine)
        if found.part is None:
            left_out.append(f"{part.name}: {found.why_not}")
        elif found.part.number not in have:
            wanted[found.part.number] = wanted.get(found.part.number, 0) + part.quantity
    return Kit(tuple((state.catalogue[number], count) for number, count in wanted.items()), tuple(left_out))


def _lines(state: ShopState, job: Job, kit: Kit, now: datetime) -> tuple[PartLine, ...]:
    lines: list[PartLine] = []
    for part, count in kit.parts:
        id = state.next_id(Table.PARTS) + len(lines)
        line = PartLine(
            id=id,
            job=job.id,
            number=part.number,
            name=part.name,
            quantity=count,
            supplier=part.supplier if state.settings.supplier(part.supplier) else "",
            price=part.price,
            lead_class=part.lead_class,
            needed_at=now,
            core=part.core_charge is not None,
            core_charge=part.core_charge,
        )
        lines += stock.kept(state, line, id + 1)
    return tuple(lines)


def _words(state: ShopState, found: Kit, lines: tuple[PartLine, ...]) -> str:
    held = both(
        f"{line.quantity} × {line.name} in {stock.where(state, line.number)}" for line in lines if line.reserved
    )
    words = f"; needs {found.words}" if found.parts else ""
    words += f"; kept for it: {held}" if held else ""
    return words + (f"; not asked for: {'; '.join(found.left_out)}" if found.left_out else "")


@rule
def find(
    state: ShopState,
    now: datetime,
    by: str,
    job_id: int,
    cause: str,
    text: str = "",
    correction: str = "",
    *,
    book: Book,
) -> Step:
    """A cause was found, and the parts of its correction are asked for with it; refused as `evidence.find`."""
    step = evidence.find(state, now, by, job_id, cause, text, correction, book=book)
    job = next(record for record in step.puts if isinstance(record, Job))
    found = kit(state, job, correction, book)
    lines = _lines(state, job, found, now)
    puts, after = parts.needed(job, lines, now)
    others: tuple[Record, ...] = tuple(record for record in puts if not isinstance(record, Job))
    moved = next((record for record in puts if isinstance(record, Job)), job)
    why = f"{step.why.removesuffix('.')}{_words(state, found, lines)}{after}."
    return changed(step, why=why, puts=(moved, *others))  # type: ignore[no-any-return]


def may_ask(state: ShopState, job: Job, now: datetime) -> None:
    """Refuses asking for a kit where no correction is found, or for a job that takes no parts."""
    parts.may_need(state, job, now)
    if not state.catalogue:
        raise Refused("parts.toml lists no part", "write the parts there, or ask for them by number")
    if not any(finding.correction for finding in job.findings):
        raise Refused(f"no correction is recorded on {job.tag}", "record what was found first")


@rule
def ask(state: ShopState, now: datetime, by: str, job_id: int, correction: str, *, book: Book) -> Step:
    """The parts of a correction are needed for the job, all in one step.

    Refused: a correction that is not the job's, none of its parts to ask for, a closed job.
    """
    job = open_job(state, job_id)
    may_ask(state, job, now)
    if all(finding.correction != correction for finding in job.findings):
        raise Refused(f"{correction or 'nothing'} is no correction of {job.tag}", "take one that was found")
    found = kit(state, job, correction, book)
    if not found.parts:
        why = "; ".join(found.left_out) or "the job has a line for each of its parts"
        raise Refused(f"no part can be asked for: {why}", "ask for the part by its number")
    lines = _lines(state, job, found, now)
    puts, after = parts.needed(job, lines, now)
    words = _words(state, found, lines).removeprefix("; ")
    return Step(f"{job.tag} {words}{after}.", puts, subject=job_id)
