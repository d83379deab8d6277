"""What is worth doing while a job's covers are off: service points that fall due, and cheap looks."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime, timedelta
from itertools import pairwise
from typing import TYPE_CHECKING, NamedTuple

from shopboard.estimate import Extra, Graph, WhileOpen, Work, job_plan, used_up, while_open
from shopboard.mechanics.greasing import interval, use_per_week
from shopboard.memory.meters import AgeLine, age_line
from shopboard.records import Job, Machine, Operation, Refused, ServicePoint, ShopState, Stage, Step

from . import approval, costs, history, said
from .guards import changed, open_job, rule, still_open

if TYPE_CHECKING:  # the trouble room brings numpy, which nothing loads before the first paint
    from shopboard.trouble import Book

#: Days until a machine is seen again where its own visits do not tell (common practice: spring and autumn).
NEXT_VISIT = 182.0
#: A check is a cheap look up to so many minutes of its own.
CHEAP_MINUTES = 10.0
#: So many of them are offered.
LOOKS = 4
_MONTH = 365.25 / 12


class Open(NamedTuple):
    """The covers of a job that are off or come off for it, in the order they come off, and what is worth doing."""

    covers: tuple[str, ...]
    found: WhileOpen


def open_now(state: ShopState, job: Job, book: Book, now: datetime) -> Open:
    """What the job's covers uncover and it does not do yet. Nothing where no cover comes off.

    Offered are service points used up now or before the next expected visit that these covers bring nearer, and the
    LOOKS cheap checks nobody made that save most: those take no further cover.
    """
    graph = costs.graph_here(state, job)
    off = job_plan(job, graph).covers
    due, looks = [], []
    for extra in _extras(state, job, book, graph, now):
        needed = set(graph.order(extra.work.covers, {}))
        if extra.used and needed & set(off):
            due.append(extra)
        elif not extra.used and needed <= set(off):
            looks.append((-sum(graph.covers[id].billed for id in needed), extra))
    most = [extra for _, extra in sorted(looks, key=lambda pair: pair[0])[:LOOKS]]
    return Open(off, while_open(graph, [*due, *most], off))


def _extras(state: ShopState, job: Job, book: Book, graph: Graph, now: datetime) -> Iterator[Extra]:
    machine = state.machines.get(job.machine)
    if machine is None:
        return
    have = {operation.id for operation in job.operations}
    line, done = age_line(machine), _done(state, machine)
    for point in points(state, machine, book):
        known = all(cover in graph.covers for cover in point.covers)
        if known and point.id not in have and not isinstance(line, str):
            used = _used(point, machine, line, done.get(point.id), now, _next_visit(state, machine))
            if used >= 1:
                work = Work(point.id, point.name, point.minutes, point.covers)
                yield Extra(work, used, hidden_grease=bool(point.covers) and "grease" in f"{point.id} {point.name}")
    yield from _looks(state, job, machine, book, have)


def points(state: ShopState, machine: Machine, book: Book) -> tuple[ServicePoint, ...]:
    """The machine's service points: its model's own, else the trouble book's for its layout."""
    model = state.models.get(machine.model)
    if model is not None and model.service_points:
        return model.service_points
    return default_points(book, machine.layout.value)


def default_points(book: Book, layout: str) -> tuple[ServicePoint, ...]:
    """The shop's own service points for a layout, from its trouble book."""
    return tuple(
        ServicePoint(
            id=each.id,
            name=each.name,
            normal_hours=each.normal_hours,
            severe_hours=each.severe_hours,
            months=each.months,
            covers=each.covers_on(layout),
            minutes=each.minutes_on(layout),
        )
        for each in book.service_points.values()
        if layout in each.layouts
    )


def _done(state: ShopState, machine: Machine) -> dict[str, datetime]:
    """When each operation was done last on this machine, by its id."""
    found: dict[str, datetime] = {}
    for visit in history.visits(state, machine.id):
        whole = state.load_closed(visit.id)
        for operation in whole[0].operations if whole else ():
            if operation.done:
                found[operation.id] = visit.closed_at
    return found


def _next_visit(state: ShopState, machine: Machine) -> float:
    """Days until the machine is expected again: the mean of its own gaps, or NEXT_VISIT while there are fewer than
    two."""
    arrived = sorted(visit.arrived for visit in history.visits(state, machine.id))
    gaps = [(later - earlier) / timedelta(days=1) for earlier, later in pairwise(arrived)]
    return sum(gaps) / len(gaps) if len(gaps) >= 2 else NEXT_VISIT


def _used(
    point: ServicePoint, machine: Machine, line: AgeLine, last: datetime | None, now: datetime, days: float
) -> float:
    """The share of the point's interval that is used up at the next expected visit; one never noted as done counts
    from when the machine was first watched."""
    hours = interval(point, machine.duty)
    if hours <= 0:
        return 0.0
    since_age = line.since if last is None else (line.at(last, None) or line.now)
    since_day = line.times[0] if last is None else last
    ahead = (use_per_week(machine.readings) or 0.0) * days / 7
    months = max(0.0, (now + timedelta(days=days) - since_day) / timedelta(days=1) / _MONTH)
    return used_up(max(0.0, line.now - since_age) + ahead, hours, months_since=months, months=point.months)


def _looks(state: ShopState, job: Job, machine: Machine, book: Book, have: set[str]) -> Iterator[Extra]:
    """Cheap checks behind covers that nobody made on this job."""
    model, layout = state.models.get(machine.model), machine.layout.value
    lacks, tools = (model.lacks if model else ()), state.settings.instruments
    answered = {answer.check for answer in job.answers} | have
    for check in book.checks.values():
        covers = check.covers_on(layout)
        cheap = layout in check.layouts and covers and check.minutes_on(layout) <= CHEAP_MINUTES
        able = not set(check.needs) & set(lacks) and (not check.tool or not tools or check.tool in tools)
        if cheap and able and check.where in ("yard", "bay") and check.id not in answered:
            yield Extra(Work(check.id, check.name, check.minutes_on(layout), covers), 0.0)


# -- rules ------------------------------------------------------------------------------------------------------------


def may_add(state: ShopState, job: Job, now: datetime) -> None:
    """Refuses more work once the machine is on its road test, and for a closed job."""
    still_open(job)
    if job.stage in (Stage.ROAD_TEST, Stage.COLLECT):
        raise Refused(f"{job.tag} is {job.stage}: its covers stay on", "fail the road test first, then open it")


@rule
def add(state: ShopState, now: datetime, by: str, job_id: int, ids: tuple[str, ...], *, book: Book) -> Step:
    """Service points or checks (by id) become work of the job, since its covers are off anyhow.

    Refused: none named, on the job already, neither a service point of this machine nor a check of the book, a machine
    on its road test, a closed job.
    """
    job = open_job(state, job_id)
    may_add(state, job, now)
    if not ids:
        raise Refused("nothing is picked", "pick what is worth doing while it is open")
    works = tuple(_operation(state, job, book, id) for id in dict.fromkeys(ids))
    fuller: Job = changed(job, operations=(*job.operations, *works))
    before, after = approval.known_cost(state, job), approval.known_cost(state, fuller)
    adds = said.sum_words(after - before, state.settings)
    names = ", ".join(work.name for work in works)
    return Step(f"{job.tag}, while it is open: {names}; adds {adds}{_past(state, fuller)}.", (fuller,), subject=job_id)


def _past(state: ShopState, job: Job) -> str:
    try:
        if job.approval is not None and job.approval.given:
            approval.covered(state, job)
    except Refused as refused:
        return f"; {refused.why}: {refused.would_do}"
    return ""


def _operation(state: ShopState, job: Job, book: Book, id: str) -> Operation:
    if any(operation.id == id for operation in job.operations):
        raise Refused(f"{id} is on {job.tag} already", "nothing is left to do")
    machine = state.machines.get(job.machine)
    layout = machine.layout.value if machine else ""
    point = next((p for p in points(state, machine, book) if p.id == id), None) if machine else None
    if point is not None:
        return Operation(id=point.id, name=point.name, minutes=point.minutes, covers=point.covers)
    check = book.checks.get(id)
    if check is None or layout not in check.layouts:
        raise Refused(f"{id or 'nothing'} is nothing one could do on this machine", "pick one of the list")
    return Operation(id=check.id, name=check.name, minutes=check.minutes_on(layout), covers=check.covers_on(layout))


@rule
def drop(state: ShopState, now: datetime, by: str, job_id: int, id: str) -> Step:
    """Work that was added while it was open is taken off the job again. Refused: not there, done, a finding's
    correction, a closed job."""
    job = open_job(state, job_id)
    work = next((operation for operation in job.operations if operation.id == id), None)
    if work is None:
        raise Refused(f"{id or 'nothing'} is not on {job.tag}", "pick work that is")
    if work.done:
        raise Refused(f"{work.name} is done", "what is done stays on the job")
    if any(finding.correction == id for finding in job.findings):
        raise Refused(f"{work.name} cures what was found", "take the finding back, if it proved wrong")
    less: Job = changed(job, operations=tuple(operation for operation in job.operations if operation.id != id))
    return Step(f"{job.tag}: {work.name} taken off again.", (less,), subject=job_id)
