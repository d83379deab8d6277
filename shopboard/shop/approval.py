"""The yes before the work: asked for with a sum, given or refused by somebody with a name."""

from __future__ import annotations

from datetime import datetime
from decimal import Decimal

from shopboard.records import Approval, Job, Note, Payer, Refused, ShopState, Stage, Step

from . import costs, said
from .guards import changed, customer_of, moved, open_job, outstanding, rule, still_open

#: Stages of finished work: a new sum is asked for without sending the job back to wait.
_FINISHED = (Stage.ROAD_TEST, Stage.COLLECT)


# -- what is agreed ---------------------------------------------------------------------------------------------------


def agreed(job: Job) -> Decimal | None:
    """The sum that somebody said yes to, also while a higher one is being asked for; None without a yes."""
    return job.approval.limit if job.approval and job.approval.given is not False else None


def allowed(state: ShopState, job: Job) -> Decimal | None:
    """The sum work may reach: what was agreed and the settings' overrun on it; None without a yes."""
    limit = agreed(job)
    return None if limit is None else limit * (1 + state.settings.overrun_percent / 100)


def known_cost(state: ShopState, job: Job) -> Decimal:
    """What the job comes to on its estimate, tax with it: work, each cover once, parts with a price, supplies.

    Unpriced parts come on top. A job with no operation counts the minutes spent since the yes.
    """
    return costs.estimate_of(state, costs.with_time_spent(job)).total


def covered(state: ShopState, job: Job, total: Decimal | None = None) -> None:
    """Refuses work that nobody said yes to, or that is known to go past the yes. The shop's own jobs need none.

    `total` is the sum to hold against the yes, by default what is known to come.
    """
    if job.payer is Payer.SHOP:
        return
    limit = allowed(state, job)
    if job.approval is None or job.approval.given is not True or limit is None:
        raise Refused(f"nobody has said yes to the work on {job.tag}", "ask for approval with the estimate")
    cost = known_cost(state, job) if total is None else total
    if cost > limit:
        sums = [said.sum_words(amount, state.settings) for amount in (cost, agreed(job) or Decimal(0))]
        raise Refused(f"{job.tag} comes to {sums[0]} and the yes was for {sums[1]}", "ask for a new yes")


# -- asking -----------------------------------------------------------------------------------------------------------


def may_ask(state: ShopState, job: Job, now: datetime) -> None:
    """Refuses asking before anybody looked at the machine, and for a closed job."""
    still_open(job)
    if job.stage is Stage.ARRIVED:
        raise Refused(f"nobody has looked at {job.tag} yet", "begin the diagnosis first")


@rule
def ask(state: ShopState, now: datetime, by: str, job_id: int, amount: Decimal) -> Step:
    """Asks for a yes to `amount`, with tax: the job waits for approval.

    No call is needed, and the job moves on at once, when the shop itself pays, when the sum is within what the
    customer lets it spend before a call, or within what was agreed already. Refused: a sum that is none or
    below the estimate, a job nobody has looked at, a closed job.
    """
    job = open_job(state, job_id)
    may_ask(state, job, now)
    amount = said.money(amount, "the estimate", state.settings)
    _enough(state, job, amount)
    words = said.sum_words(amount, state.settings)
    asked = _question(job, amount, now, by)
    without_call = _without_call(state, job, amount)
    if without_call:
        limit, said_by, how = without_call
        yes = changed(asked, given=True, limit=limit, said_by=said_by, how=how, at=now)
        return _go_on(state, job, yes, now, f"{job.tag}: {words} needs no call ({how})")
    if job.stage in _FINISHED:
        waiting: Job = changed(job, approval=asked)
    else:
        waiting = moved(job, Stage.APPROVAL, now, approval=asked)
    return Step(f"{job.tag}: approval asked for, {words}.", (waiting,), subject=job_id)


def _enough(state: ShopState, job: Job, amount: Decimal) -> None:
    """Refuses asking for a sum that, even with the overrun, would not let the work begin."""
    cost = known_cost(state, job)
    if job.payer is not Payer.SHOP and amount * (1 + state.settings.overrun_percent / 100) < cost:
        asked, comes_to = (said.sum_words(sum_, state.settings) for sum_ in (amount, cost))
        raise Refused(f"{asked} is below the estimate of {comes_to}", "ask for that sum, or take work or parts off")


def _question(job: Job, amount: Decimal, now: datetime, by: str) -> Approval:
    """The question, open; an earlier yes stays on record beside it, with who said it and when."""
    if job.approval is None or agreed(job) is None:
        return Approval(asked=amount, asked_at=now, asked_by=by)
    again: Approval = changed(job.approval, asked=amount, asked_at=now, asked_by=by, given=None, calls=())
    return again


def _without_call(state: ShopState, job: Job, amount: Decimal) -> tuple[Decimal, str, str] | None:
    """The limit, who stands for it and how it was said, where no call is needed."""
    before, spend = agreed(job), job.spend_before_call
    customer = customer_of(state, job.customer).name
    if job.payer is Payer.SHOP:
        return amount, state.settings.name, "the shop pays"
    if before is not None and amount <= before:
        who = job.approval.said_by if job.approval and job.approval.said_by else customer
        return before, who, "within what was agreed"
    if spend is not None and amount <= spend:
        return spend, customer, "agreed at the counter to spend before a call"
    return None


def _go_on(state: ShopState, job: Job, yes: Approval, now: datetime, why: str) -> Step:
    """The job with its yes, where it goes from there: waiting for parts, or ready for a bay."""
    missing = outstanding(state, job)
    if job.stage in (Stage.REPAIR, *_FINISHED):
        onward, after = job.stage, ""
    elif missing:
        onward, after = Stage.PARTS, f"; waits for {len(missing)} line{'s' if len(missing) > 1 else ''} of parts"
    else:
        onward, after = Stage.READY, "; ready for a bay"
    return Step(f"{why}{after}.", (moved(job, onward, now, approval=yes),), subject=job.id)


# -- the answer -------------------------------------------------------------------------------------------------------


def may_answer(state: ShopState, job: Job, now: datetime) -> None:
    """Refuses an answer where nothing is asked."""
    _open_question(job)


def _open_question(job: Job) -> Approval:
    still_open(job)
    if job.approval is None or job.approval.given is not None:
        raise Refused(f"nothing is asked for {job.tag}", "ask for approval with the estimate")
    return job.approval


@rule
def called(state: ShopState, now: datetime, by: str, job_id: int) -> Step:
    """Somebody called for the yes and got none yet. Refused: nothing asked, a closed job."""
    job = open_job(state, job_id)
    asked = _open_question(job)
    calls = (*asked.calls, now)
    again: Job = changed(job, approval=changed(asked, calls=calls))
    return Step(f"{job.tag}: called for approval, no answer yet (call {len(calls)}).", (again,), subject=job_id)


@rule
def give(
    state: ShopState, now: datetime, by: str, job_id: int, said_by: str, how: str, limit: Decimal | None = None
) -> Step:
    """Somebody said yes, up to `limit` (the sum asked for if None): the job waits for its parts or is ready for a bay.

    Refused: nobody named, no word on how it was said, nothing asked, a sum that is none, a closed job.
    """
    job = open_job(state, job_id)
    asked = _open_question(job)
    said.words(said_by, "who said yes", "name the person")
    said.words(how, "how it was said", "say how: by phone, at the counter, in writing")
    sum_ = asked.asked if limit is None else said.money(limit, "the sum agreed", state.settings)
    yes: Approval = changed(asked, given=True, limit=sum_, said_by=said_by, how=how, at=now)
    words = said.sum_words(sum_, state.settings)
    return _go_on(
        state, job, yes, now, f"{job.tag}: {said_by} said yes to {words} ({how}){_too_little(state, job, yes)}"
    )


def _too_little(state: ShopState, job: Job, yes: Approval) -> str:
    """That the yes does not reach, so that whoever takes it can say so at once."""
    cost, limit = known_cost(state, job), allowed(state, changed(job, approval=yes))
    if job.payer is Payer.SHOP or limit is None or cost <= limit:
        return ""
    return f", below the estimate of {said.sum_words(cost, state.settings)}: no work before it is agreed or cut down"


def may_decline(state: ShopState, job: Job, now: datetime) -> None:
    """Refuses a no to work that is finished already."""
    still_open(job)
    if job.stage in _FINISHED:
        raise Refused(f"the work on {job.tag} is finished", "ask for the sum agreed, or release it on somebody's word")


@rule
def decline(state: ShopState, now: datetime, by: str, job_id: int, said_by: str, how: str, why: str) -> Step:
    """Somebody said no: the job is declined, and the machine stands here until it leaves. To pay is the diagnostic
    fee, and the time to put back what is off.

    Refused: nobody named, no word on how or why, finished work, a closed job.
    """
    job = open_job(state, job_id)
    may_decline(state, job, now)
    said.words(said_by, "who said no", "name the person")
    said.words(how, "how it was said", "say how: by phone, at the counter, in writing")
    said.words(why, "the reason", "say why, even if only “too dear”")
    sentence = f"{job.tag} declined by {said_by} ({how}): {why}"
    asked = job.approval and changed(job.approval, given=False, said_by=said_by, how=how, at=now)
    notes = job.notes if asked else (*job.notes, Note(text=sentence, at=now, by=by))
    due = costs.if_declined_here(state, job) if job.payer is Payer.CUSTOMER else None
    declined = moved(
        job, Stage.DECLINED, now, approval=asked, notes=notes, declined_why=why, closed_at=now, declined_due=due
    )
    to_pay = f" To pay: {said.sum_words(due, state.settings)}, tax with it." if due else ""
    return Step(f"{sentence}.{_put_back(job)}{to_pay}", (declined,), subject=job_id)


def _put_back(job: Job) -> str:
    return f" To put back: {', '.join(job.covers_off)}." if job.covers_off else ""
