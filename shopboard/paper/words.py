"""Words to say: a short message for the customer, to copy or to read out. Plain text, tax always with the sum."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import date

from shopboard.estimate import CostRange, Estimate
from shopboard.records import Job, PartLine, PartState, Payer, Refused, Stage
from shopboard.shop.guards import OUTSTANDING, both

from .desk import Desk

_ON_ORDER = (PartState.ORDERED, PartState.PARTLY_RECEIVED, PartState.BACK_ORDERED)


def message(desk: Desk, number: int, found: Estimate | CostRange | None = None) -> str:
    """What to tell the customer now: ready to collect, the estimate, a late part, or how it stands. `found` is the
    estimate where it is known already. Raises Refused for a job that is over, or that never was."""
    job, parts = desk.job(number)
    if job.stage.closed:
        raise Refused(f"{job.tag} is {job.stage}", "there is nothing to tell any more")
    return f"Good day, {desk.customer(job).name}, this is {desk.state.settings.name}. {_news(desk, job, parts, found)}"


def _news(desk: Desk, job: Job, parts: tuple[PartLine, ...], found: Estimate | CostRange | None) -> str:
    machine = f"Your {desk.machine_words(job)} ({job.tag})"
    missing = tuple(line for line in parts if line.state in OUTSTANDING)
    if job.stage is Stage.COLLECT:
        return f"{machine} is mended, road tested and ready to collect.{_to_pay(desk, job, parts)}"
    if job.stage is Stage.APPROVAL or (job.approval is None and not job.stage.closed and _has_sum(job, found)):
        return f"{machine}: {_estimate(desk, job, parts, found)}"
    if job.stage is Stage.PARTS and missing:
        return f"{machine} {_waits(desk, job, missing)}"
    if job.stage is Stage.ARRIVED:
        return f"{machine} stands here and is next to be looked at. We ring you before anything is done."
    return f"{machine} is {job.stage}. We ring you when it is ready."


def _has_sum(job: Job, found: Estimate | CostRange | None) -> bool:
    return found is not None and job.stage is Stage.DIAGNOSED


def _firm(desk: Desk, job: Job, parts: tuple[PartLine, ...]) -> Estimate:
    from shopboard.estimate import job_estimate

    return job_estimate(desk.state.settings, job, parts, desk.graph(job))


def _to_pay(desk: Desk, job: Job, parts: tuple[PartLine, ...]) -> str:
    if job.payer is not Payer.CUSTOMER:
        return " There is nothing to pay for you."
    agreed = job.approval.limit if job.approval and job.approval.given else None
    total = _firm(desk, job, parts).total
    due = total if agreed is None else min(total, agreed)
    return f" It comes to {desk.money(due)}, tax with it."


def _estimate(desk: Desk, job: Job, parts: tuple[PartLine, ...], found: Estimate | CostRange | None) -> str:
    work = both(operation.name for operation in job.operations if not operation.done)
    causes = both(desk.cause(finding) for finding in job.findings)
    what = f"we found {causes}. " if causes else ""
    if isinstance(found, CostRange) and not job.findings:
        between = f"between {desk.money(found.low)} and {desk.money(found.high)}, tax with it"
        return f"we cannot be sure of the cause yet. It will most likely come to {between}. May we go on looking?"
    asked = job.approval.asked if job.approval else None
    total = asked if asked is not None else (found or _firm(desk, job, parts)).total  # type: ignore[union-attr]
    to_do = f" to {work}" if work else ""
    if job.payer is Payer.WARRANTY:
        return (
            f"{what}It needs {work or 'work'}, which we ask the warranty for. There is nothing to pay for you so far."
        )
    return f"{what}The estimate{to_do} is {desk.money(total)}, tax with it. May we go ahead? We begin when you say yes."


def _waits(desk: Desk, job: Job, missing: tuple[PartLine, ...]) -> str:
    promise = job.promise.astimezone(desk.zone).date() if job.promise else None
    return waits_words(missing, promise, desk.now.astimezone(desk.zone).date(), desk.day)


def waits_words(missing: Sequence[PartLine], promise: date | None, today: date, day: Callable[[date], str]) -> str:
    """What a machine waits for, as one says it to its owner; `day` writes a day."""
    names = both(f"{line.missing} × {line.name}" if line.missing > 1 else line.name for line in missing)
    if any(line.state not in _ON_ORDER for line in missing):
        return f"waits for {names}, which we are ordering. We ring you with a date."
    due = [line.expected for line in missing if line.expected is not None]
    if len(due) < len(missing):
        return f"waits for {names}. The supplier has given no date yet. We ring you as soon as we know more."
    if any(expected < today for expected in due):
        return (
            f"waits for {names}, which comes later than we were told. We ask the supplier and ring you with a new date."
        )
    sorry = " That is after the day we named; we are sorry." if promise is not None and max(due) >= promise else ""
    return f"waits for {names}, expected on {day(max(due))}.{sorry} We ring you when it is ready."
