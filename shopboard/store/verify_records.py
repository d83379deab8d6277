"""Rules that hold across records: nothing named that is not there, one machine in a bay, ids that go on."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

from shopboard.planning.closed_days import country_wrong
from shopboard.records import ClosedJob, Job, ShopState, Table, tag

from .journal import RESTORE
from .verify_rules import rule_faults

if TYPE_CHECKING:
    from shopboard.trouble import Book

#: Where, why, how to mend.
Found = tuple[str, str, str]

_UNDO = "undo the change that did it, or enter what is missing"


@dataclass(frozen=True)
class Known:
    """Which of the shop's own files could be read; what they would decide is only asked of those."""

    settings: bool
    models: bool
    book: Book | None


def record_faults(state: ShopState, known: Known) -> Iterator[Found]:
    """Each rule broken across records."""
    yield from _dangling(state)
    yield from _bays_held_twice(state)
    yield from _ids(state)
    if known.models:
        yield from _models(state)
    if known.settings:
        yield from _settings(state)
    yield from _catalogue(state, known)
    yield from rule_faults(state, settings=known.settings)
    if known.book:
        yield from _entries(state, known.book)


def _dangling(state: ShopState) -> Iterator[Found]:
    for machine in state.machines.values():
        if machine.customer not in state.customers:
            yield f"machine {machine.id}", f"belongs to customer {machine.customer}, who is not there", _UNDO
    known = state.jobs.keys() | state.closed.keys()
    jobs: list[Job | ClosedJob] = [*state.jobs.values(), *state.closed.values()]
    for job in jobs:
        where = tag(job.id)
        if job.customer not in state.customers:
            yield where, f"is for customer {job.customer}, who is not there", _UNDO
        if job.machine not in state.machines:
            yield where, f"is for machine {job.machine}, which is not there", _UNDO
        first = (job.comeback.of if job.comeback else None) if isinstance(job, Job) else job.comeback_of
        if first is not None and first not in known:
            yield where, f"is a comeback of {tag(first)}, which is not there", _UNDO
    for line in state.parts.values():
        if line.job is not None and line.job not in state.jobs:
            yield f"part line {line.id}", f"is for {tag(line.job)}, which is not open", _UNDO


def _bays_held_twice(state: ShopState) -> Iterator[Found]:
    held: dict[str, Job] = {}
    for job in state.jobs.values():
        if job.bay and job.bay in held:
            yield job.tag, f"stands in {job.bay}, where {held[job.bay].tag} stands too", "move one of them on the Floor"
        elif job.bay:
            held[job.bay] = job


def _ids(state: ShopState) -> Iterator[Found]:
    for table in Table:
        given = [*state.table(table), *(state.closed if table is Table.JOBS else ())]
        if given and max(given) >= state.next_id(table):
            mend = RESTORE
            yield f"db/open.json: {table}", f"id {max(given)} is in use, but {state.next_id(table)} is next", mend


def _models(state: ShopState) -> Iterator[Found]:
    unknown: dict[str, list[int]] = {}
    for machine in state.machines.values():
        if machine.model not in state.models and not machine.unlisted:
            unknown.setdefault(machine.model, []).append(machine.id)
    for model, machines in unknown.items():
        many = f" and {len(machines) - 1} more" if len(machines) > 1 else ""
        mend = f'add a [[model]] with id = "{model}" to models.toml'
        yield f"machine {machines[0]}{many}", f'of model "{model}", which models.toml does not know', mend


def _settings(state: ShopState) -> Iterator[Found]:
    if said := country_wrong(state.settings):
        yield "shop.toml", said, "mend it: until then the plan knows no public holidays"
    for job in state.jobs.values():
        if job.bay and state.settings.bay(job.bay) is None:
            yield (
                job.tag,
                f'stands in bay "{job.bay}", which shop.toml does not know',
                "add the bay, or move the machine",
            )
        if job.person and state.settings.person(job.person) is None:
            mend = "add the person, or give the job to somebody else"
            yield job.tag, f'is given to "{job.person}", whom shop.toml does not know', mend
    for closure in state.closures.values():
        if closure.person and state.settings.person(closure.person) is None:
            mend = "add the person, or say that they are back"
            yield f"closure {closure.id}", f'says "{closure.person}" is away, whom shop.toml does not know', mend
        if closure.bay and state.settings.bay(closure.bay) is None:
            mend = "add the bay, or say that it can be used again"
            yield f"closure {closure.id}", f'says bay "{closure.bay}" is down, which shop.toml does not know', mend
    for line in state.parts.values():
        if line.supplier and state.settings.supplier(line.supplier) is None:
            mend = "add the supplier to shop.toml, or change the line"
            yield f"part line {line.id}", f'comes from "{line.supplier}", whom shop.toml does not know', mend


def _catalogue(state: ShopState, known: Known) -> Iterator[Found]:
    for part in state.catalogue.values():
        where = f"parts.toml: {part.number}"
        if known.settings and part.supplier and state.settings.supplier(part.supplier) is None:
            mend = "add the supplier to shop.toml, or change the part"
            yield where, f'comes from "{part.supplier}", whom shop.toml does not know', mend
        for model in part.models if known.models else ():
            if model not in state.models:
                mend = f'add a [[model]] with id = "{model}" to models.toml, or change the part'
                yield where, f'fits model "{model}", which models.toml does not know', mend


def _entries(state: ShopState, book: Book) -> Iterator[Found]:
    """What open jobs name of the trouble book."""
    mend = "add the entry to book/ in the shop's folder, or withdraw it on the job"
    for job in state.jobs.values():
        for symptom in job.symptoms:
            if symptom not in book.symptoms:
                yield job.tag, f'has the symptom "{symptom}", which the trouble book does not know', mend
        for answer in job.answers:
            check = book.checks.get(answer.check)
            if check is None:
                yield job.tag, f'answers the check "{answer.check}", which the trouble book does not know', mend
            elif answer.outcome not in (*check.outcomes, "unsure", "not tested"):
                yield job.tag, f'answers "{answer.check}" with "{answer.outcome}", which is none of its outcomes', mend
        for finding in job.findings:
            if finding.cause != "other" and finding.cause not in book.causes:
                yield job.tag, f'was found to be "{finding.cause}", which the trouble book does not know', mend
