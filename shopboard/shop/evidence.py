"""What is known of a job's trouble: symptoms ticked, checks answered, numbers read, causes found.

Whatever changes the evidence ranks the causes afresh and keeps the likeliest with the job, so that the Floor shows
them without computing.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from typing import TYPE_CHECKING

from shopboard.estimate.labour import closure
from shopboard.records import (
    Answer,
    Finding,
    Job,
    Machine,
    Note,
    Operation,
    Reading,
    Refused,
    ShopState,
    Stage,
    Step,
)

from . import history, readings, said
from .guards import both, changed, machine_of, open_job, rule, still_open
from .likely import advice, checks, moved, ranked, ranking

if TYPE_CHECKING:  # the trouble room brings numpy, which nothing loads before the first paint
    from shopboard.trouble import Book

__all__ = [
    "NO_OUTCOME",
    "Measured",
    "advice",
    "answer",
    "checks",
    "confirm",
    "find",
    "may_confirm",
    "may_unfind",
    "may_withdraw",
    "measured",
    "moved",
    "ranking",
    "read",
    "remark",
    "tick",
    "unfind",
    "with_evidence",
    "withdraw",
]

#: Outcomes any check may have; they count for nothing in the ranking.
NO_OUTCOME = ("unsure", "not tested")


# -- symptoms and answers ---------------------------------------------------------------------------------------------


def with_evidence(
    state: ShopState,
    job: Job,
    machine: Machine,
    book: Book,
    now: datetime,
    by: str,
    symptoms: Iterable[str],
    answers: Iterable[tuple[str, str]],
) -> Job:
    """The job as it starts, with what was said at the counter; refused as `tick` and `answer` are."""
    fresh: Job = changed(job, symptoms=_symptoms(symptoms, book))
    for check, outcome in answers:
        _outcome(check, outcome, book)
        fresh = _answered(fresh, Answer(check=check, outcome=outcome, at=now, by=by))
    return ranked(state, fresh, machine, book)


def _symptoms(symptoms: Iterable[str], book: Book) -> tuple[str, ...]:
    wanted = tuple(dict.fromkeys(symptoms))
    for symptom in wanted:
        if symptom not in book.symptoms:
            raise Refused(f"the trouble book has no symptom {symptom}", "tick one that it has, or add it to the book")
    return wanted


def _outcome(check: str, outcome: str, book: Book) -> str:
    """The outcome in words; refused if the book does not have this check or this outcome of it."""
    known = book.checks.get(check)
    if known is None:
        raise Refused(f"the trouble book has no check {check}", "answer one that it has, or add it to the book")
    if outcome in NO_OUTCOME:
        return outcome
    if outcome not in known.outcomes:
        names = both([*known.outcomes, *NO_OUTCOME])
        raise Refused(f"the check “{known.name}” cannot come out as {outcome}", f"its outcomes are {names}")
    return known.outcomes[outcome].name


def _answered(job: Job, answer: Answer) -> Job:
    kept = tuple(a for a in job.answers if a.check != answer.check)
    answered: Job = changed(job, answers=(*kept, answer))
    return answered


@rule
def tick(state: ShopState, now: datetime, by: str, job_id: int, symptoms: Iterable[str], *, book: Book) -> Step:
    """The job has exactly these symptoms (all of them, not only new ones) and is ranked afresh.

    Refused: an unknown symptom, a closed job, no change.
    """
    job = open_job(state, job_id)
    wanted = _symptoms(symptoms, book)
    if wanted == job.symptoms:
        raise Refused(f"{job.tag} has exactly these symptoms already", "tick another or untick one")
    ticked = ranked(state, changed(job, symptoms=wanted), machine_of(state, job), book)
    names = both(book.symptoms[symptom].name for symptom in wanted) or "none ticked"
    return Step(f"{job.tag}, symptoms: {names}.", (ticked,), subject=job_id)


@rule
def answer(
    state: ShopState, now: datetime, by: str, job_id: int, check: str, outcome: str, *, book: Book, note: str = ""
) -> Step:
    """A check came out so; an earlier answer to the same check is replaced. Outcomes are those of the check, "unsure"
    and "not tested". Refused: an unknown check or outcome, a closed job."""
    job = open_job(state, job_id)
    words = _outcome(check, outcome, book)
    before = next((a.outcome for a in job.answers if a.check == check), None)
    answered = _answered(job, Answer(check=check, outcome=outcome, at=now, by=by, note=note))
    instead = f" (before: {before})" if before is not None and before != outcome else ""
    why = f"{job.tag}, {book.checks[check].name}: {words}{instead}{f' – {note}' if note else ''}."
    return Step(why, (ranked(state, answered, machine_of(state, job), book),), subject=job_id)


def may_withdraw(state: ShopState, job: Job, now: datetime) -> None:
    """Refuses withdrawing where nothing was answered."""
    still_open(job)
    if not job.answers:
        raise Refused(f"no check is answered on {job.tag}", "answer one first")


@rule
def withdraw(state: ShopState, now: datetime, by: str, job_id: int, check: str, *, book: Book) -> Step:
    """The answer to this check counts no more, nor do the numbers measured for it: the job is ranked as if it had not
    been given.

    Refused: a check not answered, a closed job.
    """
    job = open_job(state, job_id)
    kept = tuple(a for a in job.answers if a.check != check)
    name = book.checks[check].name if check in book.checks else check
    if len(kept) == len(job.answers):
        raise Refused(f"{job.tag} has no answer to “{name}”", "withdraw one that was given")
    withdrawn = ranked(state, changed(job, answers=kept), machine_of(state, job), book)
    return Step(f"{job.tag}: the answer to “{name}” is withdrawn.", (withdrawn,), subject=job_id)


@rule
def read(
    state: ShopState,
    now: datetime,
    by: str,
    job_id: int,
    quantity: str,
    value: float,
    unit: str,
    error: float = 0.0,
    *,
    book: Book,
    note: str = "",
) -> Step:
    """A number was measured: `value` in `unit`, `error` the instrument's standard error in the same unit.

    Refused: no quantity or unit named, a value that is no number or cannot be, a unit of something else, a negative
    error, a closed job.
    """
    job = open_job(state, job_id)
    reading = _reading(now, by, quantity, value, unit, error, note, book)
    noted = ranked(state, changed(job, readings=(*job.readings, reading)), machine_of(state, job), book)
    why = f"{job.tag}, measured: {_figure_words(reading)}{f' – {note}' if note else ''}."
    return Step(why, (noted,), subject=job_id)


def _reading(
    now: datetime, by: str, quantity: str, value: float, unit: str, error: float, note: str, book: Book
) -> Reading:
    said.words(quantity, "the quantity", "say what was measured")
    said.words(unit, "the unit", "say in which unit")
    reading = Reading(
        quantity=quantity,
        value=said.number(value, "the reading"),
        unit=unit,
        error=said.number(error, "the error of the instrument", least=0),
        at=now,
        by=by,
        note=note,
    )
    readings.fits(quantity, reading.value, unit, reading.error, book)
    return reading


def _figure_words(reading: Reading) -> str:
    within = f" ± {said.plain(reading.error)}" if reading.error else ""
    return f"{reading.quantity} {said.plain(reading.value)}{within} {reading.unit}"


#: A measured number as it comes from a calculation: quantity, value, unit, standard error in that unit.
Measured = tuple[str, float, str, float]


@rule
def measured(
    state: ShopState,
    now: datetime,
    by: str,
    job_id: int,
    check: str,
    outcome: str,
    figures: Iterable[Measured],
    *,
    book: Book,
    note: str = "",
) -> Step:
    """A check was made by measuring: its outcome and the numbers behind it, in one change. An earlier answer to the
    check is replaced, and what was measured for that counts no more, though it stays on the job.

    Refused: as `answer` and `read` refuse, and where nothing was measured.
    """
    job = open_job(state, job_id)
    words = _outcome(check, outcome, book)
    taken = tuple(changed(_reading(now, by, *one, note, book), check=check) for one in figures)
    if not taken:
        raise Refused("nothing was measured", "answer the check, or record a reading")
    answered = _answered(job, Answer(check=check, outcome=outcome, at=now, by=by, note=note))
    fresh = ranked(state, changed(answered, readings=(*job.readings, *taken)), machine_of(state, job), book)
    numbers = ", ".join(map(_figure_words, taken))
    why = f"{job.tag}, {book.checks[check].name}: {words}; measured: {numbers}{f' – {note}' if note else ''}."
    return Step(why, (fresh,), subject=job_id)


@rule
def remark(state: ShopState, now: datetime, by: str, job_id: int, text: str) -> Step:
    """A signed remark, which a closed job takes too. Refused: a blank one, a job that never was."""
    job = history.any_job(state, job_id)
    said.words(text, "the remark")
    remarked: Job = changed(job, notes=(*job.notes, Note(text=text, at=now, by=by)))
    return Step(f"{job.tag}, remark: {text}", (remarked,), subject=job_id)


# -- findings ---------------------------------------------------------------------------------------------------------


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
    """A cause was found: an id of the book, or "other" with `text`. A `correction` of the book becomes an operation
    to do; any other is kept as words. Finding a cause again replaces the finding, and its operation if not yet done.

    Refused: an unknown cause, "other" without words, a closed job.
    """
    job = open_job(state, job_id)
    name = _cause_name(cause, text, book)
    finding = Finding(cause=cause, text=text, correction=correction, at=now, by=by)
    before = next((f for f in job.findings if f.cause == cause), None)
    kept = tuple(f for f in job.findings if f.cause != cause)
    found: Job = changed(job, findings=(*kept, finding), operations=_without(job, before, kept))
    work = operation_of(correction, machine_of(state, job), book)
    if work and all(operation.id != work.id for operation in found.operations):
        found = changed(found, operations=(*found.operations, work))
    named = work.name if work else correction
    to_do = f"; to do: {named}" if named else ""
    return Step(f"{job.tag}, found: {name}{to_do}.", (found,), subject=job_id)


def may_unfind(state: ShopState, job: Job, now: datetime) -> None:
    """Refuses taking back a cause where none is found."""
    still_open(job)
    if not job.findings:
        raise Refused(f"no cause of {job.tag} is found yet", "record what was found")


@rule
def unfind(state: ShopState, now: datetime, by: str, job_id: int, cause: str) -> Step:
    """The cause proved wrong: its finding goes, and with it the operation that was only there for it and not done.

    Refused: a cause not found, a closed job.
    """
    job = open_job(state, job_id)
    finding = _finding(job, cause)
    kept = tuple(f for f in job.findings if f.cause != cause)
    dropped: Job = changed(job, findings=kept, operations=_without(job, finding, kept))
    return Step(f"{job.tag}: {_named(job, finding)} proved not to be it.", (dropped,), subject=job_id)


def may_confirm(state: ShopState, job: Job, now: datetime) -> None:
    """Refuses confirming a cause while none is found and unconfirmed."""
    may_unfind(state, job, now)
    if all(finding.confirmed for finding in job.findings):
        raise Refused(f"every cause found on {job.tag} is confirmed", "record another, if there is one")


@rule
def confirm(state: ShopState, now: datetime, by: str, job_id: int, cause: str) -> Step:
    """The correction proved the cause. Work in hand on that correction is then done.

    Refused: a cause not found, one confirmed already, a closed job.
    """
    job = open_job(state, job_id)
    finding = _finding(job, cause)
    if finding.confirmed:
        raise Refused(f"{_named(job, finding)} is confirmed on {job.tag} already", "confirm another, if there is one")
    findings = tuple(changed(f, confirmed=True) if f is finding else f for f in job.findings)
    operations = job.operations
    if job.stage in (Stage.REPAIR, Stage.ROAD_TEST):
        operations = tuple(changed(o, done=True) if o.id == finding.correction else o for o in operations)
    confirmed: Job = changed(job, findings=findings, operations=operations)
    return Step(f"{job.tag}: {_named(job, finding)} confirmed as the cause.", (confirmed,), subject=job_id)


def _finding(job: Job, cause: str) -> Finding:
    for finding in job.findings:
        if finding.cause == cause:
            return finding
    raise Refused(f"{cause or 'nothing'} is not found on {job.tag}", "record it as found first")


def _named(job: Job, finding: Finding) -> str:
    """The cause in words: as found, or as the ranking kept with the job names it."""
    name = next((likely.name for likely in job.likely if likely.cause == finding.cause), "")
    return finding.text or name or finding.cause.replace("-", " ")


def _cause_name(cause: str, text: str, book: Book) -> str:
    if cause == "other":
        return said.words(text, "the cause", "say in words what was found")
    if cause not in book.causes:
        raise Refused(f"the trouble book has no cause {cause}", "pick one that it has, or “other” and say it in words")
    return book.causes[cause].name + (f" ({text})" if text else "")


def operation_of(correction: str, machine: Machine, book: Book) -> Operation | None:
    """The work of a correction of the book on this machine; None for words of one's own."""
    work = book.corrections.get(correction)
    if work is None:
        return None
    return Operation(
        id=work.id,
        name=work.name,
        minutes=work.minutes_on(machine.layout),
        covers=work.covers_on(machine.layout),
        needs=_bay_needs(work.needs, work.covers_on(machine.layout), book),
        skill=work.skill,
    )


def _bay_needs(own: tuple[str, ...], covers: tuple[str, ...], book: Book) -> tuple[str, ...]:
    """What the bay must offer for a work: its own needs, and those of the covers that come off for it."""
    known = [id for id in covers if id in book.covers]
    order = closure(known, {id: cover.above for id, cover in book.covers.items()})
    return tuple(dict.fromkeys((*own, *(need for id in order for need in book.covers[id].needs))))


def _without(job: Job, finding: Finding | None, kept: tuple[Finding, ...]) -> tuple[Operation, ...]:
    """The operations without the undone one that stood there for `finding` alone."""
    gone = finding.correction if finding and all(f.correction != finding.correction for f in kept) else ""
    return tuple(o for o in job.operations if o.done or o.id != gone)
