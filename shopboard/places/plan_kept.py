"""The plan people saw last, kept beside the shop's records, so that every terminal and the next start go on from it.

It is no record: it can be deleted at any time, and a new plan is made. Places stand as moments, which mean the same on
every calendar.
"""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

import msgspec

from shopboard.planning.calendar import shop_calendar
from shopboard.planning.tasks import JobAhead, Kind, Placed, Plan, Problem, Task
from shopboard.records import Moment, Settings
from shopboard.store import disk

from .planned import Planned


class Row(msgspec.Struct, frozen=True):
    """A step's place."""

    job: int
    kind: Kind
    start: Moment
    end: Moment
    person: str
    bay: str = ""


class Kept(msgspec.Struct, frozen=True):
    """The plan as of a change."""

    seq: int
    at: Moment
    rows: tuple[Row, ...]


def path_of(folder: Path) -> Path:
    """Where the plan is kept."""
    return (folder / "db" if (folder / "db").is_dir() else folder) / "plan.seen"


def keep(folder: Path, planned: Planned) -> None:
    """Keep the plan; where that cannot be written, the plan is simply made anew the next time."""
    rows = tuple(
        Row(one.task.job, one.task.kind, planned.start(one), planned.end(one), one.person, one.bay)
        for one in planned.plan.placed
    )
    try:
        disk.replace_file(path_of(folder), msgspec.json.encode(Kept(planned.seq, planned.at, rows)))
    except OSError:
        return


def kept(folder: Path, settings: Settings, now: datetime) -> Plan | None:
    """The plan people saw last, on a calendar of now; None where there is none that can be read."""
    try:
        found = msgspec.json.decode(path_of(folder).read_bytes(), type=Kept)
    except (OSError, msgspec.MsgspecError, UnicodeDecodeError):
        return None
    calendar = shop_calendar(settings, now)
    jobs: dict[int, list[Placed]] = {}
    for row in found.rows:
        start = calendar.slot_at(row.start)
        end = max(start + 1, calendar.deadline(row.end))
        task = Task(job=row.job, kind=row.kind, slots=end - start, capabilities=frozenset() if row.bay else None)
        jobs.setdefault(row.job, []).append(Placed(task, start, end, row.person, row.bay))
    aheads = tuple(JobAhead(job, tuple(one.task for one in steps)) for job, steps in jobs.items())
    placed = sorted((one for steps in jobs.values() for one in steps), key=lambda one: one.start)
    people = tuple(settings.people)
    return Plan(Problem(aheads, settings.bays, people, calendar), tuple(placed), 0.0)
