"""What is agreed about a job besides the sum: who pays, and whether the customer wants the old parts."""

from __future__ import annotations

from datetime import datetime

from shopboard.records import Job, Payer, Refused, ShopState, Stage, Step

from .guards import changed, moved, open_job, rule, still_open


def may_pay(state: ShopState, job: Job, now: datetime) -> None:
    """Refuses another payer for a closed job."""
    still_open(job)


@rule
def pays(state: ShopState, now: datetime, by: str, job_id: int, payer: Payer) -> Step:
    """Somebody else pays for the job from now on. A yes binds only who gave it: it is forgotten, and the new payer is
    asked; the shop itself need not be. Refused: the same payer, a closed job."""
    job = open_job(state, job_id)
    if job.payer is payer:
        raise Refused(f"{job.tag} is paid by the {payer} already", "nothing is left to do")
    asked = job.approval is not None
    stage = Stage.DIAGNOSED if job.stage is Stage.APPROVAL else job.stage
    other = moved(job, stage, now, payer=payer, approval=None)
    again = "; what was agreed no longer counts" if asked else ""
    ask = ": ask for approval anew" if asked and payer is not Payer.SHOP else ""
    return Step(f"{job.tag}: the {payer} pays, not the {job.payer}{again}{ask}.", (other,), subject=job_id)


@rule
def keep_old_parts(state: ShopState, now: datetime, by: str, job_id: int, keep: bool) -> Step:
    """The customer wants to see the old parts, or does not after all. Refused: no change, a closed job."""
    job = open_job(state, job_id)
    if job.keep_old_parts is keep:
        raise Refused(f"that is noted on {job.tag} already", "nothing is left to do")
    kept: Job = changed(job, keep_old_parts=keep)
    cores = [line.name for line in state.parts_of(job_id) if line.core] if keep else []
    owed = f" (but the supplier wants the core of {', '.join(cores)} back)" if cores else ""
    words = f"old parts are kept for the customer{owed}" if keep else "old parts need not be kept"
    return Step(f"{job.tag}: {words}.", (kept,), subject=job_id)
