"""How a change acts on the state: the same whether just committed, read from another terminal or replayed."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Any

import msgspec

from shopboard.records import (
    Change,
    ClosedJob,
    Closure,
    Customer,
    FieldError,
    Job,
    Machine,
    Op,
    PartLine,
    Put,
    Record,
    Remove,
    Return,
    ShopState,
    Stage,
    Step,
    Stock,
    Table,
    encode,
    to_record,
)

from .upgrades import upgraded

KINDS: dict[Table, type[Record]] = {
    Table.CUSTOMERS: Customer,
    Table.MACHINES: Machine,
    Table.JOBS: Job,
    Table.PARTS: PartLine,
    Table.STOCK: Stock,
    Table.RETURNS: Return,
    Table.CLOSURES: Closure,
}
_TABLES: dict[type[Record], Table] = {kind: table for table, kind in KINDS.items()}

#: A closed job whole, with its part lines.
Whole = tuple[Job, tuple[PartLine, ...]]


@dataclass
class Unfiled:
    """Closed jobs that no month's file holds yet, whole; and by month, which ids no longer belong in its file."""

    jobs: dict[int, Whole] = field(default_factory=dict)
    stale: dict[str, set[int]] = field(default_factory=dict)

    def clear(self) -> None:
        """Forget all: the month files hold it."""
        self.jobs.clear()
        self.stale.clear()


def is_over(job: Job) -> bool:
    """Whether the job is closed for good: collected, or declined and the machine has left."""
    return job.stage is Stage.COLLECTED or (job.stage is Stage.DECLINED and job.left is not None)


def month_of(job: Job | ClosedJob) -> str:
    """The month, as 2026-03, whose file holds a closed job (UTC)."""
    closed_at = job.closed_at or (job.since if isinstance(job, Job) else job.arrived)
    return f"{closed_at.year:04d}-{closed_at.month:02d}"


def summary(job: Job) -> ClosedJob:
    """What lists and figures need of a closed job. Causes are those confirmed; if none was, all that were found."""
    confirmed = [finding.cause for finding in job.findings if finding.confirmed]
    found = confirmed or [finding.cause for finding in job.findings]
    return ClosedJob(
        id=job.id,
        customer=job.customer,
        machine=job.machine,
        complaint=job.complaint,
        symptoms=job.symptoms,
        causes=tuple(dict.fromkeys(found)),
        stage=job.stage,
        hours=job.hours,
        arrived=job.arrived,
        closed_at=job.closed_at or job.since,
        minutes=sum(spell.minutes for spell in job.spent),
        promise=job.promise,
        comeback_of=job.comeback.of if job.comeback else None,
    )


def table_of(record: Record) -> Table:
    """The table that holds records of this kind. Raises FieldError for a record that is not kept in a table."""
    found = _TABLES.get(type(record))
    if found is None:
        raise FieldError("step", type(record).__name__, "is not kept in a table")
    return found


def put(record: Any) -> Put:
    """The operation that keeps this record, as it will be read from the journal: what JSON cannot hold shows here."""
    return Put(table=table_of(record), id=record.id, data=msgspec.json.decode(encode(record)))


def operations(step: Step, state: ShopState) -> tuple[Op, ...]:
    """The step's operations, completed: a change that touches a closed job carries that job whole, so that replay
    needs no other file. Raises FieldError for a record that could not be read back."""
    ops: dict[tuple[Table, int], Op] = {(table, id): Remove(table, id) for table, id in step.removes}
    for record in step.puts:
        op = put(record)
        if op.id < 1:
            raise FieldError("step", f"{op.table} {op.id}", "ids start at 1")
        to_record(op.data, KINDS[op.table], f"{op.table} {op.id}")
        ops[op.table, op.id] = op
    for id in _closed_touched(step, state):
        whole = state.load_closed(id)
        if whole:
            ops.setdefault((Table.JOBS, id), put(whole[0]))
            for line in whole[1]:
                ops.setdefault((Table.PARTS, line.id), put(line))
    return tuple(ops.values())


def _closed_touched(step: Step, state: ShopState) -> set[int]:
    touched = {record.id for record in step.puts if isinstance(record, Job)}
    touched |= {record.job for record in step.puts if isinstance(record, PartLine) and record.job is not None}
    touched |= {id for table, id in step.removes if table is Table.JOBS}
    if step.subject is not None and any(table is Table.PARTS for table, _ in step.removes):
        touched.add(step.subject)
    return touched & state.closed.keys()


def apply(state: ShopState, unfiled: Unfiled, changes: Iterable[Change]) -> None:
    """Let the changes act on the state, in order. Raises FieldError, before acting, for a record it cannot read."""
    for change in changes:
        records = [(op, record_of(op, change.format)) for op in change.ops]
        _reopen(state, unfiled, change)
        for op, record in records:
            _set(state, op, record)
        _close(state, unfiled, change)
        state.seq = change.seq


def record_of(op: Op, format: int) -> Record | None:
    """The record an operation of this format keeps, None where it removes one. Raises FieldError."""
    if isinstance(op, Remove):
        return None
    return to_record(upgraded(op.table, op.data, format), KINDS[op.table], f"{op.table} {op.id}")


def _set(state: ShopState, op: Op, record: Record | None) -> None:
    table: dict[int, Any] = getattr(state, op.table.value)
    if record is None:
        table.pop(op.id, None)
        return
    table[op.id] = record
    if op.id >= state.next_id(op.table):
        state.next_ids[op.table] = op.id + 1


def _reopen(state: ShopState, unfiled: Unfiled, change: Change) -> None:
    for op in change.ops:
        was = state.closed.pop(op.id, None) if op.table is Table.JOBS else None
        if was is not None:
            unfiled.stale.setdefault(month_of(was), set()).add(op.id)
            unfiled.jobs.pop(op.id, None)


def _close(state: ShopState, unfiled: Unfiled, change: Change) -> None:
    over = [
        job
        for op in change.ops
        if op.table is Table.JOBS and (job := state.jobs.get(op.id)) is not None and is_over(job)
    ]
    if not over:
        return
    lines: dict[int, list[PartLine]] = {job.id: [] for job in over}
    for line in list(state.parts.values()):
        if line.job in lines:
            lines[line.job].append(state.parts.pop(line.id))
    for job in over:
        del state.jobs[job.id]
        state.closed[job.id] = summary(job)
        unfiled.jobs[job.id] = (job, tuple(sorted(lines[job.id], key=lambda line: line.id)))
        unfiled.stale.get(month_of(job), set()).discard(job.id)
