"""The date promised for a job, given or changed after the intake, and whether other work waits for the machine."""

from __future__ import annotations

from datetime import datetime

from shopboard.records import Job, Refused, ShopState, Step

from . import guards
from .guards import changed, rule, still_open, today


def may_promise(state: ShopState, job: Job, now: datetime) -> None:
    """Refuses a date for a closed job."""
    still_open(job)


@rule
def promise(state: ShopState, now: datetime, by: str, job_id: int, when: datetime | None, said_to: str = "") -> Step:
    """The job is promised for this moment (None: for no day any more); `said_to` is who was told.

    Refused: a day that has gone by, a closed job.
    """
    job = guards.open_job(state, job_id)
    zone = guards.zone_of(state)
    if when is not None and when.astimezone(zone).date() < today(state, now):
        raise Refused(f"{when.astimezone(zone):%d %b %Y} has gone by", "promise today or a later day")
    told = f", {said_to.strip()} told" if said_to.strip() else ""
    words = f"promised for {when.astimezone(zone):%a %d %b}" if when is not None else "promised for no day any more"
    return Step(f"{job.tag} is {words}{told}.", (changed(job, promise=when),), subject=job_id)


@rule
def rush(state: ShopState, now: datetime, by: str, job_id: int, down: bool) -> Step:
    """Other work waits for the machine, or does so no longer. Refused: said already, a closed job."""
    job = guards.open_job(state, job_id)
    if job.machine_down is down:
        raise Refused(f"that is what stands on {job.tag} already", "nothing is left to do")
    words = "work waits for this machine" if down else "no work waits for this machine any more"
    kept: Job = changed(job, machine_down=down)
    return Step(f"{job.tag}: {words}.", (kept,), subject=job_id)
