"""The plan people saw last, kept in `seen_file` so that every terminal and the next start go on from it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

from msgspec.structs import astuple

from shopboard.planning.calendar import shop_calendar
from shopboard.planning.tasks import JobAhead, Kind, Placed, Plan, Problem, Task, Unplaceable
from shopboard.records import Settings

from .planned import Planned
from .seen_file import Best, Row, Seen, Sure, read, where_of, write

#: A plan so old is still what the board shows: it plans anew every few minutes while it is open.
FRESH = timedelta(minutes=10)


def keep(folder: Path, planned: Planned, settings: Settings) -> None:
    """Keep the plan, how sure each date is, and the public holidays it goes by. While chances are still being drawn,
    those of a moment ago stay, as they do on the board."""
    before = read(folder) if not planned.risks else None
    rows = tuple(
        Row(
            one.task.job,
            one.task.kind.value,
            planned.start(one),
            planned.end(one),
            one.person,
            one.bay,
            one.task.waits_for,
            one.task.lag,
        )
        for one in planned.plan.placed
    )
    write(
        folder,
        Seen(
            planned.seq,
            planned.at,
            rows,
            before.sure if before is not None else tuple(_sure(planned)),
            tuple((one.task.job, one.why) for one in planned.plan.unplaceable),
            where_of(settings),
            dict(planned.holidays),
        ),
    )


def _sure(planned: Planned) -> Iterator[Sure]:
    for job, risk in planned.risks.items():
        best = next(iter(planned.helps.get(job, ())), None)
        helps = Best(best.what, best.subject, best.words, best.now, best.then, best.others) if best else None
        yield Sure(job, risk.on_time, risk.even, risk.sure, helps)


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


def kept_planned(folder: Path, settings: Settings, now: datetime, zone: ZoneInfo, seq: int) -> Planned | None:
    """The plan people saw last with how sure each date is, if it is as of change `seq` and not older than FRESH: what
    the board shows now. It knows no more of the jobs than what is kept (`facts` is empty)."""
    from shopboard.planning.helps import Help
    from shopboard.planning.promise import Risk

    found = read(folder)
    if found is None or found.seq != seq or not timedelta(0) <= now - found.at <= FRESH:
        return None
    try:
        plan = _plan(found, settings, now)
    except ValueError:
        return None
    problem = replace(plan.problem, now=max(0, plan.problem.calendar.slot_at(found.at)))
    wrong = tuple(Unplaceable(Task(job, Kind.REPAIR, 1), why) for job, why in found.unplaceable)
    return Planned(
        seq,
        found.at,
        zone,
        replace(plan, problem=problem, unplaceable=wrong),
        {},
        risks={one.job: Risk(one.job, one.on_time, one.even, one.sure) for one in found.sure},
        helps={one.job: (Help(one.job, *astuple(one.help)),) for one in found.sure if one.help is not None},
        holidays=found.holidays,
    )


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
            lag=row.lag,
            capabilities=frozenset() if row.bay else None,
        )
        jobs.setdefault(row.job, []).append(Placed(task, start, end, row.person, row.bay))
    aheads = tuple(JobAhead(job, tuple(one.task for one in steps)) for job, steps in jobs.items())
    placed = sorted((one for steps in jobs.values() for one in steps), key=lambda one: one.start)
    people = tuple(settings.people)
    return Plan(Problem(aheads, settings.bays, people, calendar), tuple(placed), 0.0)
