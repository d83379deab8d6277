"""The next job for a person: the first of their plan that can start now, with the fact that decides.

Whether a job can start now (bay, parts, approval, skill, nobody away) is asked of the rules of the shop, which come as
an argument: what is offered can be taken.
"""

from __future__ import annotations

from collections.abc import Callable, Collection
from dataclasses import dataclass
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from shopboard.records import Job, ShopState, Stage

from .tasks import SLOT, Placed, Plan

#: Says whether a person may begin a job now, and in which bay: the bay ("" for none) and why not ("" if they may).
CanStart = Callable[[Job, str, str], tuple[str, str]]
#: A part that came within this time is what lets a job start.
JUST_CAME = timedelta(hours=24)
#: Less time to spare than this decides.
TIGHT = 32


@dataclass(frozen=True)
class NextJob:
    """The job to take, in which bay ("" for none), and why it is this one in a sentence; `passed` are those before it
    in the person's plan that cannot start now, each with why not. Without one `job` is None and `why` says what is
    missing."""

    job: int | None
    bay: str
    why: str
    passed: tuple[tuple[int, str], ...] = ()


def next_job(
    state: ShopState,
    plan: Plan,
    person: str,
    now: datetime,
    zone: ZoneInfo,
    can_start: CanStart,
    skip: Collection[int] = (),
) -> NextJob:
    """The next job for a person; `skip` are jobs they do not take now. What is in their hands already comes first."""
    passed: list[tuple[int, str]] = []
    for placed in plan.of_person(person):
        job = state.jobs.get(placed.task.job)
        first = plan.by_job[placed.task.job][0] is placed
        if job is None or not first or job.id in skip:
            continue
        if in_hand(job, person):
            return NextJob(job.id, job.bay, f"{job.tag} is in your hands already: go on with it", tuple(passed))
        bay, why_not = can_start(job, person, placed.bay)
        if not why_not:
            return NextJob(job.id, bay, because(state, plan, placed, job, bay, now, zone, passed), tuple(passed))
        passed.append((job.id, why_not))
    return NextJob(None, "", _nothing(state, passed, skip), tuple(passed))


def in_hand(job: Job, person: str) -> bool:
    """Whether the person has begun this job's next step."""
    return job.person == person and (job.stage is Stage.DIAGNOSED or (job.stage is Stage.REPAIR and job.bay != ""))


def skipped_by(state: ShopState, person: str, now: datetime, zone: ZoneInfo) -> frozenset[int]:
    """The jobs this person did not want today."""
    today = now.astimezone(zone).date()
    return frozenset(
        job.id
        for job in state.jobs.values()
        if any(no.by == person and no.at.astimezone(zone).date() == today for no in job.not_this)
    )


def because(
    state: ShopState,
    plan: Plan,
    placed: Placed,
    job: Job,
    bay: str,
    now: datetime,
    zone: ZoneInfo,
    passed: Collection[tuple[int, str]],
) -> str:
    """The sentence with the fact that decides for this job."""
    if passed:
        before, why_not = next(iter(passed))
        first = state.jobs[before].tag
        return f"{job.tag} is the first that can start: {first} stands before it, but {why_not}"
    if job.machine_down:
        return f"{job.tag} comes first: work waits for this machine"
    came = [p for p in state.parts_of(job.id) if p.received_at is not None and now - p.received_at <= JUST_CAME]
    if came and job.stage is Stage.READY:
        return f"{job.tag} can start: {came[-1].name} came {_when(came[-1].received_at or now, now, zone)}"
    late = plan.lateness.get(job.id)
    if late is not None and job.promise is not None:
        promised = f"promised for {_when(job.promise, now, zone)}"
        if late > 0:
            return f"{job.tag} comes first: {promised}, and already too late by {_hours(late)}"
        if -late < TIGHT:
            return f"{job.tag} comes first: {promised}, {_hours(-late)} of work time to spare"
    there = state.settings.bay(bay)
    where = f", and {there.name} is free" if there else ""
    return f"{job.tag} is first in your plan{where}: nothing more pressing of yours can be done now"


def _hours(slots: int) -> str:
    minutes = int(slots * SLOT / timedelta(minutes=1))
    return f"{minutes} min" if minutes < 60 else f"{minutes / 60:.0f} h" if minutes >= 600 else f"{minutes / 60:.3g} h"


def _when(moment: datetime, now: datetime, zone: ZoneInfo) -> str:
    local, today = moment.astimezone(zone), now.astimezone(zone).date()
    days = (local.date() - today).days
    if days in (-1, 0):
        return "today" if days == 0 else "yesterday"
    return f"{local:%a}" if 0 < days < 7 else f"{local.day} {local:%b}"


def _nothing(state: ShopState, passed: Collection[tuple[int, str]], skip: Collection[int]) -> str:
    if passed:
        told = ((state.jobs[job].tag, why) for job, why in list(passed)[:2])
        waits = "; ".join(why if why.startswith(tag) else f"{tag}: {why}" for tag, why in told)
        return f"nothing of yours can start now. {waits}"
    return "nothing is planned for you" + (" but what you did not want today" if skip else "")
