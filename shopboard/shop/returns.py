"""What suppliers get back: old parts for their core charge, and parts that were not needed, until the credit came."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from decimal import Decimal

from shopboard.records import PartLine, Record, Refused, Return, ReturnKind, ShopState, Step, Table, tag

from . import catalogue, said
from .guards import changed, rule, today

# -- what other rules build on ----------------------------------------------------------------------------------------


def core_owed(state: ShopState, line: PartLine, now: datetime) -> Return | None:
    """What the supplier gets back once the line is fitted; None for a part without a core."""
    if not line.core:
        return None
    part = catalogue.known(state, line.number)
    days = part.core_days if part else None
    credit = None if line.core_charge is None else line.core_charge * line.quantity
    return _new(state, ReturnKind.CORE, line, line.quantity, credit, _due(state, now, days), now)


def core_sent(state: ShopState, line: PartLine, now: datetime) -> tuple[Return, ...]:
    """The open entries of the line's core, sent now."""
    return tuple(
        changed(entry, sent_at=now)
        for entry in state.returns.values()
        if entry.line == line.id and entry.kind is ReturnKind.CORE and entry.sent_at is None
    )


def goods_back(state: ShopState, line: PartLine, now: datetime) -> tuple[Record, ...]:
    """What to keep for pieces of an unfitted line that go back: into the bin they came from, or to the supplier."""
    from . import stock

    found: list[Record] = []
    bought = line.received - line.from_bin - line.stocked
    if line.from_bin:
        found.append(stock.laid(state, line.number, line.name, line.from_bin))
    if bought > 0:
        part = catalogue.known(state, line.number)
        credit = None if line.price is None else line.price * bought
        came = line.received_at or now
        due = _due(state, came, part.return_days if part else None)
        found.append(changed(_new(state, ReturnKind.PART, line, bought, credit, due, now), sent_at=now))
    return tuple(found)


def _due(state: ShopState, since: datetime, days: int | None) -> date | None:
    return None if days is None else today(state, since) + timedelta(days=days)


def _new(
    state: ShopState,
    kind: ReturnKind,
    line: PartLine,
    quantity: int,
    credit: Decimal | None,
    due: date | None,
    now: datetime,
) -> Return:
    return Return(
        id=state.next_id(Table.RETURNS),
        kind=kind,
        line=line.id,
        job=line.job,
        number=line.number,
        name=line.name,
        quantity=quantity,
        supplier=line.supplier,
        credit=credit,
        due=due,
        since=now,
    )


# -- rules ------------------------------------------------------------------------------------------------------------


def entry_of(state: ShopState, return_id: int) -> Return:
    """The entry with this number; refused if there is none."""
    entry = state.returns.get(return_id)
    if entry is None:
        raise Refused(f"there is no return number {return_id} here", "look at the list of returns again")
    return entry


def _named(entry: Return) -> str:
    old = "core of " if entry.kind is ReturnKind.CORE else ""
    whose = f"{tag(entry.job)}: " if entry.job else ""
    return f"{whose}{old}{entry.quantity} × {entry.name}"


@rule
def send(state: ShopState, now: datetime, by: str, return_id: int, reference: str = "") -> Step:
    """It is on its way to the supplier; `reference` is the paper it went with. Refused: sent already."""
    entry = entry_of(state, return_id)
    if entry.sent_at is not None:
        raise Refused(f"{_named(entry)} was sent already", "note the credit when it comes")
    gone: Return = changed(entry, sent_at=now, reference=reference)
    line = state.parts.get(entry.line)
    puts: tuple[Record, ...] = (gone,)
    if line is not None and entry.kind is ReturnKind.CORE:
        puts = (gone, changed(line, core=False))
    on = f" ({reference})" if reference else ""
    late = (
        f", {(today(state, now) - entry.due).days} d after it was due"
        if entry.due and today(state, now) > entry.due
        else ""
    )
    return Step(f"{_named(entry)} sent back{on}{late}.", puts, subject=entry.job)


@rule
def credit(state: ShopState, now: datetime, by: str, return_id: int, amount: Decimal) -> Step:
    """The supplier gave `amount` for it, nought if it refused. Refused: not sent yet, credited already, a sum that is
    none, more than was to come."""
    entry = entry_of(state, return_id)
    if entry.sent_at is None:
        raise Refused(f"{_named(entry)} is still here", "send it first")
    if entry.credited_at is not None:
        raise Refused(f"{_named(entry)} was credited already", "nothing is left to do")
    amount = said.money(amount, "the credit", state.settings)
    if entry.credit is not None and amount > entry.credit:
        most = said.sum_words(entry.credit, state.settings)
        raise Refused(
            f"{said.sum_words(amount, state.settings)} is more than the {most} to come", "read the credit note again"
        )
    done: Return = changed(entry, credited_at=now, credited=amount)
    short = ""
    if entry.credit is not None and amount < entry.credit:
        short = f", {said.sum_words(entry.credit - amount, state.settings)} less than was to come"
    return Step(
        f"{_named(entry)} credited: {said.sum_words(amount, state.settings)}{short}.", (done,), subject=entry.job
    )
