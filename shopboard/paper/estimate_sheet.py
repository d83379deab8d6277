"""The estimate on paper: every line that makes the sum, or the range of sums while the cause is not known."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal

from shopboard.estimate import CostRange, Estimate, if_declined, job_estimate, job_range
from shopboard.estimate.of_job import charges_of, rules_of
from shopboard.records import Job, PartLine, Payer
from shopboard.shop.kits import kit
from shopboard.shop.likely import checks, ranking

from .blocks import Block, Column, Facts, Heading, Sheet, Sign, Words, table
from .desk import Desk, chance, minutes

#: So many possibilities, and checks ahead, are told on paper; all count in the sums.
MOST_TOLD, CHECKS_AHEAD = 8, 2


def estimate_sheet(desk: Desk, number: int) -> Sheet:
    """The estimate of a job: firm where work is on it, a range over what may be wrong where none is yet."""
    job, parts = desk.job(number)
    body = _firm(desk, job, parts) if is_firm(desk, job, parts) else _open(desk, job)
    blocks = (
        Facts(desk.facts(job)),
        Heading("Complaint"),
        Words(job.complaint),
        *_findings(desk, job),
        *body,
        *_approval(desk, job),
        desk.terms(),
        Sign(("agreed up to", "name and signature", "date")),
    )
    return Sheet(f"Estimate {job.tag}", desk.state.settings.name, desk.foot(job), blocks)


def is_firm(desk: Desk, job: Job, parts: tuple[PartLine, ...]) -> bool:
    """Whether one sum can be said: the cause is found, parts are asked for, or nothing is being looked for."""
    return bool(job.findings or parts) or desk.machine(job) is None or bool(job.operations and not job.symptoms)


def sum_of(desk: Desk, job: Job) -> Estimate | CostRange | None:
    """The firm estimate, or the range while the cause is not known; None where nothing can be said."""
    parts = desk.job(job.id)[1]
    if is_firm(desk, job, parts):
        return job_estimate(desk.state.settings, job, parts, desk.graph(job))
    return open_range(desk, job)


def _findings(desk: Desk, job: Job) -> Iterator[Block]:
    if job.findings:
        yield Heading("Cause")
        for finding in job.findings:
            yield Words(desk.cause(finding))


# -- firm -------------------------------------------------------------------------------------------------------------


def _firm(desk: Desk, job: Job, parts: tuple[PartLine, ...]) -> Iterator[Block]:
    made = job_estimate(desk.state.settings, job, parts, desk.graph(job))
    yield Heading("Estimate")
    yield table(_COLUMNS, *rows_of(made), sums=tuple(sums_of(made)))
    if made.unpriced:
        yield Words(f"Not in the sum, no price yet: {', '.join(made.unpriced)}.", "strong")
    yield from _after_the_sum(desk, job, made)
    if len(made.shares) > 1:
        yield Heading("What each work comes to")
        yield Words("Covers that works share are taken off once; each bears an equal part of them.", "small")
        shares = [(share.name, f"{share.minutes:.1f} min", f"{share.amount}") for share in made.shares]
        yield table((Column("work", 8), Column("time", 2, right=True), Column("labour", 2, right=True)), *shares)


_COLUMNS = (
    Column("what", 8),
    Column("quantity", 2, right=True),
    Column("price", 2, right=True),
    Column("amount", 2, right=True),
)


def rows_of(made: Estimate) -> Iterator[tuple[str, str, str, str]]:
    """Every line as what, quantity, price and amount."""
    for line in made.lines:
        quantity = (
            minutes(float(line.quantity)) if line.unit == "min" else "" if line.price is None else f"{line.quantity}"
        )
        price = "" if line.price is None else f"{line.price}/h" if line.unit == "min" else f"{line.price}"
        paid = "" if line.payer is Payer.CUSTOMER else f" ({line.payer} pays)"
        yield f"{line.text}{paid}", quantity, price, f"{line.amount}"


def sums_of(made: Estimate) -> Iterator[tuple[str, str, str, str]]:
    """The sums under the lines, in the same four columns."""
    rules = made.rules
    for bill in made.bills:
        who = f", {bill.payer}" if len(made.bills) > 1 or bill.payer is not Payer.CUSTOMER else ""
        if rules.tax_percent and not rules.tax_included:
            yield f"before tax{who}", "", "", f"{bill.net}"
        if rules.tax_percent:
            within = " in it" if rules.tax_included else ""
            yield f"tax{within}, {rules.tax_percent} %{who}", "", "", f"{bill.tax}"
        yield f"to pay{who}, {rules.currency}", "", "", f"{bill.gross}"
    if not made.bills:
        yield f"to pay, {rules.currency}", "", "", f"{made.total}"


def _after_the_sum(desk: Desk, job: Job, made: Estimate) -> Iterator[Block]:
    charges, rules = charges_of(desk.state.settings, job), rules_of(desk.state.settings)
    if made.deposit:
        yield Words(f"Asked for ahead: {desk.money(made.deposit)}, {charges.deposit_percent} % of the sum.")
    if job.diagnostic_fee and charges.fee_credited:
        yield Words(f"The diagnostic fee of {desk.money(job.diagnostic_fee)} is taken off when the work is done here.")
    off = [desk.graph(job).covers[id] for id in job.covers_off if id in desk.graph(job).covers]
    if job.payer is Payer.CUSTOMER and (off or job.diagnostic_fee):
        bill = if_declined(sum(cover.on * cover.people for cover in off), charges, rules)
        back = f", with {', '.join(cover.name for cover in off)} put back" if off else ""
        yield Words(f"If you decide against it: {desk.money(bill.gross)}, tax with it{back}.")


# -- a range ----------------------------------------------------------------------------------------------------------


def _open(desk: Desk, job: Job) -> Iterator[Block]:
    yield Heading("What it may cost")
    found = open_range(desk, job)
    if found is None:
        yield Words("Nothing in the trouble book fits yet, so no sum can be said.")
        return
    yield Facts(
        (
            ("from", desk.money(found.low)),
            ("on average", desk.money(found.expected)),
            ("to", desk.money(found.high)),
        )
    )
    yield Words(how_sure(found))
    if found.without_parts:
        yield Words("Labour and tax only: parts have no price yet and come on top.", "strong")
    rows = [
        (one.possible.name, chance(one.possible.probability), f"{one.amount}") for one in found.possibles[:MOST_TOLD]
    ]
    yield table((Column("if it is", 8), Column("chance", 2, right=True), Column("sum", 2, right=True)), *rows)


def how_sure(found: CostRange) -> str:
    """How sure the range is, in words."""
    open_ = f" With {chance(found.unknown)} it is none of these, and we ask again." if found.unknown >= 0.005 else ""
    return f"The cause is not known yet. With {chance(found.holds)} the sum lies in this range.{open_}"


def open_range(desk: Desk, job: Job) -> CostRange | None:
    """The range of sums while the cause is not known, the next checks in it; None where nothing is likely."""
    machine = desk.machine(job)
    if machine is None or not job.symptoms:
        return None
    ranked = ranking(desk.state, job, desk.book)
    ahead = [desk.book.checks[one.check] for one in checks(desk.state, job, desk.book)[:CHECKS_AHEAD]]
    usual = {id: desk.book.corrections[cause.correction[0]] for id, cause in desk.book.causes.items()}
    prices = {id: price for id in usual if (price := parts_price(desk, job, usual[id].id)) is not None}
    return job_range(
        desk.state.settings,
        job,
        desk.graph(job),
        machine.layout.value,
        causes=ranked.causes,
        pairs=ranked.pairs,
        corrections=usual,
        checks=ahead,
        parts=prices,
    )


def parts_price(desk: Desk, job: Job, correction: str) -> Decimal | None:
    """What the parts of a correction cost by parts.toml, core charges with them; None where one has no price there."""
    found = kit(desk.state, job, correction, desk.book)
    if found.left_out or any(part.price is None for part, _ in found.parts):
        return None
    return sum(
        (((part.price or Decimal(0)) + (part.core_charge or Decimal(0))) * count for part, count in found.parts),
        Decimal(0),
    )


# -- the yes ----------------------------------------------------------------------------------------------------------


def _approval(desk: Desk, job: Job) -> Iterator[Block]:
    asked, overrun = job.approval, desk.state.settings.overrun_percent
    yield Heading("Approval")
    if asked is None or asked.given is None:
        past = f"more than {overrun} % past it" if overrun else "past it"
        yield Words(f"No work before a yes. It stops before it goes {past}, and we ask again.")
    elif asked.given:
        limit = desk.money(asked.limit if asked.limit is not None else asked.asked)
        yield Words(f"{asked.said_by} said yes to {limit}, {asked.how}, {desk.time(asked.at)}.")
    else:
        yield Words(f"{asked.said_by} said no, {asked.how}, {desk.time(asked.at)}.")
