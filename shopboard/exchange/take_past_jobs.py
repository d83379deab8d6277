"""Rows of a list of past jobs, made closed jobs, so that the memory learns from them."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

import msgspec

from shopboard.records import (
    Customer,
    Finding,
    Job,
    Machine,
    Note,
    Settlement,
    ShopState,
    Spell,
    Stage,
    Table,
)
from shopboard.shop.closing import OTHER
from shopboard.shop.said import LARGEST_SUM, same

from .causes import Causes
from .entries import Entry
from .machines_known import Machines, Models, with_reading
from .outcome import NotTaken, Outcome, Rejected
from .people import Known
from .sheet import many
from .take_machines import local

if TYPE_CHECKING:
    from shopboard.trouble import Book

#: No job took longer (minutes).
MOST_MINUTES = Decimal(60_000)
#: How people write that a job ended, bare of blanks and case.
_COLLECTED = frozenset(
    {"", "collected", "done", "closed", "finished", "repaired", "complete", "completed", "invoiced", "paid"}
)
_DECLINED = frozenset({"declined", "refused", "notrepaired", "unrepaired", "cancelled", "canceled"})


@dataclass
class _Desk:
    """What the rows are laid over, and who signs."""

    state: ShopState
    now: datetime
    zone: ZoneInfo
    by: str
    people: Known
    machines: Machines
    models: Models
    causes: Causes


def take_past_jobs(
    state: ShopState,
    entries: Iterable[Entry],
    now: datetime,
    zone: ZoneInfo,
    by: str,
    book: Book,
    tick: Callable[[], None],
) -> Outcome:
    """What the rows come to: a closed job (with its hours kept on the machine), one that is here already, or rejected.

    A cause counts as the book's only where its words fit exactly one cause of the machine's layout; otherwise it stands
    as it was written. A job is here already if the same machine's was closed that day with the same complaint.
    """
    people, machines = Known(state.customers.values()), Machines(state.machines.values())
    desk = _Desk(state, now, zone, by, people, machines, Models(state.models, state.machines.values()), Causes(book))
    outcome = Outcome()
    here = {_mark(job.machine, job.closed_at, zone, job.complaint) for job in state.closed.values()}
    next_id = state.next_id(Table.JOBS)
    for entry in sorted(
        entries, key=lambda entry: (entry.moment("closed") or now.replace(tzinfo=None), entry.row.number)
    ):
        tick()
        try:
            machine, owner, told = _whose(desk, entry)
            job, read = _job(desk, next_id, machine, owner, entry)
        except NotTaken as fault:
            outcome.rejected.append(Rejected(entry.row, str(fault)))
            continue
        outcome.notes += [(entry.row.number, told)] if told else []
        assert job.closed_at is not None
        mark = _mark(machine.id, job.closed_at, zone, job.complaint)
        if mark in here:
            outcome.known += 1
            continue
        here.add(mark)
        next_id += 1
        outcome.added += 1
        outcome.keep(job)
        if read != machine:
            outcome.keep(read)
            machines.add(read)
    outcome.notes += [(0, words) for words in _cause_words(desk.causes, outcome)]
    return outcome


def _mark(machine: int, closed: datetime, zone: ZoneInfo, complaint: str) -> tuple[int, str, str]:
    return machine, f"{closed.astimezone(zone):%Y-%m-%d}", same(complaint)


def _cause_words(causes: Causes, outcome: Outcome) -> list[str]:
    """What was taken for which cause, once for each wording."""
    found: Counter[tuple[str, str]] = Counter()
    for job in outcome.puts.values():
        if isinstance(job, Job) and job.findings:
            found[job.findings[0].text, job.findings[0].cause] += 1
    said = [
        f"“{text}” counts as {causes.name(cause)} ({cause}) in {many(number, 'job')}"
        for (text, cause), number in found.most_common()
        if cause != OTHER
    ]
    others = sum(number for (_, cause), number in found.items() if cause == OTHER)
    return [*said, *([f"{many(others, 'cause')} not for certain one of the book's: kept as written"] if others else [])]


def _whose(desk: _Desk, entry: Entry) -> tuple[Machine, Customer, str]:
    name, phone, serial, model = (entry.text(id) for id in ("customer", "phone", "serial", "model"))
    wanted = desk.models.find(model) if model else None
    owner, told = desk.people.owner(name, phone) if name or phone else (None, "")
    if same(serial):
        found = [one for one in desk.machines.with_serial(serial) if wanted is None or one.model == wanted.id]
        if not found:
            raise NotTaken(f"there is no machine with serial {serial} here: import machines first")
    elif owner is None:
        raise NotTaken("neither serial number nor customer tells which machine it was")
    else:
        found = desk.machines.of(owner.id, wanted.id if wanted else "")
        if not found:
            raise NotTaken(
                f"{owner.name} has no{f' {wanted.name}' if wanted else ''} machine here: import machines first"
            )
    if len(found) > 1:
        raise NotTaken(f"it may be any of {len(found)} machines: add the serial number")
    # A machine may have belonged to somebody else then
    return found[0], owner or desk.state.customers[found[0].customer], told


def _job(desk: _Desk, id: int, machine: Machine, owner: Customer, entry: Entry) -> tuple[Job, Machine]:
    closed = entry.moment("closed")
    assert closed is not None
    until = local(closed, desk.zone, desk.now, hour=17)
    came = entry.moment("arrived")
    arrived = (
        local(came, desk.zone, desk.now, hour=8) if came else min(until, local(closed, desk.zone, desk.now, hour=8))
    )
    if arrived > until:
        raise NotTaken("it was closed before it came")
    hours = entry.figure("hours")
    read = machine
    if hours is not None:
        read = msgspec.structs.replace(machine, readings=with_reading(machine.readings, hours, arrived))
    if read.first_seen is None or read.first_seen > arrived:
        read = msgspec.structs.replace(read, first_seen=arrived)
    number = entry.text("number")
    notes = [*([f"number {number} in the earlier records"] if number else []), *filter(None, [entry.text("note")])]
    job = Job(
        id=id,
        customer=owner.id,
        machine=machine.id,
        arrived=arrived,
        since=until,
        complaint=entry.text("complaint"),
        stage=_ended(entry),
        hours=float(hours) if hours is not None else None,
        findings=_findings(desk, machine, entry, until),
        notes=tuple(Note(text=text, at=until, by=desk.by) for text in notes),
        spent=_spent(desk, entry, until),
        settlement=_settled(desk, entry, until),
        closed_at=until,
        left=until,
    )
    return job, read


def _findings(desk: _Desk, machine: Machine, entry: Entry, at: datetime) -> tuple[Finding, ...]:
    cause, correction = entry.text("cause"), entry.text("correction")
    if not cause and not correction:
        return ()
    found = desk.causes.of(cause, machine.layout) if cause else None
    # A finished, collected repair that names its cause is as proved as the shop's earlier records can make it
    return (
        Finding(
            cause=found or OTHER, text=cause, correction=correction, at=at, by=desk.by, confirmed=found is not None
        ),
    )


def _spent(desk: _Desk, entry: Entry, at: datetime) -> tuple[Spell, ...]:
    minutes, labour = entry.figure("minutes"), entry.figure("labour")
    total = minutes if minutes is not None else labour * 60 if labour is not None else None
    if not total:
        return ()
    if total > MOST_MINUTES:
        raise NotTaken(f"{total:f} minutes of work cannot be")
    return (Spell(by=desk.by, at=at, minutes=float(total), what="as the earlier records say"),)


def _settled(desk: _Desk, entry: Entry, at: datetime) -> Settlement | None:
    total = entry.figure("total")
    if total is None:
        return None
    exact = total.quantize(Decimal(1).scaleb(-desk.state.settings.decimals))
    if exact != total or total >= LARGEST_SUM:
        raise NotTaken(f"{total:f} is no sum of this shop's money")
    paid = entry.figure("paid")
    if paid is not None and paid > exact:
        raise NotTaken(f"{paid:f} paid is more than the {exact} charged")
    return Settlement(total=exact, paid=exact if paid is None else paid.quantize(exact), at=at, by=desk.by)


def _ended(entry: Entry) -> Stage:
    word = same(entry.text("stage"))
    if word in _DECLINED:
        return Stage.DECLINED
    if word in _COLLECTED:
        return Stage.COLLECTED
    raise NotTaken(f"“{entry.text('stage')}” is no end of a job: write {Stage.COLLECTED} or {Stage.DECLINED}")
