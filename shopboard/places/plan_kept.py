"""The plan people saw last, kept in `seen_file` so that every terminal and the next start go on from it."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime
from pathlib import Path

from shopboard.planning.calendar import shop_calendar
from shopboard.planning.tasks import JobAhead, Kind, Placed, Plan, Problem, Task
from shopboard.records import Settings

from .planned import Planned
from .seen_file import Row, Seen, Sure, read, where_of, write


def keep(folder: Path, planned: Planned, settings: Settings) -> None:
    """Keep the plan, how sure each date is, and the public holidays it goes by."""
    rows = tuple(
        Row(
            one.task.job,
            one.task.kind.value,
            planned.start(one),
            planned.end(one),
            one.person,
            one.bay,
            one.task.waits_for,
        )
        for one in planned.plan.placed
    )
    write(
        folder,
        Seen(planned.seq, planned.at, rows, tuple(_sure(planned)), where_of(settings), dict(planned.holidays)),
    )


def _sure(planned: Planned) -> Iterator[Sure]:
    for job, risk in planned.risks.items():
        best = next(iter(planned.helps.get(job, ())), None)
        help, then, others = (best.words, best.then, best.others) if best else ("", 0.0, 0.0)
        yield Sure(job, risk.on_time, risk.even, risk.sure, help, then, others)


def kept(folder: Path, settings: Settings, now: datetime) -> Plan | None:
    """The plan people saw last, on a calendar of now; None where there is none that can be read."""
    found = read(folder)
    try:
        return _plan(found, settings, now) if found is not None else None
    except ValueError:  # a kind of step nobody knows
        return None


def kept_seq(folder: Path) -> int | None:
    """As of which change people saw the plan; None where there is none that can be read."""
    found = read(folder)
    return found.seq if found is not None else None


def _plan(found: Seen, settings: Settings, now: datetime) -> Plan:
    calendar = shop_calendar(settings, now)
    jobs: dict[int, list[Placed]] = {}
    for row in found.rows:
        start = calendar.slot_at(row.start)
        end = max(start + 1, calendar.deadline(row.end))
        task = Task(
            job=row.job,
            kind=Kind(row.kind),
            slots=end - start,
            waits_for=row.waits_for,
            capabilities=frozenset() if row.bay else None,
        )
        jobs.setdefault(row.job, []).append(Placed(task, start, end, row.person, row.bay))
    aheads = tuple(JobAhead(job, tuple(one.task for one in steps)) for job, steps in jobs.items())
    placed = sorted((one for steps in jobs.values() for one in steps), key=lambda one: one.start)
    people = tuple(settings.people)
    return Plan(Problem(aheads, settings.bays, people, calendar), tuple(placed), 0.0)
