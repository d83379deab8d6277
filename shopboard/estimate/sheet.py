"""The estimate: every line that makes the sum, who pays what, and what each work comes to with its fair share."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from shopboard.records import Payer

from .money import Bill, MoneyLine, MoneyRules, bills, labour_line, priced_line, split, supplies_amount, written
from .steps import Access, Plan, RoadTest, Work


@dataclass(frozen=True)
class PartWanted:
    """Pieces of one part: the price of one (None: not known yet), and the charge for its core, given back when the old
    part comes back."""

    name: str
    number: str = ""
    quantity: int = 1
    price: Decimal | None = None
    core_charge: Decimal | None = None


@dataclass(frozen=True)
class Charges:
    """What the shop charges besides work and parts. `supplies_percent` of the labour up to `supplies_most`; the
    diagnostic fee, `fee_credited` when it is taken off the bill once the work is done here; `deposit_percent` asked
    for ahead, of what the customer pays; `paid` what came already."""

    labour_rate: Decimal
    supplies_percent: Decimal = Decimal(0)
    supplies_most: Decimal | None = None
    diagnostic_fee: Decimal = Decimal(0)
    fee_credited: bool = True
    deposit_percent: Decimal = Decimal(0)
    paid: Decimal = Decimal(0)


@dataclass(frozen=True)
class FairShare:
    """What one work comes to: its own minutes and its part of the covers it shares, and the labour for both."""

    name: str
    minutes: float
    amount: Decimal


@dataclass(frozen=True)
class Estimate:
    """The whole estimate. `lines` add up to the bills; `shares` are the labour lines told by work. `unpriced` names
    parts without a price: the sum is not whole while there is one. `deposit` is asked for ahead, `due` is what is
    left for the customer to pay after what came already."""

    rules: MoneyRules
    plan: Plan
    lines: tuple[MoneyLine, ...]
    bills: tuple[Bill, ...]
    shares: tuple[FairShare, ...]
    unpriced: tuple[str, ...]
    deposit: Decimal
    due: Decimal

    @property
    def labour(self) -> Decimal:
        """All labour lines together, without tax on top."""
        return sum((line.amount for line in self.lines if line.unit == "min"), self.rules.rounded(0))

    @property
    def total(self) -> Decimal:
        """What all payers pay together, tax with it."""
        return sum((bill.gross for bill in self.bills), self.rules.rounded(0))


def make_estimate(
    plan: Plan,
    parts: Iterable[PartWanted],
    charges: Charges,
    rules: MoneyRules,
    *,
    payer: Payer = Payer.CUSTOMER,
    paid_by: Mapping[str, Payer] | None = None,
) -> Estimate:
    """The estimate of a job laid out in steps. `payer` pays; single works and parts that somebody else pays stand in
    `paid_by`, by the work's id or the part's number, covers with the work that needs them if all who do agree.

    Raises TypeError for money that is no Decimal.
    """
    parts = tuple(parts)
    lines = [
        *_labour_lines(plan, charges, rules, payer, paid_by or {}),
        *_part_lines(parts, rules, payer, paid_by or {}),
    ]
    lines += _other_lines(lines, charges, rules, payer)
    found = bills(lines, rules)
    of_customer = sum((bill.gross for bill in found if bill.payer is Payer.CUSTOMER), rules.rounded(0))
    percent = written(charges.deposit_percent) / 100
    return Estimate(
        rules=rules,
        plan=plan,
        lines=tuple(lines),
        bills=found,
        shares=_shares(plan, lines, rules),
        unpriced=tuple(part.name for part in parts if part.price is None),
        deposit=rules.rounded(Fraction(of_customer) * percent),
        due=of_customer - rules.rounded(charges.paid),
    )


def _labour_lines(
    plan: Plan, charges: Charges, rules: MoneyRules, payer: Payer, paid_by: Mapping[str, Payer]
) -> Iterable[MoneyLine]:
    for todo in plan.todo:
        crew = f", {todo.people} people" if todo.people > 1 else ""
        who = paid_by.get(todo.id, payer)
        yield labour_line("labour", f"{todo.name}{crew}", todo.billed, charges.labour_rate, rules, who)
    names = {todo.id: todo.name for todo in plan.todo}
    for one in plan.access:
        whose = {paid_by.get(user, payer) for user in one.users} or {payer}
        who = whose.pop() if len(whose) == 1 else payer
        yield labour_line("access", _access_words(plan, one, names), one.once, charges.labour_rate, rules, who)
        if one.again:
            text = f"{one.name}: on and off again for the road test"
            yield labour_line("access", text, one.again, charges.labour_rate, rules, payer)


def _access_words(plan: Plan, one: Access, names: Mapping[str, str]) -> str:
    off = any(step.kind == "off" and step.id == one.id and not step.again for step in plan.steps)
    handled = "off and on" if off else "back on"
    crew = max(step.people for step in plan.steps if step.id == one.id and step.kind in ("off", "on"))
    people = f", {crew} people" if crew > 1 else ""
    if len(one.users) < 2:
        return f"{one.name}: {handled}{people}"
    return f"{one.name}: {handled}, once for {len(one.users)} works{people}"


def _part_lines(
    parts: Iterable[PartWanted], rules: MoneyRules, payer: Payer, paid_by: Mapping[str, Payer]
) -> Iterable[MoneyLine]:
    for part in parts:
        who = paid_by.get(part.number, payer)
        words = f"{part.name} ({part.number})" if part.number else part.name
        if part.price is not None:
            yield priced_line("part", words, part.quantity, part.price, rules, who)
        if part.core_charge:
            text = f"core charge, {part.name}: given back with the old part"
            yield priced_line("core", text, part.quantity, part.core_charge, rules, who)


def _other_lines(lines: Sequence[MoneyLine], charges: Charges, rules: MoneyRules, payer: Payer) -> Iterable[MoneyLine]:
    work = sum((line.amount for line in lines if line.unit == "min"), rules.rounded(0))
    supplies = supplies_amount(work, charges.supplies_percent, charges.supplies_most, rules)
    if supplies:
        most = " at most" if charges.supplies_most is not None and supplies == charges.supplies_most else ""
        yield MoneyLine(
            "supplies", f"shop supplies, {charges.supplies_percent} % of labour{most}", supplies, payer=payer
        )
    if charges.diagnostic_fee and not charges.fee_credited:
        yield MoneyLine("fee", "diagnostic fee", rules.rounded(charges.diagnostic_fee), payer=payer)


def _shares(plan: Plan, lines: Sequence[MoneyLine], rules: MoneyRules) -> tuple[FairShare, ...]:
    minutes = plan.shares()
    labour = sum((line.amount for line in lines if line.unit == "min"), rules.rounded(0))
    weights = {id: written(share) for id, share in minutes.items() if share}
    amounts = split(labour, weights, rules) if weights and labour else {}
    names = {todo.id: todo.name for todo in plan.todo if isinstance(todo, Work | RoadTest)} | {"": "covers to put back"}
    return tuple(FairShare(names[id], share, amounts.get(id, rules.rounded(0))) for id, share in minutes.items())


def if_declined(covers_off_minutes: float, charges: Charges, rules: MoneyRules, *, already_spent: float = 0.0) -> Bill:
    """What a customer who says no pays: the diagnostic fee and putting back what is off, besides `already_spent`
    minutes agreed to (0 where the fee covers them)."""
    fee = MoneyLine("fee", "diagnostic fee", rules.rounded(charges.diagnostic_fee))
    back = labour_line(
        "access", "covers put back", covers_off_minutes + already_spent, charges.labour_rate, rules, Payer.CUSTOMER
    )
    return bills([fee, back], rules)[0]
