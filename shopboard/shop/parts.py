"""Parts: needed, ordered, partly received or back-ordered, received, fitted or sent back. A line without a job is the
bin's."""

from __future__ import annotations

from datetime import date, datetime
from decimal import Decimal

from shopboard.records import Job, PartLine, PartState, Record, Refused, ShopState, Stage, Step, Supplier, Table, tag

from . import approval, catalogue, returns, said, stock
from .freeing import freed
from .guards import (
    OUTSTANDING,
    both,
    changed,
    either,
    line_of,
    moved,
    open_job,
    rule,
    standing,
    standing_job,
    still_open,
    today,
)

_ON_ORDER = (PartState.ORDERED, PartState.PARTLY_RECEIVED, PartState.BACK_ORDERED)


# -- needed -----------------------------------------------------------------------------------------------------------


def may_need(state: ShopState, job: Job, now: datetime) -> None:
    """Refuses parts for a closed job, and for one that is ready to leave."""
    still_open(job)
    if job.stage is Stage.COLLECT:
        raise Refused(f"{job.tag} is {job.stage}", "fail the road test first, if it needs a part after all")


@rule
def need(
    state: ShopState,
    now: datetime,
    by: str,
    job_id: int | None,
    number: str,
    name: str,
    quantity: int,
    *,
    supplier: str = "",
    price: Decimal | None = None,
    lead_class: str = "",
    core: bool = False,
    core_charge: Decimal | None = None,
) -> Step:
    """`quantity` pieces of a part are needed for the job, or for the bin (None). A job that was ready for a bay waits
    for parts again; one in repair stays in repair until the technician says otherwise. `price` is one piece's,
    without tax; `core` that the old part goes back to the supplier.

    What parts.toml knows of the number is filled in where it is left out; where another is sent instead, that one is
    asked for. Pieces that lie free in a bin are kept for the job, the rest stands on a line of its own.

    Refused: no number or name, a part whose serials do not fit, less than one piece, an unknown supplier, a price that
    is none, a closed job.
    """
    job = None if job_id is None else open_job(state, job_id)
    if job is not None:
        may_need(state, job, now)
    listed = catalogue.known(state, said.words(number, "the part number", "read it off the old part or the parts list"))
    if listed is None and said.blank(name) and state.catalogue:
        raise Refused(f"parts.toml has no part {number}", "type its name too, or read the number again")
    if listed is not None:
        machine = state.machines.get(job.machine) if job else None
        part = catalogue.for_machine(state, listed, machine)
        core = core or part.core_charge is not None
        supplier, lead_class = supplier or part.supplier, lead_class or part.lead_class
        price = part.price if price is None else price
        number, name, core_charge = (
            part.number,
            name if not said.blank(name) else part.name,
            core_charge or part.core_charge,
        )
    line = PartLine(
        id=state.next_id(Table.PARTS),
        job=job_id,
        number=number,
        name=said.words(name, "the part's name"),
        quantity=said.count(quantity, "the quantity"),
        supplier=_supplier(state, supplier).id if supplier else "",
        price=None if price is None else said.money(price, "the price", state.settings),
        lead_class=lead_class,
        needed_at=now,
        core=core,
        core_charge=None if core_charge is None else said.money(core_charge, "the core charge", state.settings),
    )
    instead = f", sent instead of {listed.number}" if listed and listed.number != line.number else ""
    lines = stock.kept(state, line, line.id + 1)
    puts, after = needed(job, lines, now)
    words = f"{_whose(line)} needs {_pieces(line)} ({line.number}{instead})"
    return Step(f"{words}{_kept_words(state, lines)}{after}.", puts, subject=job_id)


def needed(job: Job | None, lines: tuple[PartLine, ...], now: datetime) -> tuple[tuple[Record, ...], str]:
    """What to keep when a job needs these lines: with them the job, if it was ready for a bay; and the words."""
    if job is not None and lines and job.stage is Stage.READY:
        return (*lines, moved(job, Stage.PARTS, now)), "; it waits for parts now"
    return lines, ""


def _kept_words(state: ShopState, lines: tuple[PartLine, ...]) -> str:
    held = sum(line.reserved for line in lines)
    return f"; {held} kept for it in {stock.where(state, lines[0].number)}" if held else ""


def _supplier(state: ShopState, supplier_id: str) -> Supplier:
    supplier = state.settings.supplier(supplier_id)
    if supplier is None:
        known = either(s.id for s in state.settings.suppliers)
        raise Refused(
            f"there is no supplier {supplier_id or '(blank)'}", f"take {known}" if known else "add one to shop.toml"
        )
    return supplier


def _whose(line: PartLine) -> str:
    return "the bin" if line.job is None else tag(line.job)


def _pieces(line: PartLine) -> str:
    return f"{line.quantity} × {line.name}"


# -- on order ---------------------------------------------------------------------------------------------------------


def has_line(state: ShopState, job: Job, *wanted: PartState) -> None:
    """Refuses where the job has no line of parts in one of these states."""
    if all(line.state not in wanted for line in state.parts_of(job.id)):
        raise Refused(f"{job.tag} has no line of parts that is {either(wanted)}", "see its lines of parts")


def may_order(state: ShopState, job: Job, now: datetime) -> None:
    """Refuses ordering for a closed job, or with nothing to order but what lies in a bin for it."""
    still_open(job)
    has_line(state, job, PartState.NEEDED)
    needed = [line for line in state.parts_of(job.id) if line.state is PartState.NEEDED]
    if all(line.reserved for line in needed):
        raise Refused("what is needed lies in a bin for it", "take it there")


def may_receive(state: ShopState, job: Job, now: datetime) -> None:
    """Refuses receiving, or news of a delay, when the machine is gone or nothing is on order."""
    standing(job)
    has_line(state, job, *_ON_ORDER)


def _is(line: PartLine, *states: PartState) -> None:
    if line.state not in states:
        raise Refused(f"{line.name} for {_whose(line)} is {line.state}, not {either(states)}", _NEXT[line.state])


#: What a line in each state can still do.
_NEXT = {
    PartState.NEEDED: "order it first (the shop's own shelf can be a supplier)",
    PartState.ORDERED: "receive it when it comes",
    PartState.PARTLY_RECEIVED: "receive the rest when it comes",
    PartState.BACK_ORDERED: "receive it when it comes",
    PartState.RECEIVED: "fit it or send it back",
    PartState.FITTED: "ask for another line if one more is needed",
    PartState.RETURNED: "ask for another line if it is needed after all",
}


def _expected(state: ShopState, expected: date | None, now: datetime) -> date | None:
    if expected is not None and expected < today(state, now):
        raise Refused(f"the expected date {expected} is in the past", "ask the supplier for a date, or leave it open")
    return expected


@rule
def order(
    state: ShopState,
    now: datetime,
    by: str,
    line_ids: tuple[int, ...],
    supplier: str,
    expected: date | None = None,
    reference: str = "",
) -> Step:
    """The lines are ordered together; `expected` is the supplier's own date, None if it gave none.

    Refused: no line, one that is not waiting to be ordered, an unknown supplier, a date in the past, a closed job.
    """
    lines = [line_of(state, line_id) for line_id in dict.fromkeys(line_ids)]
    if not lines:
        raise Refused("no line is picked", "pick the lines to order")
    for line in lines:
        _open(state, line)
        _is(line, PartState.NEEDED)
        if line.reserved:
            raise Refused(
                f"{_pieces(line)} lies in {stock.where(state, line.number)} for {_whose(line)}", "take it there"
            )
    sender = _supplier(state, supplier)
    ordered = tuple(
        changed(
            line,
            state=PartState.ORDERED,
            supplier=sender.id,
            expected=_expected(state, expected, now),
            order_reference=reference,
            ordered_at=now,
        )
        for line in lines
    )
    what = both(f"{_pieces(line)} for {_whose(line)}" for line in lines)
    when = f", expected {expected}" if expected else ", no date given"
    jobs = {line.job for line in lines}
    return Step(
        f"Ordered from {sender.name}: {what}{when}{f' ({reference})' if reference else ''}.",
        ordered,
        subject=jobs.pop() if len(jobs) == 1 else None,
    )


def _open(state: ShopState, line: PartLine) -> Job | None:
    """The open job of the line, None for the bin's; a closed job is refused."""
    return None if line.job is None else open_job(state, line.job)


@rule
def back_order(
    state: ShopState, now: datetime, by: str, line_id: int, expected: date | None, quantity: int | None = None
) -> Step:
    """The supplier cannot send now and names a new date, or none. With `quantity` only so many pieces are put off: they
    stand on a line of their own, and the rest comes as it was to come.

    Refused: not on order, a date in the past, more pieces than are still to come.
    """
    line = line_of(state, line_id)
    _standing(state, line)
    _is(line, *_ON_ORDER)
    day = _expected(state, expected, now)
    when = f"expected {day}" if day else "no date given"
    if quantity is not None and said.count(quantity, "the quantity put off") != line.missing:
        rest, off = _split(state, line, quantity, now)
        late: PartLine = changed(off, state=PartState.BACK_ORDERED, back_ordered_at=now, expected=day)
        words = f"{_whose(line)}: {_pieces(late)} back-ordered, {when}; {_pieces(rest)} {_still(rest)}."
        return Step(words, (rest, late), subject=line.job)
    late = changed(line, state=PartState.BACK_ORDERED, back_ordered_at=now, expected=day)
    return Step(f"{_whose(line)}: {_pieces(line)} back-ordered, {when}.", (late,), subject=line.job)


def _split(state: ShopState, line: PartLine, quantity: int, now: datetime) -> tuple[PartLine, PartLine]:
    """The line without so many of the pieces still to come, and these on a line of their own."""
    if quantity > line.missing:
        raise Refused(
            f"{quantity} × {line.name} is more than the {line.missing} still to come", "put off those, or fewer"
        )
    if quantity == line.quantity:
        raise Refused(f"the line has no more than {_pieces(line)}", "it stands on a line of its own already")
    left = line.quantity - quantity
    rest: PartLine = changed(line, quantity=left)
    if line.state is not PartState.NEEDED and line.received == left:
        rest = changed(rest, state=PartState.RECEIVED, received_at=now)
    off: PartLine = changed(line, id=state.next_id(Table.PARTS), quantity=quantity, received=0, from_bin=0, reserved=0)
    return rest, off


def _still(line: PartLine) -> str:
    return "is here" if line.state is PartState.RECEIVED else f"{line.state} as before"


@rule
def split(state: ShopState, now: datetime, by: str, line_id: int, quantity: int) -> Step:
    """So many of the pieces still to come stand on a line of their own from now on, to be ordered or put off apart.

    Refused: nothing still to come, pieces kept in a bin, as many as the line has, more than are still to come.
    """
    line = line_of(state, line_id)
    _standing(state, line)
    _is(line, PartState.NEEDED, *_ON_ORDER)
    if line.reserved:
        raise Refused(f"{_pieces(line)} is kept in {stock.where(state, line.number)}", "give it up there first")
    rest, off = _split(state, line, said.count(quantity, "the quantity"), now)
    off = changed(off, state=PartState.ORDERED if off.state is PartState.PARTLY_RECEIVED else off.state)
    return Step(
        f"{_whose(line)}: {_pieces(line)} split into {_pieces(rest)} and {_pieces(off)}.",
        (rest, off),
        subject=line.job,
    )


def _standing(state: ShopState, line: PartLine) -> Job | None:
    """The job of the line whose machine is still here, None for the bin's; a job that is gone is refused."""
    return None if line.job is None else standing_job(state, line.job)


@rule
def receive(state: ShopState, now: datetime, by: str, line_id: int, quantity: int) -> Step:
    """Pieces of the line came. When the last missing piece is here, a job waiting for parts is ready for a bay.

    Refused: not on order, less than one piece, more than are still to come.
    """
    line = line_of(state, line_id)
    job = _standing(state, line)
    _is(line, *_ON_ORDER)
    said.count(quantity, "the quantity received")
    if quantity > line.missing:
        raise Refused(
            f"{quantity} × {line.name} is more than the {line.missing} still to come",
            "receive those, and put the rest on a line of its own",
        )
    count = line.received + quantity
    came: PartLine = changed(line, received=count, state=PartState.PARTLY_RECEIVED)
    if count == line.quantity:
        came = changed(line, received=count, state=PartState.RECEIVED, received_at=now)
    of = f"{quantity}" if quantity == line.quantity else f"{quantity} (now {count} of {line.quantity})"
    if line.job is None:
        entry = stock.laid(state, line.number, line.name, quantity)
        came = changed(came, stocked=line.stocked + quantity)
        there = f", {entry.quantity} in {f'bin {entry.bin}' if entry.bin else 'it'} now"
        return Step(f"{_whose(line)}: received {of} × {line.name}{there}.", (came, entry))
    puts, after = freed(state, job, came, now)
    return Step(f"{_whose(line)}: received {of} × {line.name}{after}.", puts, subject=line.job)


# -- fitted or sent back ----------------------------------------------------------------------------------------------


def may_fit(state: ShopState, job: Job, now: datetime) -> None:
    """Refuses fitting outside repair, past the yes, or with nothing to fit."""
    still_open(job)
    if job.stage is not Stage.REPAIR:
        raise Refused(f"{job.tag} is {job.stage}: parts are fitted in repair", "start the repair first")
    approval.covered(state, job)
    has_line(state, job, PartState.RECEIVED)


@rule
def fit(state: ShopState, now: datetime, by: str, line_id: int) -> Step:
    """The part is fitted. Refused: not received whole, a job not in repair or past its yes, a line of the bin."""
    line = line_of(state, line_id)
    job = _open(state, line)
    if job is None:
        raise Refused(f"{line.name} lies in the bin for no job", "ask for it on the job that gets it")
    _is(line, PartState.RECEIVED)
    may_fit(state, job, now)
    fitted: PartLine = changed(line, state=PartState.FITTED)
    core = "; the old one goes back to the supplier" if line.core else ""
    keep = "; the customer wants to see the old one" if job.keep_old_parts else ""
    owed = returns.core_owed(state, line, now)
    when = f" by {owed.due}" if owed and owed.due else ""
    puts: tuple[Record, ...] = (fitted, owed) if owed else (fitted,)
    return Step(f"{job.tag}: {_pieces(line)} fitted{core}{when}{keep}.", puts, subject=line.job)


def may_send_back(state: ShopState, job: Job, now: datetime) -> None:
    """Refuses sending back when the machine is gone, or no line and no core is left to send."""
    standing(job)
    if not any(line.state is PartState.FITTED and line.core for line in state.parts_of(job.id)):
        has_line(state, job, *OUTSTANDING, PartState.RECEIVED)


@rule
def send_back(state: ShopState, now: datetime, by: str, line_id: int) -> Step:
    """The line is not needed: what came goes back, what is on order is cancelled, what was only needed is struck out.
    For a fitted line with a core it is the old part that goes back.

    Refused: sent back already, fitted with no core owed, a job that is gone.
    """
    line = line_of(state, line_id)
    job = _standing(state, line)
    if line.state is PartState.FITTED and line.core:
        sent: PartLine = changed(line, core=False, note=_noted(line.note, "core sent back"))
        gone = returns.core_sent(state, line, now)
        return Step(f"{_whose(line)}: core of {line.name} sent back.", (sent, *gone), subject=line.job)
    _is(line, *OUTSTANDING, PartState.RECEIVED)
    back: PartLine = changed(line, state=PartState.RETURNED, reserved=0)
    puts, after = freed(state, job, back, now)
    puts += returns.goods_back(state, line, now)
    return Step(f"{_whose(line)}: {_pieces(line)} {_how_back(line)}{after}.", puts, subject=line.job)


def _how_back(line: PartLine) -> str:
    if line.from_bin:
        return "laid back into the bin"
    if line.state is PartState.NEEDED:
        return "not needed after all"
    return f"sent back ({line.received} had come)" if line.received else "order cancelled"


def _noted(note: str, more: str) -> str:
    return f"{note}; {more}" if note else more
