"""The work order: complaint, cause, correction; cautions first, then every step in order, with places to sign."""

from __future__ import annotations

from collections.abc import Iterator

from shopboard.estimate import Plan, job_plan
from shopboard.records import Job, PartLine, PartState

from .blocks import Block, Column, Facts, Heading, Sheet, Sign, Words, table
from .desk import Desk, minutes

_KIND = {"off": "take off", "on": "put back", "work": "do", "test": "drive"}


def work_order(desk: Desk, number: int) -> Sheet:
    """The work order of a job, open or closed."""
    job, parts = desk.job(number)
    plan = job_plan(job, desk.graph(job))
    blocks = (
        Facts((*desk.facts(job), *_arrival(job))),
        *_cautions(desk, job),
        *_complaint(desk, job),
        *_measured(desk, job),
        *_cause(desk, job),
        *_steps(plan),
        *_parts(desk, parts),
        *_before_it_leaves(job),
        desk.terms(),
        Sign(("technician, date", "customer, date")),
    )
    return Sheet(f"Work order {job.tag}", desk.state.settings.name, desk.foot(job), blocks)


def _arrival(job: Job) -> tuple[tuple[str, str], ...]:
    return (("condition", job.condition), ("keys", job.keys), ("came with it", job.attachments))


def _cautions(desk: Desk, job: Job) -> Iterator[Block]:
    ids = [id for operation in job.operations for id in _caution_ids(desk, operation.id)]
    yield Heading("Cautions")
    yield from desk.cautions(ids)


def _caution_ids(desk: Desk, operation: str) -> tuple[str, ...]:
    correction = desk.book.corrections.get(operation)
    return correction.cautions if correction else ()


def _complaint(desk: Desk, job: Job) -> Iterator[Block]:
    yield Heading("Complaint")
    yield Words(job.complaint)
    names = [desk.book.symptoms[id].name if id in desk.book.symptoms else id for id in job.symptoms]
    yield Facts((("symptoms", ", ".join(names)),))


def _measured(desk: Desk, job: Job) -> Iterator[Block]:
    rows = [
        (check.name if check else answer.check, outcome.name if outcome else answer.outcome, desk.person(answer.by))
        for answer in job.answers
        for check in (desk.book.checks.get(answer.check),)
        for outcome in (check.outcomes.get(answer.outcome) if check else None,)
    ]
    for reading in job.readings:
        within = f" ± {reading.error:.3g}" if reading.error else ""
        value = f"{reading.value:.6g}{within} {reading.unit}"
        rows.append((reading.quantity.replace("_", " "), value, desk.person(reading.by)))
    if rows:
        yield Heading("Said and measured")
        yield table((Column("check", 5), Column("outcome", 5), Column("by", 2)), *rows)


def _cause(desk: Desk, job: Job) -> Iterator[Block]:
    yield Heading("Cause")
    if not job.findings:
        yield Words("not found yet")
    for finding in job.findings:
        yield Words(desk.cause(finding))


def _steps(plan: Plan) -> Iterator[Block]:
    if not plan.steps:
        return
    yield Heading("Correction")
    rows = []
    for number, step in enumerate(plan.steps, 1):
        crew = f", {step.people} people" if step.people > 1 else ""
        again = ", for the road test" if step.again else ""
        rows.append((f"{number}", f"{_KIND[step.kind]}: {step.name}{crew}{again}", minutes(step.minutes), "[   ]"))
    columns = (Column("", 0.6), Column("step", 12), Column("time", 2, right=True), Column("done", 1.4, right=True))
    billed = f" ({minutes(plan.billed)} billed)" if plan.billed != plan.clock else ""
    yield table(columns, *rows, sums=(("", f"by the clock{billed}", minutes(plan.clock), ""),))


def _parts(desk: Desk, parts: tuple[PartLine, ...]) -> Iterator[Block]:
    wanted = [line for line in parts if line.state is not PartState.RETURNED]
    if wanted:
        yield Heading("Parts")
        rows = [(f"{line.quantity}", line.name, line.number, str(line.state)) for line in wanted]
        yield table((Column("", 0.6, right=True), Column("part", 6), Column("number", 4), Column("state", 3)), *rows)


def _before_it_leaves(job: Job) -> Iterator[Block]:
    yield Heading("Before it leaves")
    test = job.road_test
    if test is None:
        yield Words("[   ] road test passed      [   ] every interlock proved      [   ] brake proved")
    else:
        said = (
            (test.passed, "passed"),
            (test.interlocks_proved, "interlocks proved"),
            (test.brake_proved, "brake proved"),
        )
        yield Words("road test: " + ", ".join(words if yes else f"not {words}" for yes, words in said))
        if test.note.strip():
            yield Words(test.note)
    for note in job.notes:
        yield Words(f"note: {note.text}", "small")
