"""The bins: what lies in them, which pieces are kept for which job, and how a line takes from them."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime

from shopboard.records import Job, PartLine, PartState, Record, Refused, ShopState, Stock, Table, tag
from shopboard.records.step import Step

from . import catalogue, said
from .freeing import freed
from .guards import changed, line_of, rule, standing_job, still_open

# -- questions --------------------------------------------------------------------------------------------------------


def bins_of(state: ShopState, number: str) -> tuple[Stock, ...]:
    """The bins that hold this number, oldest entry first; also one that is empty now."""
    return tuple(entry for entry in state.stock.values() if entry.number == number)


def lying(state: ShopState, number: str) -> int:
    """Pieces of this number in all bins together."""
    return sum(entry.quantity for entry in bins_of(state, number))


def reserved(state: ShopState, number: str) -> int:
    """Pieces of this number that are kept for jobs."""
    return sum(line.reserved for line in state.parts.values() if line.number == number)


def free(state: ShopState, number: str) -> int:
    """Pieces of this number that lie here and are kept for nobody."""
    return max(0, lying(state, number) - reserved(state, number))


def where(state: ShopState, number: str) -> str:
    """The bins a number lies in, in words."""
    names = [entry.bin or "a bin without a name" for entry in bins_of(state, number) if entry.quantity]
    return f"bin {' and '.join(names)}" if names else "no bin"


def entry_of(state: ShopState, stock_id: int) -> Stock:
    """The bin entry with this number; refused if there is none."""
    entry = state.stock.get(stock_id)
    if entry is None:
        raise Refused(f"there is no bin entry number {stock_id} here", "look at the list of the bins again")
    return entry


# -- what other rules build on ----------------------------------------------------------------------------------------


def kept(state: ShopState, line: PartLine, next_id: int) -> tuple[PartLine, ...]:
    """A new line with as many pieces kept for it as lie free; where only some do, they stand on a line of their own,
    and the rest is the second line, with the id `next_id`."""
    here = min(line.quantity, free(state, line.number)) if line.job is not None else 0
    if not here:
        return (line,)
    if here == line.quantity:
        return (changed(line, reserved=here),)
    return changed(line, quantity=here, reserved=here), changed(line, id=next_id, quantity=line.quantity - here)


def drawn(state: ShopState, number: str, quantity: int) -> Iterator[Stock]:
    """The bins with so many pieces less. Refused where fewer lie there."""
    missing = quantity - lying(state, number)
    if missing > 0:
        raise Refused(
            f"{where(state, number)} holds {missing} × {number} too few", "count the bin and say what lies there"
        )
    for entry in bins_of(state, number):
        some = min(quantity, entry.quantity)
        quantity -= some
        if some:
            yield changed(entry, quantity=entry.quantity - some)


def laid(state: ShopState, number: str, name: str, quantity: int, bin: str = "") -> Stock:
    """The bin with so many pieces more: the one named, else the one that holds the number, else where parts.toml says
    it lies."""
    listed = catalogue.known(state, number)
    there = bins_of(state, number)
    wanted = bin or (there[0].bin if there else listed.bin if listed else "")
    for entry in there:
        if entry.bin == wanted:
            more: Stock = changed(entry, quantity=entry.quantity + quantity)
            return more
    return Stock(id=state.next_id(Table.STOCK), number=number, name=name, bin=wanted, quantity=quantity)


# -- rules ------------------------------------------------------------------------------------------------------------


@rule
def lay(state: ShopState, now: datetime, by: str, number: str, quantity: int, *, name: str = "", bin: str = "") -> Step:
    """Pieces are laid into a bin. Refused: no number, less than one piece, a part that neither parts.toml nor a bin
    knows and that has no name."""
    listed = catalogue.known(state, said.words(number, "the part number", "read it off the part or the bag"))
    number = listed.number if listed else number.strip()
    known = next((entry.name for entry in bins_of(state, number)), listed.name if listed else "")
    if said.blank(name) and not known:
        raise Refused(f"nothing here knows a part {number}", "type its name too, or write it into parts.toml")
    name = name if not said.blank(name) else known
    entry = laid(state, number, name, said.count(quantity, "the quantity"), bin.strip())
    return Step(f"{quantity} × {name} ({number}) laid into {_bin(entry)}: {entry.quantity} there now.", (entry,))


@rule
def count(state: ShopState, now: datetime, by: str, stock_id: int, quantity: int) -> Step:
    """A bin was counted: so many pieces lie there, none of them lost by being written down. Refused: a count that is
    none, fewer than are kept for jobs."""
    entry = entry_of(state, stock_id)
    pieces = int(said.number(quantity, "the count", least=0, most=1_000_000))
    others = lying(state, entry.number) - entry.quantity
    promised = reserved(state, entry.number)
    if pieces + others < promised:
        keeps = [
            tag(line.job) for line in state.parts.values() if line.number == entry.number and line.reserved and line.job
        ]
        raise Refused(
            f"{promised} × {entry.name} are kept for {', '.join(keeps)}, more than {pieces + others}",
            "give some of them up first",
        )
    counted: Stock = changed(entry, quantity=pieces, counted_at=now, counted_by=by)
    was = f", {entry.quantity} were written down" if pieces != entry.quantity else ""
    return Step(f"{_bin(entry)} counted: {pieces} × {entry.name} ({entry.number}){was}.", (counted,))


def _bin(entry: Stock) -> str:
    return f"bin {entry.bin}" if entry.bin else "the bin"


def _waiting(line: PartLine) -> None:
    if line.state is not PartState.NEEDED:
        raise Refused(f"{line.name} is {line.state}, not needed", "only a line nobody ordered can take from the bin")


@rule
def reserve(state: ShopState, now: datetime, by: str, line_id: int) -> Step:
    """Pieces in the bin are kept for this line. Refused: not a job's, ordered already, kept already, too few free."""
    line = line_of(state, line_id)
    _waiting(line)
    if line.job is None:
        raise Refused(f"{line.name} is for the bin itself", "only a job keeps pieces of a bin")
    if line.reserved:
        raise Refused(f"{line.reserved} × {line.name} are kept for it already", "take them")
    here = free(state, line.number)
    if here < line.quantity:
        raise Refused(f"{here} × {line.name} lie free and {line.quantity} are needed", "order it, or split the line")
    keeps: PartLine = changed(line, reserved=line.quantity)
    return Step(
        f"{tag(line.job)}: {line.quantity} × {line.name} kept in {where(state, line.number)}.",
        (keeps,),
        subject=line.job,
    )


@rule
def release(state: ShopState, now: datetime, by: str, line_id: int) -> Step:
    """What is kept for this line lies free again. Refused: nothing is kept."""
    line = line_of(state, line_id)
    if not line.reserved:
        raise Refused(f"nothing is kept for {line.name}", "nothing is left to do")
    gone: PartLine = changed(line, reserved=0)
    whose = tag(line.job) if line.job else "the bin"
    return Step(
        f"{whose}: {line.reserved} × {line.name} given up, free in {where(state, line.number)}.",
        (gone,),
        subject=line.job,
    )


def may_take(state: ShopState, job: Job, now: datetime) -> None:
    """Refuses taking from the bins where nothing that the job needs lies there."""
    still_open(job)
    if not any(line.state is PartState.NEEDED and takable(state, line) for line in state.parts_of(job.id)):
        raise Refused(f"no bin holds a part that {job.tag} still needs", "order it")


def takable(state: ShopState, line: PartLine) -> bool:
    """Whether all pieces of the line lie here: kept for it, or free."""
    return state.lies_here(line)


@rule
def take(state: ShopState, now: datetime, by: str, line_id: int) -> Step:
    """The line's pieces are taken out of the bin: they are here, and a job that waited for nothing else is ready.

    Refused: not a job's, ordered already, fewer pieces there, a job that is gone.
    """
    line = line_of(state, line_id)
    _waiting(line)
    if line.job is None:
        raise Refused(f"{line.name} is for the bin itself", "lay it there when it comes")
    job = standing_job(state, line.job)
    here = line.reserved + free(state, line.number)
    if here < line.quantity:
        raise Refused(
            f"{here} × {line.name} lie here for it and {line.quantity} are needed", "order it, or split the line"
        )
    place = where(state, line.number)
    bins = tuple(drawn(state, line.number, line.quantity))
    came: PartLine = changed(
        line, state=PartState.RECEIVED, received=line.quantity, from_bin=line.quantity, reserved=0, received_at=now
    )
    puts, after = freed(state, job, came, now)
    all_puts: tuple[Record, ...] = (*puts, *bins)
    return Step(f"{job.tag}: {line.quantity} × {line.name} taken from {place}{after}.", all_puts, subject=line.job)


@rule
def put_away(state: ShopState, now: datetime, by: str, line_id: int, bin: str = "") -> Step:
    """A line that came for no job is laid into its bin. Refused: a job's line, not here, laid there already."""
    line = line_of(state, line_id)
    if line.job is not None:
        raise Refused(f"{line.name} came for {tag(line.job)}", "fit it there, or send it back")
    loose = line.received - line.stocked
    if loose < 1:
        raise Refused(f"nothing of {line.name} is here to put away", "receive it first, or see the bins")
    entry = laid(state, line.number, line.name, loose, bin.strip())
    stowed: PartLine = changed(line, stocked=line.received)
    return Step(
        f"{loose} × {line.name} ({line.number}) laid into {_bin(entry)}: {entry.quantity} there now.", (stowed, entry)
    )
