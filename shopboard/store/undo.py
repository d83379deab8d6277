"""Undo: a new change that sets back what an earlier one did, refused where something later stands on it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Protocol

from shopboard.records import (
    Change,
    ClosedJob,
    Job,
    Record,
    Refused,
    ShopState,
    Step,
    Table,
    tag,
)
from shopboard.shop import forget, guards, roles

from .replay import is_over, record_of

Key = tuple[Table, int]


class History(Protocol):
    """What undo asks of an engine's journal."""

    def backwards(self, upto: int) -> Iterator[Change]:
        """The changes from `upto` down to the oldest kept."""

    def touching(self, keys: set[Key], upto: int) -> Iterator[Change]:
        """Of these, those that touch one of the records."""

    def oldest(self) -> int:
        """The number of the oldest change kept."""


def _keys(change: Change) -> set[Key]:
    return {(op.table, op.id) for op in change.ops}


def _said(change: Change) -> str:
    return f"change {change.seq} ({change.by}: {change.why})"


@dataclass
class _Walk:
    """What is known while walking back through the history: changes undone meanwhile, and those that still count."""

    undone: set[int] = field(default_factory=set)
    later: list[Change] = field(default_factory=list)

    def counts(self, change: Change) -> bool:
        """Whether the change still stands: an undo and what it undid cancel each other."""
        if change.seq in self.undone:
            return False
        if change.undoes is not None:
            self.undone.add(change.undoes)
            return False
        return True


@dataclass
class Found:
    """The change to undo (None: there is none), the later ones that still count, newest first, and all undone since."""

    change: Change | None
    later: list[Change]
    undone: set[int]


def find(history: History, state: ShopState, by: str, seq: int | None) -> Found:
    """Change `seq`, or without one the last by this person that still counts."""
    walk = _Walk()
    for change in history.backwards(state.seq):
        if seq is not None and change.seq <= seq:
            return Found(change if change.seq == seq else None, walk.later, walk.undone)
        if walk.counts(change):
            if seq is None and change.by == by:
                return Found(change, walk.later, walk.undone)
            walk.later.append(change)
    return Found(None, walk.later, walk.undone)


def step_back(history: History, state: ShopState, by: str, seq: int | None) -> tuple[Step, int]:
    """The step that sets back change `seq` (or the last by this person), and its number. Raises Refused."""
    found = find(history, state, by, seq)
    change = found.change
    if change is None:
        why = "there is nothing of yours to undo" if seq is None else f"there is no change {seq}"
        raise Refused(why, "the history lists every change with its number")
    if change.by != by:
        guards.signed(state, by)
        roles.permit(state.settings, by, "undo.of_others")
    if change.seq in found.undone:
        raise Refused(f"{_said(change)} is undone already", "undo its undoing instead")
    if change.subject is None and forget.GONE in change.why:
        raise Refused(f"{_said(change)} cannot be undone", "what was erased is nowhere any more")
    keys = _keys(change)
    for other in found.later:
        if _keys(other) & keys:
            raise Refused(f"{_said(change)} cannot be undone: {_said(other)} came after it", "undo that one first")
    before = _before(history, change, keys)
    puts = tuple(record for record in before.values() if record is not None)
    removes = tuple(key for key, record in before.items() if record is None)
    step = Step(f"undone: {change.why}", puts, removes, change.subject)
    _check(state, step)
    return step, change.seq


def _before(history: History, change: Change, keys: set[Key]) -> dict[Key, Record | None]:
    """Each record as it was before the change, None where there was none. Raises Refused where that is not kept."""
    before: dict[Key, Record | None] = {}
    missing = set(keys)
    for earlier in history.touching(keys, change.seq - 1):
        for op in earlier.ops:
            key = (op.table, op.id)
            if key in missing:
                missing.discard(key)
                before[key] = record_of(op, earlier.format)
        if not missing:
            return before
    oldest = history.oldest()
    if oldest > 1:
        raise Refused(f"{_said(change)} cannot be undone: the history before change {oldest} is not here")
    return before | dict.fromkeys(missing)


def _check(state: ShopState, step: Step) -> None:
    """Refuse a step back that would leave something hanging: a record others name, two machines in one bay."""
    users = _users(state, set(step.removes)) if step.removes else {}
    for table, id in step.removes:
        if user := users.get((table, id)):
            raise Refused(f"it cannot be undone: {user} needs {table.value} {id}", "undo that first")
    back = {job.id: job for job in step.puts if isinstance(job, Job) and not is_over(job)}
    for other in (state.jobs | back).values():
        for job in back.values():
            if job.bay and job.bay == other.bay and job.id != other.id and (Table.JOBS, other.id) not in step.removes:
                raise Refused(f"it cannot be undone: {other.tag} stands in {job.bay} now", "move that machine first")


def _users(state: ShopState, gone: set[Key]) -> dict[Key, str]:
    """Who still names a record once those `gone` are, in words by record."""
    users: dict[Key, str] = {}
    for machine in state.machines.values():
        if (Table.MACHINES, machine.id) not in gone:
            users.setdefault((Table.CUSTOMERS, machine.customer), f"machine {machine.id}")
    jobs: list[Job | ClosedJob] = [*state.jobs.values(), *state.closed.values()]
    for job in jobs:
        if (Table.JOBS, job.id) not in gone:
            users.setdefault((Table.CUSTOMERS, job.customer), tag(job.id))
            users.setdefault((Table.MACHINES, job.machine), tag(job.id))
    for line in state.parts.values():
        if line.job is not None and (Table.PARTS, line.id) not in gone:
            users.setdefault((Table.JOBS, line.job), f"part line {line.id}")
    return users
