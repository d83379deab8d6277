"""What is agreed about a job besides the sum: who pays, what the machine is worth, and whether the customer wants the
old parts."""

from __future__ import annotations

import re
from datetime import datetime
from decimal import Decimal

from shopboard.records import Job, Machine, Payer, Refused, ShopState, Stage, Step

from . import said
from .guards import changed, machine_of, moved, open_job, rule, still_open

#: From here on the work goes by what its payer agreed to.
_UNDER_WAY = (Stage.REPAIR, Stage.ROAD_TEST, Stage.COLLECT)


def may_pay(state: ShopState, job: Job, now: datetime) -> None:
    """Refuses another payer for a closed job, and once the repair has begun on the present one's word."""
    still_open(job)
    if job.stage in _UNDER_WAY:
        raise Refused(
            f"the work on {job.tag} goes by what the {job.payer} agreed to",
            "say who pays before the repair begins; what is settled otherwise is noted at collecting",
        )


@rule
def pays(state: ShopState, now: datetime, by: str, job_id: int, payer: Payer) -> Step:
    """Somebody else pays for the job from now on. A yes binds only who gave it: it is forgotten, and the new payer is
    asked; the shop itself need not be. Refused: the same payer, a closed job, a repair that has begun."""
    job = open_job(state, job_id)
    may_pay(state, job, now)
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


def worth_of(machine: Machine) -> tuple[Decimal | None, Decimal | None]:
    """What the machine is worth mended, and as it stands; None for what nobody has said. Kept as "2400 / 300"; a value
    in other words tells no sum."""
    mended, _, standing = machine.value.partition("/")
    return _sum(mended), _sum(standing)


def _sum(text: str) -> Decimal | None:
    found = re.fullmatch(r"\s*([0-9]{1,3}(?:,[0-9]{3})+|[0-9]{1,9})(\.[0-9]{1,3})?\s*", text)
    return Decimal(found[1].replace(",", "") + (found[2] or "")) if found else None


@rule
def worth(
    state: ShopState, now: datetime, by: str, job_id: int, mended: Decimal, standing: Decimal | None = None
) -> Step:
    """What the job's machine is worth once it is mended, and as it stands (None: nobody has said). Refused: a sum that
    is none, a closed job."""
    job = open_job(state, job_id)
    machine = machine_of(state, job)
    sums = [said.money(mended, "the worth mended", state.settings)]
    sums += [] if standing is None else [said.money(standing, "the worth as it stands", state.settings)]
    valued: Machine = changed(machine, value=" / ".join(map(str, sums)))
    words = said.sum_words(sums[0], state.settings)
    as_is = f", {said.sum_words(sums[1], state.settings)} as it stands" if len(sums) > 1 else ""
    return Step(f"{job.tag}: the machine is worth {words} mended{as_is}.", (valued,), subject=job_id)
