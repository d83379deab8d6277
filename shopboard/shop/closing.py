"""How a job ends: collected, safe and settled, or declined and gone."""

from __future__ import annotations

from datetime import datetime
from decimal import Decimal

from shopboard.records import Comeback, Job, PartLine, PartState, Refused, Settlement, ShopState, Stage, Step

from . import approval, history, said, stages
from .guards import OUTSTANDING, both, changed, moved, open_job, rule, standing, standing_job, still_open

#: The cause of a job whose trouble the book does not list; the finding's text says what it was.
OTHER = "other"


# -- collected --------------------------------------------------------------------------------------------------------


def may_collect(state: ShopState, job: Job, now: datetime) -> None:
    """Refuses a machine that is not safe, tested, whole and understood, or whose sum is still being asked for."""
    still_open(job)
    safe(job)
    stages.nothing_open(state, job)
    cause_known(job)
    approval.covered(state, job, Decimal(0))


def safe(job: Job) -> None:
    """Refuses a machine without a passed road test with interlocks and brake proved."""
    test = job.road_test
    if test is None or not test.passed:
        outcome = "failed its road test" if test else "has had no road test"
        raise Refused(f"{job.tag} {outcome}", "a machine leaves only after a passed one")
    unproved = [w for w, proved in (("interlocks", test.interlocks_proved), ("brake", test.brake_proved)) if not proved]
    if unproved:
        raise Refused(f"{both(unproved)} of {job.tag} not proved", "prove them and record the road test again")
    if job.stage is not Stage.COLLECT:
        raise Refused(f"{job.tag} is {job.stage}, not {Stage.COLLECT}", "finish it and test it again")


def cause_known(job: Job) -> None:
    """Refuses a job without a confirmed cause or, in words, another than the book's."""
    if not any(f.confirmed or (f.cause == OTHER and not said.blank(f.text)) for f in job.findings):
        raise Refused(
            f"the cause of {job.tag} is not known", "confirm the one found, or record “other” and say what it was"
        )


@rule
def collect(
    state: ShopState, now: datetime, by: str, job_id: int, total: Decimal, paid: Decimal, word_of: str = ""
) -> Step:
    """The machine leaves with its owner: `total` with tax, what of it is `paid`, and on whose word it is released if
    that is not all.

    Refused: not road tested, interlocks or brake not proved, work, covers or parts open, cause unknown, a total
    that is negative or past the yes, more paid than due, a balance on nobody's word, a closed job.
    """
    job = open_job(state, job_id)
    may_collect(state, job, now)
    total = said.money(total, "the total", state.settings)
    approval.covered(state, job, total)
    paid, balance = _settled(state, job, total, paid, word_of)
    settlement = Settlement(total=total, paid=paid, at=now, by=by, released_on_word_of=word_of if balance else "")
    gone = moved(
        job,
        Stage.COLLECTED,
        now,
        closed_at=now,
        left=now,
        bay="",
        bay_since=None,
        settlement=settlement,
        comeback=_same_trouble(state, job),
    )
    return Step(f"{job.tag} collected: {_sums(state, total, balance, word_of)}.", (gone,), subject=job_id)


def _settled(state: ShopState, job: Job, due: Decimal, paid: Decimal, word_of: str) -> tuple[Decimal, Decimal]:
    """What is paid and what stays open; refused if more is paid than due, or the balance stands on nobody's word."""
    paid = said.money(paid, "the sum paid", state.settings)
    if paid > due:
        raise Refused(f"{paid} paid is more than the {due} due for {job.tag}", "take what is due, or raise the total")
    if paid < due and said.blank(word_of):
        open_ = said.sum_words(due - paid, state.settings)
        raise Refused(f"{open_} of {job.tag} is not paid", "take the balance, or name who says it may leave unpaid")
    return paid, due - paid


def _sums(state: ShopState, due: Decimal, balance: Decimal, word_of: str) -> str:
    words = said.sum_words(due, state.settings)
    if not balance:
        return f"{words}, paid"
    return f"{words}, {said.sum_words(balance, state.settings)} of it open on the word of {word_of}"


def _same_trouble(state: ShopState, job: Job) -> Comeback | None:
    """The comeback, told whether it was the same trouble if both jobs have confirmed causes of the book."""
    if job.comeback is None or job.comeback.same is not None:
        return job.comeback
    before = next((visit for visit in history.visits(state, job.machine) if visit.id == job.comeback.of), None)
    causes = {finding.cause for finding in job.findings if finding.confirmed} - {OTHER}
    earlier = set(before.causes if before else ()) - {OTHER}
    if not causes or not earlier:
        return job.comeback
    told: Comeback = changed(job.comeback, same=bool(causes & earlier))
    return told


# -- declined and gone ------------------------------------------------------------------------------------------------


def may_machine_left(state: ShopState, job: Job, now: datetime) -> None:
    """Refuses for a job that was not declined, and while covers are off."""
    standing(job)
    if job.stage is not Stage.DECLINED:
        raise Refused(f"{job.tag} is {job.stage}, not declined", "let it be collected, or record who declined the work")
    if job.covers_off:
        raise Refused(f"{job.tag} has covers off: {both(job.covers_off)}", "put them back before it leaves")


@rule
def machine_left(
    state: ShopState, now: datetime, by: str, job_id: int, paid: Decimal = Decimal(0), word_of: str = ""
) -> Step:
    """The declined machine leaves as it is, unrepaired. The diagnostic fee, and what it took to put back what was off,
    is `paid`, or the machine is released on somebody's word. Lines of parts still open become the bin's; those never
    ordered are struck out.

    Refused: not declined, covers off, a sum neither paid nor on somebody's word, a machine that has left.
    """
    job = standing_job(state, job_id)
    may_machine_left(state, job, now)
    fee = declined_due(job)
    paid, balance = _settled(state, job, fee, paid, word_of)
    settlement = Settlement(total=fee, paid=paid, at=now, by=by, released_on_word_of=word_of if balance else "")
    gone: Job = changed(job, left=now, bay="", bay_since=None, settlement=settlement)
    lines = tuple(_to_the_bin(line, job) for line in state.parts_of(job_id) if _open_line(line))
    fee_words = f" To pay was {_sums(state, fee, balance, word_of)}." if fee else ""
    why = (
        f"{job.tag} left unrepaired after it was declined; not road tested, brake and interlocks not proved.{fee_words}"
    )
    return Step(why, (gone, *lines), subject=job_id)


def declined_due(job: Job) -> Decimal:
    """What is to pay for a declined job, tax with it: as it was when the answer was no, else the fee agreed."""
    return job.diagnostic_fee if job.declined_due is None else job.declined_due


def _open_line(line: PartLine) -> bool:
    return line.state in OUTSTANDING or line.state is PartState.RECEIVED


def _to_the_bin(line: PartLine, job: Job) -> PartLine:
    if line.state is PartState.NEEDED:
        struck: PartLine = changed(line, state=PartState.RETURNED, reserved=0)
        return struck
    note = f"came for {job.tag}, declined"
    kept: PartLine = changed(line, job=None, note=f"{line.note}; {note}" if line.note else note)
    return kept
