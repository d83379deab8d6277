"""What the shop remembers, put together from its records and its book; the words are in `memory_lines`."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING, Any
from zoneinfo import ZoneInfo

from shopboard import memory
from shopboard.estimate.labour import closure
from shopboard.memory.age_weights import AgeWeight
from shopboard.memory.intake_warning import warning_of
from shopboard.memory.meters import age_line
from shopboard.records import Job, Layout, PartLine, ServicePoint, ShopState

if TYPE_CHECKING:  # the trouble room brings numpy, which nothing loads before the first paint
    from shopboard.trouble import Book

#: So many components are shown with their ages, and so many of the last closed jobs are read whole: part lines and
#: rankings stand only there.
COMPONENTS, WHOLE = 8, 500
#: So many components that fail early, and of one model, are told of with their figures.
MOST = 12
#: Bands are drawn with this seed, so that a page does not flicker from one look to the next.
SEED = 412

Whole = tuple[Job, tuple[PartLine, ...]]


@dataclass(frozen=True)
class Component:
    """A component's ages on some machines, and its repeated repairs."""

    id: str
    name: str
    where: str
    ageing: memory.Ageing
    repeats: memory.Figure


@dataclass(frozen=True)
class Lead:
    """How long parts of one class take from one supplier: the day by which half and four in five are in."""

    supplier: str
    lead_class: str
    half: memory.Figure
    most: memory.Figure
    received: int
    group: str


@dataclass(frozen=True)
class MemoryPage:
    """Everything the memory says at one moment, of all models or of one."""

    at: datetime
    zone: ZoneInfo
    model: str
    name: str
    early: tuple[memory.IntakeWarning, ...]
    many_early: int
    of_model: tuple[memory.Early, ...]
    components: tuple[Component, ...]
    dues: tuple[memory.ServiceDue, ...]
    never_noted: memory.NeverNoted
    calls: tuple[memory.Call, ...]
    leads: tuple[Lead, ...]
    slower: tuple[memory.Slower, ...]
    first_right: memory.Figure
    minutes_held: memory.Figure
    came_back: memory.Figure
    by_cause: tuple[memory.CameBack, ...]
    reliability: memory.Reliability
    whole_jobs: int
    left_out: tuple[str, ...]
    names: Mapping[str, str]


def look(state: ShopState, book: Book, now: datetime, zone: ZoneInfo, *, model: str = "") -> MemoryPage:
    """The memory as it stands now; of one model (and its family's ages) if `model` is its id.

    Raises ValueError, in one line, for a model the shop does not know.
    """
    if model and model not in state.models:
        raise ValueError(f"no model {model}: there are {', '.join(sorted(state.models)) or 'none yet'}")
    found = memory.histories(state.machines.values(), state.closed.values())
    shop = shop_record(found, state, book)
    wholes = last_wholes(state)
    lines = [line for _, theirs in wholes for line in theirs] + list(state.parts.values())
    orders = memory.orders_of(lines)
    dues = service(state, book, wholes, now, zone, model)
    jobs = [each for job, _ in wholes if (each := memory.judged(job, book.covers)) is not None]
    came_back, by_cause = memory.comebacks(state.closed.values(), now, state.settings.comeback_days)
    names = {customer.id: customer.name for customer in state.customers.values()}
    return MemoryPage(
        at=now,
        zone=zone,
        model=model,
        name=state.models[model].name if model else "",
        early=tuple(warnings_of(shop, state, book, model)),
        many_early=shop.many_flagged(model),
        of_model=tuple(each for each in shop.of_model(model, MOST) if each.failures) if model else (),
        components=tuple(_components(found, state, book, model)),
        dues=dues.dues,
        never_noted=dues.never_noted,
        calls=memory.calls(dues.dues, names, now.astimezone(zone).date()),
        leads=tuple(_leads(orders, now)),
        slower=memory.slower(orders, now),
        first_right=memory.first_right(jobs),
        minutes_held=memory.minutes_held(jobs),
        came_back=came_back,
        by_cause=by_cause,
        reliability=memory.reliability(jobs),
        whole_jobs=len(wholes),
        names={id: each.name for id, each in state.models.items()},
        left_out=tuple(dict.fromkeys((*found.left_out, *dues.silent))),
    )


def shop_record(found: memory.Histories, state: ShopState, book: Book) -> memory.Record:
    """Every component on every model judged, with the layouts and names of the book."""
    names = {id: cause.name for id, cause in book.causes.items()}
    names |= {id: model.name for id, model in state.models.items()}
    return memory.record(found, {id: cause.layouts for id, cause in book.causes.items()}, names)


def warnings_for(state: ShopState, book: Book, model: str) -> tuple[memory.IntakeWarning, ...]:
    """What to say at the counter when a machine of this model comes in."""
    found = memory.histories(state.machines.values(), state.closed.values())
    return tuple(warnings_of(shop_record(found, state, book), state, book, model)) if model else ()


def weights_for(state: ShopState, book: Book, machine_id: int) -> tuple[AgeWeight, ...]:
    """The multipliers of causes for one machine at its age now; none for a machine whose age cannot be told."""
    machine = state.machines[machine_id]
    line = age_line(machine)
    if isinstance(line, str):
        return ()
    found = memory.histories(state.machines.values(), state.closed.values())
    renewed = memory.component_ages(found, machine_id, line.now)
    return memory.age_weights(shop_record(found, state, book), machine.model, line.now, renewed)


def warnings_of(shop: memory.Record, state: ShopState, book: Book, model: str) -> Iterable[memory.IntakeWarning]:
    """What to say of a model ("": of all), most certain first."""
    for early in shop.flagged(model, MOST):
        known = state.models.get(early.model)
        yield warning_of(early, _Looks(book, str(known.layout) if known else ""))


class _Looks(Mapping[str, Sequence[memory.Look]]):
    """The checks that show a cause on a layout, the most telling first, made when asked for."""

    def __init__(self, book: Book, layout: str) -> None:
        self.book, self.layout = book, layout

    def __getitem__(self, component: str) -> Sequence[memory.Look]:
        cause = self.book.causes[component]
        told = [(self._tells(check, outcomes), check) for check, outcomes in cause.answers.items()]
        told.sort(key=lambda pair: (-round(pair[0], 2), self._minutes(pair[1]), pair[1]))
        return [self._look(check) for tells, check in told if tells > 0][:3]

    def __iter__(self) -> Any:
        return iter(self.book.causes)

    def __len__(self) -> int:
        return len(self.book.causes)

    def _tells(self, check_id: str, outcomes: Mapping[str, float]) -> float:
        check = self.book.checks.get(check_id)
        if check is None or self.layout not in check.layouts or check.where == "counter":
            return 0.0
        return max((often - check.outcomes[outcome].otherwise for outcome, often in outcomes.items()), default=0.0)

    def _minutes(self, check_id: str) -> float:
        check = self.book.checks.get(check_id)
        return check.minutes_on(self.layout) if check else 0.0

    def _look(self, check_id: str) -> memory.Look:
        check = self.book.checks[check_id]
        covers = self.book.covers
        off = closure(check.covers_on(self.layout), {id: cover.under for id, cover in covers.items()})
        return memory.Look(check.id, check.name, check.minutes_on(self.layout), tuple(covers[c].name for c in off))


def _components(found: memory.Histories, state: ShopState, book: Book, model: str) -> Iterable[Component]:
    import numpy as np

    models, where = _family(state, model)
    ranked = [(_failures(found, id, models), id) for id in found.components()]
    for failures, id in sorted(ranked, key=lambda pair: (-pair[0], pair[1]))[:COMPONENTS]:
        if failures:
            lives = found.lives(id, models=models)
            ageing = memory.ageing(lives, np.random.default_rng(SEED))
            by = max(life.end for life in lives)
            again = memory.repeats(memory.repaired(found, id, models), by)
            name = book.causes[id].name if id in book.causes else id.replace("-", " ")
            yield Component(id, name, where, ageing, again)


def _failures(found: memory.Histories, component: str, models: frozenset[str] | None) -> int:
    by_machine = found.events[component].items()
    return sum(len(events) for id, events in by_machine if models is None or found.watches[id].model in models)


def _family(state: ShopState, model: str) -> tuple[frozenset[str] | None, str]:
    if not model:
        return None, "all models"
    family = state.models[model].family
    if not family:
        return frozenset({model}), state.models[model].name
    return frozenset(id for id, each in state.models.items() if each.family == family), f"family {family}"


def last_wholes(state: ShopState, most: int = WHOLE) -> tuple[Whole, ...]:
    """The last closed jobs, whole, with their part lines."""
    last = sorted(state.closed.values(), key=lambda job: (job.closed_at, job.id))[-most:]
    return tuple(whole for job in last if (whole := state.load_closed(job.id)) is not None)


def service(
    state: ShopState, book: Book, wholes: Sequence[Whole], now: datetime, zone: ZoneInfo, model: str
) -> memory.Service:
    """What falls due on the machines (of a model) that do not stand here now."""
    defaults = {layout: default_points(book, layout) for layout in map(str, Layout)}
    points = {id: memory.points_of(each, defaults[str(each.layout)]) for id, each in state.models.items()}
    if model:
        points = {model: points[model]}
    seen = _last_seen(state)
    machines = [machine for machine in state.machines.values() if seen.get(machine.id, True)]
    today = now.astimezone(zone).date()
    return memory.service_due(machines, points, _done(state, wholes), today, noted_only=True)


def _last_seen(state: ShopState) -> dict[int, bool]:
    """Machines standing here now are seen to on the Bench, and nobody rings about them."""
    return {job.machine: False for job in state.jobs.values() if not job.stage.closed}


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


def _done(state: ShopState, wholes: Sequence[Whole]) -> list[memory.Done]:
    done = []
    for job, _ in wholes:
        machine = state.machines.get(job.machine)
        line = age_line(machine) if machine else ""
        age = line.at(job.arrived, job.hours) if not isinstance(line, str) else None
        at = job.closed_at or job.since
        done += [memory.Done(job.machine, op.id, at, age) for op in job.operations if op.done]
    return done


def _leads(orders: Sequence[memory.Order], now: datetime) -> Iterable[Lead]:
    known = memory.lead_times(orders, now)
    for supplier, lead_class in sorted(known.orders):
        if supplier:
            waits = known.of(supplier, lead_class)
            half, most = waits.days_for(0.5), waits.days_for(0.8)
            yield Lead(
                supplier, lead_class, half, most, sum(w.failed for w in known.orders[supplier, lead_class]), waits.group
            )
