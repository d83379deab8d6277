"""What Parts says: late and arriving first, each with what it holds up; then what must be ordered, by supplier."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from zoneinfo import ZoneInfo

from shopboard.records import Job, PartLine, PartState, ShopState, tag
from shopboard.shop import stock

from .job_words import NOT_HERE, day_words, machine_words
from .lines import BLANK, Line, Role, Span, cell, line
from .part_forms import OWED


@dataclass(frozen=True)
class Group:
    """Part lines under one heading."""

    title: str
    lines: tuple[PartLine, ...]


def after_promise(state: ShopState, part: PartLine, zone: ZoneInfo) -> bool:
    """Whether the line comes on the promised day or later, or on no day anybody knows, so that the promise is at
    risk."""
    job = state.jobs.get(part.job) if part.job is not None else None
    if job is None or job.promise is None or job.stage.closed:
        return False
    return part.expected is None or part.expected >= job.promise.astimezone(zone).date()


def groups(state: ShopState, today: date, zone: ZoneInfo) -> list[Group]:
    """Every part line that asks for something to be done, in the order one would do it."""
    lines = list(state.parts.values())
    owed = sorted((p for p in lines if p.state in OWED), key=lambda p: (p.expected or date.max, p.id))
    late = [p for p in owed if p.expected is not None and p.expected < today]
    risky = [p for p in owed if p not in late and after_promise(state, p, zone)]
    due = [p for p in owed if p.expected is not None and p.expected >= today and p not in risky]
    undated = [p for p in owed if p.expected is None and p not in risky]
    here = sorted((p for p in lines if p.state is PartState.RECEIVED), key=lambda p: p.id)
    found = [Group("late", tuple(late)), Group("comes too late for the promise", tuple(risky))]
    found += [Group("arriving", tuple(due)), Group("on order, no date", tuple(undated))]
    needed = [p for p in lines if p.state is PartState.NEEDED]
    binned = [p for p in needed if p.reserved or stock.takable(state, p)]
    found.append(Group("lies in a bin, to be taken", tuple(sorted(binned, key=lambda p: p.id))))
    needed = [p for p in needed if p not in binned]
    for supplier in sorted({p.supplier for p in needed}):
        mine = tuple(sorted((p for p in needed if p.supplier == supplier), key=lambda p: p.id))
        found.append(Group(f"to order from {_supplier(state, supplier)}", mine))
    found.append(Group("received, to be fitted", tuple(p for p in here if p.job is not None)))
    loose = tuple(p for p in here if p.job is None and p.received > p.stocked)
    found.append(Group("received for the bin, to be put away", loose))
    return [group for group in found if group.lines]


def _supplier(state: ShopState, id: str) -> str:
    supplier = state.settings.supplier(id)
    return supplier.name if supplier else id or "a supplier to be chosen"


def frees(state: ShopState, part: PartLine) -> bool:
    """Whether this line is the last its job waits for."""
    if part.job is None:
        return False
    return all(p.id == part.id for p in state.parts_of(part.job) if p.state in NOT_HERE)


def parts_lines(state: ShopState, now: datetime, zone: ZoneInfo, width: int) -> list[Line]:
    """The list of the Parts place."""
    today = now.astimezone(zone).date()
    rows: list[Line] = []
    for group in groups(state, today, zone):
        if rows:
            rows.append(BLANK)
        rows.append(line(None, (cell(group.title, width), "strong")))
        rows += [_part_line(state, part, now, zone, width) for part in group.lines]
    if not rows:
        return [line(None, ("no part is needed, on order or waiting to be fitted", "soft"))]
    return rows


def _when(state: ShopState, part: PartLine, now: datetime, zone: ZoneInfo) -> tuple[str, Role]:
    if part.state is PartState.NEEDED:
        here = part.reserved or stock.takable(state, part)
        return ("in the bin", "good") if here else ("not ordered", "wait")
    if part.state is PartState.RECEIVED:
        return "here", "good"
    if part.expected is None:
        return "no date", "wait"
    days = (now.astimezone(zone).date() - part.expected).days
    if days > 0:
        return f"{days} d late", "late"
    return day_words(datetime(part.expected.year, part.expected.month, part.expected.day, tzinfo=zone), now, zone), ""


def _part_line(state: ShopState, part: PartLine, now: datetime, zone: ZoneInfo, width: int) -> Line:
    words, role = _when(state, part, now, zone)
    job = state.jobs.get(part.job) if part.job is not None else None
    holds = f"{tag(part.job)}" if part.job is not None else "bin"
    effect = "frees it" if job and frees(state, part) and part.state in OWED else ""
    count = f"{part.received}/{part.quantity}" if part.received else f"{part.quantity}"
    fixed = 8 + 8 + 6 + 12 + 3
    room = width - fixed
    name_room = max(14, room * 3 // 5)
    what = part.name if width < 110 else f"{part.name}  {part.number}"
    after = (
        f"{_supplier(state, part.supplier)}"
        if width < 110 or job is None
        else f"{_supplier(state, part.supplier)}  {machine_words(state, job)}"
    )
    state_word = {PartState.BACK_ORDERED: "back-ord.", PartState.PARTLY_RECEIVED: "partly"}.get(part.state, "")
    spans: Sequence[Span] = (
        Span(cell(words, 12), role),
        Span(cell(count, 5, ">") + "  "),
        Span(cell(what, name_room) + " "),
        Span(cell(holds, 8)),
        Span(cell(effect or state_word, 9), "good" if effect else "wait"),
        Span(cell(after, room - name_room), "soft"),
    )
    return Line(str(part.id), tuple(spans))


def part_detail(state: ShopState, part: PartLine | None, now: datetime, zone: ZoneInfo, width: int) -> list[Line]:
    """The line under the cursor in full: number, count, price, whom to ring, which job."""
    if part is None:
        return []
    supplier = state.settings.supplier(part.supplier)
    price = f", {part.price} {state.settings.currency} each" if part.price is not None else ""
    came = f", {part.received} came" if part.received else ""
    first = f"{part.quantity} × {part.name}, number {part.number}{price}{came}, {part.state}"
    ordered = f", ordered {day_words(part.ordered_at, now, zone)} {part.order_reference}" if part.ordered_at else ""
    ring = f"{supplier.name} {supplier.phone}".strip() if supplier else "no supplier chosen"
    job = state.jobs.get(part.job) if part.job is not None else None
    for_job = holds_up(state, part, job, now, zone) if job else "for the bin"
    place = (
        f", {stock.lying(state, part.number)} in {stock.where(state, part.number)}"
        if stock.lying(state, part.number)
        else ""
    )
    rows = [line(None, (cell(first, width), "strong")), line(None, cell(f"{ring}{ordered}".rstrip(), width))]
    return [*rows, line(None, (cell(f"{for_job}{place}", width), "soft"))]


def holds_up(state: ShopState, part: PartLine, job: Job, now: datetime, zone: ZoneInfo) -> str:
    """What a line is for, and what its delay holds up: the machine, the bay it stands in, the day that was promised."""
    words = f"for {job.tag}, {machine_words(state, job)}"
    if part.state not in NOT_HERE or job.stage.closed:
        return words
    bay = state.settings.bay(job.bay)
    held = [f"blocks {bay.name}"] if bay else []
    held += [f"promised {day_words(job.promise, now, zone)}"] if job.promise else []
    held += ["the customer's work waits"] if job.machine_down else []
    return f"{words}: {', '.join(held)}" if held else words


def facts(state: ShopState, today: date) -> str:
    """Parts in one line."""
    lines = state.parts.values()
    late = sum(1 for p in lines if p.state in OWED and p.expected is not None and p.expected < today)
    on_order = sum(1 for p in lines if p.state in OWED)
    needed = sum(1 for p in lines if p.state is PartState.NEEDED)
    return f"late {late}    on order {on_order}    to order {needed}"
