"""Taking a job up: into its bay, and begun, in one step."""

from __future__ import annotations

from datetime import datetime

from shopboard.records import Job, Refused, ShopState, Stage, Step

from . import bays, closures, guards, stages
from .guards import changed, moved, rule, undone


@rule
def take(state: ShopState, now: datetime, by: str, job_id: int, person: str = "", bay: str = "") -> Step:
    """The person (whoever signs, if none is named) takes the job up: the machine goes into `bay` if it is not there,
    and what comes next begins (diagnosis, repair, road test).

    Refused: as the rules for the bay and for each of these refuse; a person who is away, a bay that is down, a job in
    the person's hands already, one that nobody can work on now, a closed job.
    """
    job = guards.open_job(state, job_id)
    begun = begin(state, now, job, person or by, bay)
    name = guards.technician(state, begun.person).name
    where = f" in {bays.name_of(state, begun.bay)}" if begun.bay else ""
    return Step(f"{job.tag}: {name} takes the {_WORK[job.stage]} up{where}.", (begun,), subject=job_id)


_WORK = {
    Stage.ARRIVED: "diagnosis",
    Stage.DIAGNOSED: "diagnosis",
    Stage.READY: "repair",
    Stage.REPAIR: "repair",
    Stage.ROAD_TEST: "road test",
}


def begin(state: ShopState, now: datetime, job: Job, person: str, bay: str) -> Job:
    """The job as it stands when the person has taken it up; refused where that may not be."""
    if job.stage not in _WORK:
        raise Refused(f"{job.tag} is {job.stage}: nobody can work on it now", stages.NEXT[job.stage])
    worker = guards.technician(state, person, undone(job) if job.stage in (Stage.READY, Stage.REPAIR) else ())
    closures.here(state, now, person=worker.id)
    if job.person == worker.id and job.stage in (Stage.DIAGNOSED, Stage.REPAIR) and bay in ("", job.bay):
        raise Refused(f"{job.tag} is in the hands of {worker.name} already", "go on with it")
    if job.stage is Stage.ROAD_TEST:
        stages.may_road_test(state, job, now)
        given: Job = changed(job, person=worker.id)
        return given
    placed = _placed(state, now, job, bay)
    if job.stage in (Stage.ARRIVED, Stage.DIAGNOSED):
        return moved(placed, Stage.DIAGNOSED, now, person=worker.id)
    if job.stage is Stage.READY:
        stages.may_start_repair(state, placed, now)
    return moved(placed, Stage.REPAIR, now, person=worker.id)


def _placed(state: ShopState, now: datetime, job: Job, bay: str) -> Job:
    """The job in the bay, put there if it is not."""
    if not bay or bay == job.bay:
        return job
    closures.here(state, now, bay=bay)
    into = bays.free_bay(state, job, bay)
    placed: Job = changed(job, bay=into.id, bay_since=now)
    return placed


def can_start(state: ShopState, now: datetime, job: Job, person: str, bay: str) -> tuple[str, str]:
    """In which bay the person may take the job up now, and why not ("" if they may): the bay the plan says, else
    another that is free and fits. For a job whose next step needs none, no bay."""
    free = [other.id for other, why_not in bays.fitting(state, job) if not why_not]
    choices = [bay, *filter(None, [job.bay]), *free] if bay else [""]
    refusals = []
    for choice in dict.fromkeys(choices):
        try:
            begin(state, now, job, person, choice)
            return choice, ""
        except Refused as refused:
            refusals.append(refused.why)
    return "", refusals[0]
