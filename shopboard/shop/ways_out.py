"""Rebuild, exchange unit or leave it as it stands: what each comes to, against what the machine is worth."""

from __future__ import annotations

from decimal import Decimal
from typing import TYPE_CHECKING

from shopboard.estimate import PartWanted, WayOut, Weighed, job_plan, make_estimate, side_by_side
from shopboard.estimate.of_job import charges_of, parts_of, rules_of
from shopboard.records import Finding, Job, ShopState

from . import costs, evidence, kits, terms
from .guards import both, changed

if TYPE_CHECKING:  # the trouble room brings numpy, which nothing loads before the first paint
    from shopboard.trouble import Book


def ways_out(state: ShopState, job: Job, book: Book) -> tuple[Weighed, ...]:
    """What could be done about the cause found last: each of its corrections, and nothing. None where no cause of the
    book is found, or where it has one correction and nobody has said what the machine is worth."""
    machine = state.machines.get(job.machine)
    finding = next((found for found in reversed(job.findings) if found.cause in book.causes), None)
    if machine is None or finding is None:
        return ()
    mended, standing = terms.worth_of(machine)
    layout = machine.layout.value
    corrections = [id for id in book.causes[finding.cause].correction if layout in book.corrections[id].layouts]
    if len(corrections) < 2 and mended is None:
        return ()
    ways = [_way(state, job, book, finding, id, mended) for id in corrections]
    return side_by_side((*ways, WayOut("leave it as it stands", costs.if_declined_here(state, job), standing)))


def _way(state: ShopState, job: Job, book: Book, finding: Finding, correction: str, worth: Decimal | None) -> WayOut:
    entry = book.corrections[correction]
    if correction == finding.correction:
        made = costs.estimate_of(state, job)
        return WayOut(entry.name, made.total, worth, _unpriced(made.unpriced))
    machine = state.machines[job.machine]
    own = next((o for o in job.operations if o.id == finding.correction), None)
    others = tuple(o for o in job.operations if o is not own)
    kit_now = {part.number for part, _ in kits.kit(state, _bare(job), finding.correction, book).parts}
    kit = kits.kit(state, _bare(job), correction, book)
    lines = [line for line in state.parts_of(job.id) if line.number not in kit_now]
    work = evidence.operation_of(correction, machine, book)
    other: Job = changed(job, operations=(*others, *([work] if work else [])))
    wanted = [PartWanted(p.name, p.number, count, p.price, p.core_charge) for p, count in kit.parts]
    missing = [PartWanted(part.partition(":")[0]) for part in kit.left_out]
    charges, rules = charges_of(state.settings, job), rules_of(state.settings)
    plan = job_plan(other, costs.graph_here(state, other))
    made = make_estimate(plan, (*parts_of(lines), *wanted, *missing), charges, rules, payer=job.payer)
    return WayOut(entry.name, made.total, worth, _unpriced(made.unpriced))


def _bare(job: Job) -> Job:
    """The job as if it had no line of parts yet."""
    bare: Job = changed(job, id=0)
    return bare


def _unpriced(names: tuple[str, ...]) -> str:
    return f"without {both(names)}" if names else ""
