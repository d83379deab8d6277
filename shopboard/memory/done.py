"""Service points seen to: which were done on which machine, when, and at which age."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

import msgspec

from shopboard.records import Job, Moment

from .meters import AgeLine


class Done(msgspec.Struct, frozen=True):
    """A service point was seen to on a machine: when, and at which machine age [h] if known."""

    machine: int
    point: str
    at: Moment
    age: float | None = None


def when_done(job: Job) -> datetime:
    """When a closed job's work counts as done."""
    return job.closed_at or job.since


def age_in(job: Job, line: AgeLine | str) -> float | None:
    """The machine's age [h] when a job came in; None where it cannot be told. `line` is the machine's ages over time (a
    sentence: they cannot be told)."""
    return line.at(job.arrived, job.hours) if not isinstance(line, str) else None


def done_in(job: Job, line: AgeLine | str) -> list[Done]:
    """The work a closed job noted as done; `line` is its machine's ages over time, as for `age_in`."""
    age = age_in(job, line)
    return [Done(job.machine, op.id, when_done(job), age) for op in job.operations if op.done]


def last_done(done: Iterable[Done]) -> dict[int, dict[str, Done]]:
    """When each point of each machine was seen to last."""
    last: dict[int, dict[str, Done]] = {}
    for each in done:
        own = last.setdefault(each.machine, {})
        before = own.get(each.point)
        if before is None or before.at <= each.at:
            own[each.point] = each
    return last
