"""What people choose over the plan: who does a job, where and from when; and why an offered job was not taken."""

from __future__ import annotations

from datetime import datetime

from shopboard.records import Job, NotThis, Pin, Refused, ShopState, Stage, Step

from . import bays, guards, said
from .guards import changed, rule, still_open, undone

#: Of what was not taken, so many are kept with a job.
MOST_KEPT = 20
_NO_WORK = (Stage.COLLECT, Stage.COLLECTED, Stage.DECLINED)


def may_choose(state: ShopState, job: Job, now: datetime) -> None:
    """Refuses a choice for a job with no work ahead."""
    still_open(job)
    if job.stage in _NO_WORK:
        raise Refused(f"{job.tag} is {job.stage}: no work is left to plan", "nothing is left to do")


@rule
def choose(
    state: ShopState,
    now: datetime,
    by: str,
    job_id: int,
    person: str = "",
    bay: str = "",
    start: datetime | None = None,
    why: str = "",
) -> Step:
    """The job's next step is done by this person, in this bay, at this moment; what is empty is left to the plan.

    Refused: nothing chosen, nobody of that name or with that skill, no such bay or one that lacks what the work needs,
    a moment that has gone by, a job with no work left.
    """
    job = guards.open_job(state, job_id)
    may_choose(state, job, now)
    if not person and not bay and start is None:
        raise Refused("nothing is chosen", "name a person, a bay or a time")
    words = []
    if person:
        worker = guards.technician(state, person, undone(job))
        words.append(f"by {worker.name}")
    if bay:
        into = bays.bay_of(state, bay)
        missing = bays.lacks(into, job)
        if missing:
            raise Refused(missing, "choose a bay that fits")
        words.append(f"in {into.name}")
    if start is not None:
        if start < now:
            raise Refused(f"{job.tag} cannot start at a moment that has gone by", "choose a later one")
        words.append(f"at {start.astimezone(guards.zone_of(state)):%a %d %b %H:%M}")
    pin = Pin(person=person, bay=bay, start=start, at=now, by=by, why=why.strip())
    reason = f": {pin.why}" if pin.why else ""
    return Step(f"{job.tag} is planned {' '.join(words)}{reason}.", (changed(job, pin=pin),), subject=job_id)


def may_let_go(state: ShopState, job: Job, now: datetime) -> None:
    """Refuses where nothing was chosen."""
    still_open(job)
    if job.pin is None:
        raise Refused(f"nobody chose anything for {job.tag}", "nothing is left to do")


@rule
def let_go(state: ShopState, now: datetime, by: str, job_id: int) -> Step:
    """What was chosen for the job is left to the plan again. Refused where nothing was chosen, or the job is closed."""
    job = guards.open_job(state, job_id)
    may_let_go(state, job, now)
    return Step(f"{job.tag} is left to the plan again.", (changed(job, pin=None),), subject=job_id)


@rule
def not_this(state: ShopState, now: datetime, by: str, job_id: int, why: str) -> Step:
    """Whoever signs was offered the job as the next one and does not take it now. Refused: no reason, a closed job."""
    job = guards.open_job(state, job_id)
    reason = said.words(why, "the reason", "say in a word or two why not").strip()
    skipped = NotThis(by=by, at=now, why=reason)
    kept: Job = changed(job, not_this=(*job.not_this, skipped)[-MOST_KEPT:])
    return Step(f"{job.tag} not taken as the next job: {reason}.", (kept,), subject=job_id)
