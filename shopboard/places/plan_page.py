"""The plan as a page of text and as data: each person's next job, who does what where and when, how sure each promise
is and what helps."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import TYPE_CHECKING, Any
from zoneinfo import ZoneInfo

from shopboard.planning.closed_days import open_hours, until_words
from shopboard.planning.next_job import NextJob, next_job, skipped_by
from shopboard.planning.problem import technicians
from shopboard.records import Job, Person, ShopState, tag
from shopboard.shop import take

from . import plan_lines
from .job_words import day_words, machine_words
from .knowledge import Material
from .lines import BLANK, Line, cell, line, share, wrapped
from .plan_lessons import known
from .planned import BETTER, Planned, Planner

if TYPE_CHECKING:
    from collections.abc import Mapping

    from shopboard.trouble import Book

    from .knowledge import Whole

#: So many steps are printed.
STEPS = 40


@dataclass(frozen=True)
class PlanPage:
    """The plan, and each technician's next job."""

    state: ShopState
    planned: Planned
    next: tuple[tuple[Person, NextJob], ...]


def look(
    state: ShopState, book: Book, now: datetime, zone: ZoneInfo, closed: Mapping[int, Whole], seconds: float = BETTER
) -> PlanPage:
    """The shop planned as it stands now, for so many seconds, with what all closed jobs teach."""
    planner = Planner(state, book, zone)
    planner.known = known(Material(state, book, now, zone, dict(closed), frozenset(closed)))
    planned = [*planner.plan(now, lambda: True, seconds)][-1]
    return page_of(state, planned, now, zone)


def page_of(state: ShopState, planned: Planned, now: datetime, zone: ZoneInfo) -> PlanPage:
    """The page of a plan."""

    def can(job: Job, person: str, bay: str) -> tuple[str, str]:
        return take.can_start(state, now, job, person, bay)

    people = technicians(state.settings)
    found = (
        (p, next_job(state, planned.plan, p.id, now, zone, can, skipped_by(state, p.id, now, zone))) for p in people
    )
    return PlanPage(state, planned, tuple(found))


def plan_page_lines(page: PlanPage, width: int) -> list[Line]:
    """Next jobs, steps, promises."""
    state, planned = page.state, page.planned
    now, zone = planned.at, planned.zone
    rows = [
        line(None, (cell(f"{state.settings.name}   {now.astimezone(zone):%a %d %b %H:%M}", width), "strong")),
        *_closed(page, width),
        BLANK,
    ]
    rows.append(line(None, ("next for each", "strong")))
    for person, found in page.next:
        away = state.away(person.id, now)
        words = f"away {until_words(away.until, zone)}{f' ({away.why})' if away.why else ''}" if away else found.why
        rows += wrapped(f"{person.name}: {words}", width)
    rows += [BLANK, *_steps(page, width), BLANK, *_promises(page, width)]
    if planned.plan.unplaceable:
        rows += [BLANK, line(None, ("no plan can hold", "strong"))]
        for words in dict.fromkeys(f"{tag(one.task.job)}: {one.why}" for one in planned.plan.unplaceable):
            rows += wrapped(words, width)
    return rows


def _closed(page: PlanPage, width: int) -> list[Line]:
    """The closed days of the next two weeks."""
    state, planned = page.state, page.planned
    today = planned.at.astimezone(planned.zone).date()
    hours = open_hours(state.settings, planned.zone, planned.holidays, state.closures.values())
    days = [f"{day:%a} {day.day} {day:%b} ({why})" for day, why in hours.shut(today, today + timedelta(days=14))]
    return wrapped(f"closed {', '.join(days)}", width, "soft") if days else []


def _steps(page: PlanPage, width: int) -> list[Line]:
    planned, settings = page.planned, page.state.settings
    rows = [line(None, ("the plan", "strong"))]
    for one in planned.plan.placed[:STEPS]:
        bay = settings.bay(one.bay)
        start, end = (moment.astimezone(planned.zone) for moment in (planned.start(one), planned.end(one)))
        until = f"{end:%H:%M}" if end.date() == start.date() else f"{end:%a %H:%M}"
        words = f"{start:%a %d %b %H:%M} to {until:<9}  {tag(one.task.job)}  {one.task.kind.value:<9}  "
        words += f"{plan_lines.first_name(page.state, one.person):<8} {bay.name if bay else '–':<12}"
        rows.append(line(None, cell(f"{words} {one.task.waits_for}", width)))
    if len(planned.plan.placed) > STEPS:
        rows.append(line(None, f"and {len(planned.plan.placed) - STEPS} steps more"))
    return rows


def _promises(page: PlanPage, width: int) -> list[Line]:
    planned, state = page.planned, page.state
    rows = [line(None, ("promises", "strong"))]
    for job in sorted(state.jobs.values(), key=lambda job: (job.promise is None, job.promise or job.arrived)):
        risk = planned.risks.get(job.id)
        if risk is None:
            continue
        sure = plan_lines.chance(planned, job)
        told = f"on time {share(sure)}" if sure is not None else "past its date" if job.promise else "no date"
        done = day_words(risk.sure, planned.at, planned.zone) if risk.sure else "past the calendar"
        level = share(state.settings.promise_probability)
        words = f"{job.tag}  {day_words(job.promise, planned.at, planned.zone):>7}  {told:<14} {level} by {done}"
        rows.append(line(None, cell(f"{words}  {machine_words(state, job)}", width)))
        if best := plan_lines.helps_words(planned, job):
            rows += wrapped(best, width, indent=" " * 8)
    return rows if len(rows) > 1 else [*rows, line(None, "no job with work ahead")]


def plan_data(page: PlanPage) -> dict[str, Any]:
    """What `plan --json` prints. Moments are ISO 8601 in UTC; what is not known or not there is null.

    - `shop`: its name; `at`: the moment it was planned; `seq`: the number of the last change in it
    - `steps`: in order of start, each with `job` (tag), `step` (diagnose, repair, road test), `person` and `bay` (ids),
      `start`, `end` (moments), `waits_for` (in words)
    - `next`: one for each technician, with `person` (id), `job` (tag), `bay` (id), `why` (a sentence)
    - `promises`: one for each job with work ahead, with `job` (tag), `promise` (moment), `on_time` (probability),
      `even` and `sure` (moments by which it is done with even chance and with `sure_with`), `helps` (what would help,
      most first: `what`, `words`, `on_time` then, `others_lose` in jobs on time)
    - `sure_with`: the probability the shop promises with
    - `unplaceable`: jobs no plan can hold, with `job` (tag) and `why`
    """
    state, planned = page.state, page.planned
    return {
        "shop": state.settings.name,
        "at": planned.at,
        "seq": planned.seq,
        "sure_with": state.settings.promise_probability,
        "steps": [
            {
                "job": tag(one.task.job),
                "step": one.task.kind.value,
                "person": one.person,
                "bay": one.bay or None,
                "start": planned.start(one),
                "end": planned.end(one),
                "waits_for": one.task.waits_for or None,
            }
            for one in planned.plan.placed
        ],
        "next": [
            {"person": p.id, "job": tag(n.job) if n.job else None, "bay": n.bay or None, "why": n.why}
            for p, n in page.next
        ],
        "promises": [_promise(page, id) for id in planned.risks],
        "unplaceable": [
            {"job": tag(job), "why": why}
            for job, why in dict.fromkeys((one.task.job, one.why) for one in planned.plan.unplaceable)
        ],
    }


def _promise(page: PlanPage, id: int) -> dict[str, Any]:
    risk, job = page.planned.risks[id], page.state.jobs[id]
    return {
        "job": job.tag,
        "promise": job.promise,
        "on_time": risk.on_time,
        "even": risk.even,
        "sure": risk.sure,
        "helps": [
            {"what": one.what, "words": one.words, "on_time": one.then, "others_lose": one.others}
            for one in page.planned.helps.get(id, ())
        ],
    }
