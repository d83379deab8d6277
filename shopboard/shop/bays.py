"""The bays: one machine in each, one that offers what the job needs, and none kept by a machine that only waits."""

from __future__ import annotations

from datetime import datetime

from shopboard.records import Bay, Job, Refused, ShopState, Stage, Step

from . import guards
from .guards import both, changed, either, rule, standing, still_open, undone

#: Stages in which a machine has no business in a bay that it does not stand in already.
_WAITING = (Stage.APPROVAL, Stage.PARTS, Stage.COLLECT)


# -- what fits --------------------------------------------------------------------------------------------------------


def lacks(bay: Bay, job: Job) -> str:
    """What the job's work to do needs and this bay does not offer, with the work that needs it; "" if it fits."""
    for operation in undone(job):
        missing = [need for need in operation.needs if need not in bay.can]
        if missing:
            return f"{bay.name} has no {both(missing)}, which “{operation.name}” needs"
    return ""


def fitting(state: ShopState, job: Job) -> tuple[tuple[Bay, str], ...]:
    """Every bay with "" if the job may go there now, else why not, in the shop's own order."""
    return tuple((bay, _why_not(state, job, bay)) for bay in state.settings.bays)


def _why_not(state: ShopState, job: Job, bay: Bay) -> str:
    if job.bay == bay.id:
        return f"{job.tag} stands in {bay.name} already"
    return lacks(bay, job) or _full(state, bay)


def _full(state: ShopState, bay: Bay) -> str:
    there = state.job_in_bay(bay.id)
    return f"{bay.name} holds {there.tag} ({there.stage})" if there else ""


def bay_of(state: ShopState, bay_id: str) -> Bay:
    """The bay with this id; refused if there is none."""
    bay = state.settings.bay(bay_id)
    if bay is None:
        known = either(b.id for b in state.settings.bays)
        raise Refused(
            f"there is no bay {bay_id or '(blank)'} here", f"take {known}" if known else "add bays to shop.toml"
        )
    return bay


def _elsewhere(state: ShopState, job: Job) -> str:
    free = [bay.name for bay, why_not in fitting(state, job) if not why_not]
    return f"{either(free)} would do" if free else f"leave {job.tag} in the queue until a bay that fits is free"


# -- in ---------------------------------------------------------------------------------------------------------------


def has_business(job: Job) -> None:
    """Refuses a bay to a machine that only waits: the bay would stand idle."""
    still_open(job)
    if job.stage in _WAITING:
        raise Refused(f"{job.tag} is {job.stage}: a bay would stand idle", "put it in when it can be worked on")


def may_put(state: ShopState, job: Job, now: datetime) -> None:
    """Refuses while no bay is both free and fit, or the machine only waits."""
    has_business(job)
    if all(why_not for _, why_not in fitting(state, job)):
        reasons = "; ".join(why_not for _, why_not in fitting(state, job)) or "this shop has no bays"
        raise Refused(reasons, "swap with a machine that can leave, or wait in the queue")


@rule
def put(state: ShopState, now: datetime, by: str, job_id: int, bay: str, person: str = "") -> Step:
    """The machine goes into the bay, from the yard or another bay; `person`, if given, works on it.

    Refused: no such bay, one that lacks what the work needs, a full one, a machine that only waits, a person who
    cannot do the work, a closed job.
    """
    job = guards.open_job(state, job_id)
    into = free_bay(state, job, bay)
    worker = guards.technician(state, person, undone(job)) if person else None
    placed: Job = changed(job, bay=into.id, bay_since=now, person=worker.id if worker else job.person)
    who = f", {worker.name} on it" if worker else ""
    return Step(f"{job.tag} goes into {into.name}{who}.", (placed,), subject=job_id)


def free_bay(state: ShopState, job: Job, bay: str) -> Bay:
    """The bay with this id, into which the machine may go now; refused where it may not."""
    has_business(job)
    into = bay_of(state, bay)
    if job.bay == into.id:
        raise Refused(f"{job.tag} stands in {into.name} already", "nothing is left to do")
    missing = lacks(into, job)
    if missing:
        raise Refused(missing, _elsewhere(state, job))
    full = _full(state, into)
    if full:
        raise Refused(full, f"swap the two, or leave {job.tag} in the queue until {into.name} is free")
    return into


# -- out --------------------------------------------------------------------------------------------------------------


def may_leave(state: ShopState, job: Job, now: datetime) -> None:
    """Refuses for a machine that is in no bay, or being repaired there."""
    standing(job)
    if not job.bay:
        raise Refused(f"{job.tag} is in no bay", "nothing is left to do")
    if job.stage is Stage.REPAIR:
        raise Refused(
            f"{job.tag} is in repair, and repair is in a bay only", "finish it, or let it wait for parts first"
        )


@rule
def leave(state: ShopState, now: datetime, by: str, job_id: int) -> Step:
    """The machine leaves its bay for the yard. Refused: in no bay, in repair, a closed job (declined ones may)."""
    job = guards.standing_job(state, job_id)
    may_leave(state, job, now)
    return Step(f"{job.tag} ({job.stage}) leaves {name_of(state, job.bay)}.", (_out(job),), subject=job_id)


def _out(job: Job) -> Job:
    outside: Job = changed(job, bay="", bay_since=None)
    return outside


def name_of(state: ShopState, bay_id: str) -> str:
    """What people call the bay."""
    bay = state.settings.bay(bay_id)
    return bay.name if bay else bay_id


# -- swap -------------------------------------------------------------------------------------------------------------


def may_swap(state: ShopState, job: Job, now: datetime) -> None:
    """Refuses while no bay that fits holds a machine that can make room."""
    has_business(job)
    others = [bay for bay in state.settings.bays if bay.id != job.bay and not lacks(bay, job)]
    reasons = []
    for bay in others:
        there = state.job_in_bay(bay.id)
        try:
            if there:
                _makes_room(state, there, job, now)
                return
        except Refused as refused:
            reasons.append(refused.why)
    raise Refused("; ".join(reasons) or "no bay that fits holds a machine", "put it into a free bay, or wait")


@rule
def swap(state: ShopState, now: datetime, by: str, job_id: int, bay: str) -> Step:
    """The machine takes a full bay. The one in it moves to the bay this one leaves, if it fits there, else to the yard.

    Refused: no such bay, one that lacks what the work needs, an empty one, a machine in it that is in repair and has
    nowhere to go, a closed job.
    """
    job = guards.open_job(state, job_id)
    has_business(job)
    into = bay_of(state, bay)
    missing = lacks(into, job)
    if missing:
        raise Refused(missing, _elsewhere(state, job))
    there = state.job_in_bay(into.id)
    if there is None:
        raise Refused(f"nothing stands in {into.name}", "put it there")
    if there.id == job.id:
        raise Refused(f"{job.tag} stands in {into.name} already", "nothing is left to do")
    other = _makes_room(state, there, job, now)
    placed: Job = changed(job, bay=into.id, bay_since=now)
    goes = f"moves to {name_of(state, other.bay)}" if other.bay else "goes to the yard"
    return Step(f"{job.tag} takes {into.name}; {there.tag} ({there.stage}) {goes}.", (other, placed), subject=job_id)


def _makes_room(state: ShopState, there: Job, job: Job, now: datetime) -> Job:
    """The machine `there` as it stands after making room for `job`; refused if it can go nowhere."""
    left = state.settings.bay(job.bay)
    if left is not None and not lacks(left, there):
        moved: Job = changed(there, bay=left.id, bay_since=now)
        return moved
    may_leave(state, there, now)
    return _out(there)
