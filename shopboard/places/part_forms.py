"""Questions about parts: what is needed, from whom, when it comes, how many came."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from shopboard.records import CataloguePart, Job, PartLine, PartState
from shopboard.shop import catalogue, kits, parts, stock

from .fields import Field, Option, Values, many_of, needed, read_day, read_number, reads, text_of
from .form_parts import Ready, choose, money, sum_of, words
from .lines import Line, wrapped

if TYPE_CHECKING:
    from .app import Board

#: States of a line that a supplier still owes.
OWED = (PartState.ORDERED, PartState.PARTLY_RECEIVED, PartState.BACK_ORDERED)


def suppliers(board: Board, start: str = "") -> Field:
    """Whom it is ordered from."""
    options = [Option(s.id, s.name, f"{s.usual_days} days usually") for s in board.state.settings.suppliers]
    return Field("supplier", "supplier", "choice", options=choose(options), start=start)


def need_fields(board: Board, job: Job) -> Sequence[Field]:
    """A part for this job; parts of the recorded corrections are offered."""
    wanted = []
    for finding in job.findings:
        correction = board.book.corrections.get(finding.correction)
        wanted += [Option(p.name, p.name, f"{p.quantity} needed") for p in (correction.parts if correction else ())]
    listed = [] if wanted else dict.fromkeys(part.name for part in board.state.catalogue.values())
    wanted += [Option(name, name) for name in listed]
    quantity = reads(lambda t: read_number(t, "how many"), blank=False)
    machine = board.state.machines.get(job.machine)

    def numbers(values: Values, _typed: str) -> Sequence[Option]:
        name = text_of(values, "name")
        found = [p for p in board.state.catalogue.values() if not name or p.called(name)]
        fits = [p for p in found if machine is None or p.fits(machine.model, machine.serial) is not False]
        return [Option(p.number, p.number, _listed(board, p)) for p in fits if not p.replaced_by]

    def listed_part(values: Values) -> CataloguePart | None:
        return catalogue.known(board.state, text_of(values, "number"))

    def senders(values: Values, typed: str) -> Sequence[Option]:
        part = listed_part(values)
        options = suppliers(board).options(values, typed)
        return sorted(options, key=lambda option: part is None or option.key != part.supplier)

    def price_hint(values: Values) -> str:
        part = listed_part(values)
        known = part is not None and part.price is not None
        return f"blank: {part.price}, as in parts.toml" if part and known else "such as 180 or 89.50"

    return (
        Field("name", "part", options=choose(wanted) if wanted else words(), check=needed("which part?"), eager=False,
              hint="down offers what the correction needs"),
        Field("number", "part number", options=numbers, eager=False, hint="off the old part, or the parts list",
              check=needed("its number? read it off the old part or the parts list")),
        Field("quantity", "how many", start="1", check=quantity),
        Field("supplier", "supplier", "choice", options=senders),
        replace(money(board, "price", "price each", blank=True), hint=price_hint),
    )  # fmt: skip


def _listed(board: Board, part: CataloguePart) -> str:
    """What parts.toml and the bins say of a part, in a few words."""
    free = stock.free(board.state, part.number)
    words = [f"{free} free in {stock.where(board.state, part.number)}"] if free else []
    words += [str(part.price)] if part.price is not None else []
    return ", ".join([*words, *filter(None, [part.break_words])])


def need(board: Board, job: Job, v: Values) -> Ready:
    """Request the part."""
    name, number, supplier = text_of(v, "name"), text_of(v, "number"), text_of(v, "supplier")
    quantity = whole(text_of(v, "quantity"), "how many")
    price = sum_of(board, v, "price", "price each") if text_of(v, "price") else None
    lead = lead_class(board, name)
    return lambda s, now: parts.need(
        s, now, board.who, job.id, number, name, quantity, supplier=supplier, price=price, lead_class=lead
    )


def lead_class(board: Board, name: str) -> str:
    """The lead class of a part by the name the book gives it."""
    for correction in board.book.corrections.values():
        for part in correction.parts:
            if part.name == name:
                return part.lead_class
    return ""


def whole(text: str, what: str) -> int:
    """A whole number; ValueError says what would be right."""
    number = read_number(text, what)
    if number != int(number):
        raise ValueError(f"{what}: {text} is not a whole number")
    return int(number)


def _parts_in(*states: PartState) -> Callable[[Board, Job], Sequence[Field]]:
    def fields(board: Board, job: Job) -> Sequence[Field]:
        lines = [p for p in board.state.parts_of(job.id) if p.state in states]
        options = choose([Option(str(p.id), f"{p.name} {p.number}".strip(), str(p.state)) for p in lines])
        return (Field("line", "which part", "choice", options=options, check=needed("which?")),)

    return fields


def order_fields(board: Board, supplier: str = "") -> Sequence[Field]:
    """Supplier, its date, its order number."""
    today = board.local_now().date()
    return (
        suppliers(board, supplier),
        Field("expected", "expected", hint="fri, +4, 2026-12-01; blank if no date was given",
              check=reads(lambda t: read_day(t, "expected", today))),
        Field("reference", "order number", hint="the supplier's, blank if none"),
    )  # fmt: skip


def order(board: Board, ids: tuple[int, ...], v: Values) -> Ready:
    """Order these lines together."""
    typed, today = text_of(v, "expected"), board.local_now().date()
    expected = read_day(typed, "expected", today) if typed else None
    supplier, reference = text_of(v, "supplier"), text_of(v, "reference")
    return lambda s, now: parts.order(s, now, board.who, ids, supplier, expected, reference)


def order_lines_fields(board: Board, job: Job) -> Sequence[Field]:
    """Which of the lines needed, from whom, and by when."""
    lines = [p for p in board.state.parts_of(job.id) if p.state is PartState.NEEDED]
    names = {str(p.id): f"{p.quantity} × {p.name}" for p in lines}

    def options(values: Values, _typed: str) -> Sequence[Option]:
        return [Option(id, name) for id, name in names.items()]

    pick = Field("lines", "which lines", "many", options=options, start=tuple(names))
    supplier = next((p.supplier for p in lines if p.supplier), "")
    return (pick, *order_fields(board, supplier))


def receive_fields(board: Board, job: Job) -> Sequence[Field]:
    """Which of the lines owed, and how many came."""
    base = _parts_in(*OWED)(board, job)
    count = reads(lambda t: whole(t, "how many came"))
    return (*base, Field("quantity", "how many came", hint="blank: all that was missing", check=count))


def receive(board: Board, job: Job, v: Values) -> Ready:
    """What came is here."""
    line_id = int(text_of(v, "line"))
    typed = text_of(v, "quantity")
    part = board.state.parts[line_id]
    count = whole(typed, "how many came") if typed else part.quantity - part.received
    return lambda s, now: parts.receive(s, now, board.who, line_id, count)


def back_order_fields(board: Board, job: Job) -> Sequence[Field]:
    """Which of the lines owed, the supplier's new date, and how many pieces it is about."""
    count = reads(lambda t: whole(t, "how many"))
    some = Field("quantity", "how many", hint="blank: all that is missing", check=count)
    return (*_parts_in(*OWED)(board, job), *new_date(board), some)


def new_date(board: Board) -> Sequence[Field]:
    """The supplier's new date."""
    today, hint = board.local_now().date(), "fri, +4, 2026-12-01; blank if none"
    return (Field("expected", "new date", hint=hint, check=reads(lambda t: read_day(t, "new date", today))),)


def back_order(board: Board, job: Job, v: Values) -> Ready:
    """The line comes later."""
    return put_off(board, int(text_of(v, "line")), v)


def put_off(board: Board, line_id: int, v: Values) -> Ready:
    """So many pieces of this line come later."""
    typed, some = text_of(v, "expected"), text_of(v, "quantity")
    expected = read_day(typed, "new date", board.local_now().date()) if typed else None
    count = whole(some, "how many") if some else None
    return lambda s, now: parts.back_order(s, now, board.who, line_id, expected, count)


def put_off_fields(board: Board, line: PartLine) -> Sequence[Field]:
    """The new date, and how many of the pieces it is about where there is more than one."""
    count = reads(lambda t: whole(t, "how many"), blank=False)
    hint = "fewer than all: the rest comes as before"
    some = Field("quantity", "how many come then", start=str(line.missing), hint=hint, check=count)
    return (*new_date(board), *((some,) if line.missing > 1 else ()))


def order_lines(board: Board, _job: Job, v: Values) -> Ready:
    """Order the lines ticked."""
    return order(board, tuple(int(id) for id in many_of(v, "lines")), v)


def fit_fields(board: Board, job: Job) -> Sequence[Field]:
    """Which of the parts that are here."""
    return _parts_in(PartState.RECEIVED)(board, job)


def fit(board: Board, _job: Job, v: Values) -> Ready:
    """The part is fitted."""
    line_id = int(text_of(v, "line"))
    return lambda s, now: parts.fit(s, now, board.who, line_id)


# -- kits, bins -------------------------------------------------------------------------------------------------------


def kit_fields(board: Board, job: Job) -> Sequence[Field]:
    """Which of the job's corrections; under each what would be asked for."""
    names = {f.correction: board.book.corrections[f.correction].name for f in job.findings
             if f.correction in board.book.corrections}  # fmt: skip
    options = [Option(id, name, kits.kit(board.state, job, id, board.book).words) for id, name in names.items()]
    return (Field("correction", "parts for what", "choice", options=choose(options), check=needed("which?")),)


def kit(board: Board, job: Job, v: Values) -> Ready:
    """Ask for the kit."""
    correction = text_of(v, "correction")
    return lambda s, now: kits.ask(s, now, board.who, job.id, correction, book=board.book)


def take_fields(board: Board, job: Job) -> Sequence[Field]:
    """Which of the parts that lie in a bin."""
    lines = [p for p in board.state.parts_of(job.id) if p.state is PartState.NEEDED and stock.takable(board.state, p)]
    options = choose([Option(str(p.id), f"{p.quantity} × {p.name}", stock.where(board.state, p.number)) for p in lines])
    return (Field("line", "which part", "choice", options=options, check=needed("which?")),)


def take(board: Board, _job: Job, v: Values) -> Ready:
    """Take it out of the bin."""
    line_id = int(text_of(v, "line"))
    return lambda s, now: stock.take(s, now, board.who, line_id)


def kit_question(board: Board, job: Job) -> Field:
    """Whether the parts of the correction found are asked for at once; not asked where parts.toml has none of them."""

    def found(values: Values) -> kits.Kit:
        return kits.kit(board.state, job, text_of(values, "correction"), board.book)

    def tells(values: Values, width: int) -> Sequence[Line]:
        asked_for = found(values)
        rows = wrapped(asked_for.words, width, "soft")
        return [*rows, *(row for why in asked_for.left_out for row in wrapped(f"not: {why}", width, "wait"))]

    def asked(values: Values) -> bool:
        return bool(board.state.catalogue) and bool(found(values).parts)

    answers, check = words("yes", "no"), needed("yes or no")
    return Field("kit", "ask for its parts", "choice", "", answers, check, asked, "yes", tells)
