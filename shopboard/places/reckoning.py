"""What closed jobs teach, worked out: everything once, then only what each change touches.

Works for seconds over many jobs the first time, so it runs in a process of its own (`knowledge_work`) or for a command.
"""

from __future__ import annotations

import pickle
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date, timedelta
from importlib import import_module
from typing import TYPE_CHECKING, NamedTuple

import msgspec

from shopboard import memory
from shopboard.memory.intake_warning import warning_of
from shopboard.memory.meters import age_line
from shopboard.memory.replacement import replacement
from shopboard.records import ClosedJob, Job, Layout, Machine, ServicePoint
from shopboard.shop.while_open import default_points

from .knowledge import LESSONS, Bulk, CellPage, Held, Knowledge, Lead, Lesson, Material, Row, Whole
from .memory_looks import Looks

if TYPE_CHECKING:
    pass

#: Words are judged by so many of the last closed jobs, lead times by orders of so many days back.
JUDGED, LEAD_DAYS = 2000, 730
#: Comebacks count over so many days back; a machine not seen for so many is not rung about.
BACK_DAYS, SEEN_DAYS = 730, 730
#: What falls due first is listed up to so many points.
DUES = 200
#: Sentences on what was left out that are handed on.
LEFT_OUT = 50
#: Bands are drawn with this seed, so that a page does not flicker from one look to the next.
SEED = 412
#: A failure costs so many times as much as a planned replacement, in the sentences on when to replace.
COSTS = (2.0, 5.0, 10.0)


NO_SERVICE = memory.Service((), (), memory.NeverNoted(0, 0, 0))
_NO_FIGURE = memory.Figure(said="not reckoned yet")
NOTHING_HELD = Held(
    _NO_FIGURE, _NO_FIGURE, _NO_FIGURE, (), memory.Reliability((), None, None, None, "not reckoned yet"), 0
)


class Tended(NamedTuple):
    """What is seen to when there is time: waits for parts and their figures, suppliers getting slower, what was left
    out."""

    orders: dict[tuple[str, str], tuple[memory.Wait, ...]] = {}
    figures: tuple[Lead, ...] = ()
    slower: tuple[memory.Slower, ...] = ()
    left_out: tuple[str, ...] = ()


#: Before anything was seen to.
NOT_YET = Tended()


@dataclass
class Reckoning:
    """The shop gone through once, and kept up to date by `take`."""

    material: Material
    _pages: dict[tuple[str, str], CellPage] = field(default_factory=dict)
    _dues: dict[int, memory.OfMachine] = field(default_factory=dict)
    _judged: dict[int, memory.Judged | None] = field(default_factory=dict)
    _orders: dict[int, tuple[memory.Order, ...]] = field(default_factory=dict)
    _day: date | None = None
    _leads: Tended = NOT_YET
    _service: memory.Service = NO_SERVICE
    _held: Held = NOTHING_HELD

    def __post_init__(self) -> None:
        state, book = self.material.state, self.material.book
        self._jobs: dict[int, dict[int, ClosedJob]] = {}
        for job in state.closed.values():
            self._jobs.setdefault(job.machine, {})[job.id] = job
        ids = self._jobs.keys() | state.machines.keys()
        names = {id: cause.name for id, cause in book.causes.items()}
        names |= {id: model.name for id, model in state.models.items()}
        layouts = {id: cause.layouts for id, cause in book.causes.items()}
        self.standing = memory.Standing({id: self._past(id) for id in ids}, layouts, names)
        self.looks = Looks(book)
        self._points = points_by_model(self.material)
        self._done: dict[int, dict[str, memory.Done]] = {}

    def _past(self, machine: int) -> memory.Past:
        return memory.past_of(self.material.state.machines.get(machine), self._jobs.get(machine, {}).values())

    # -- taking in ----------------------------------------------------------------------------------------------------

    def take_wholes(self, wholes: Iterable[Whole]) -> None:
        """Take in closed jobs read whole."""
        done: list[memory.Done] = []
        for job, lines in wholes:
            self._orders[job.id] = memory.orders_of(lines)
            machine = self.material.state.machines.get(job.machine)
            done += done_in(job, machine)
        for id, points in memory.last_done(done).items():
            self._done.setdefault(id, {}).update(points)
        self._dues.clear()

    def take(self, machines: Iterable[int], jobs: Iterable[int]) -> None:
        """Take in what changed: these machines, and these jobs that closed, changed or are closed no more."""
        state, touched = self.material.state, set(machines)
        for id in jobs:
            gone = [machine for machine, own in self._jobs.items() if id in own] if id not in state.closed else []
            for machine in gone:
                del self._jobs[machine][id]
            if id in state.closed:
                job = state.closed[id]
                self._jobs.setdefault(job.machine, {})[id] = job
                gone.append(job.machine)
            touched.update(gone)
            self._judged.pop(id, None)
            whole = self.material.closed.get(id)
            self._orders[id] = memory.orders_of(whole[1]) if whole else ()
        for machine in touched:
            self._renew(machine)

    def _renew(self, machine: int) -> None:
        self.standing.renew(machine, self._past(machine))
        known = self.material.state.machines.get(machine)
        wholes = (self.material.closed.get(id) for id in self._jobs.get(machine, ()))
        done = [each for whole in wholes if whole for each in done_in(whole[0], known)]
        self._done[machine] = memory.last_done(done).get(machine, {})
        self._dues.pop(machine, None)
        models = self.family(known.model)[0] if known else None
        self._pages = {key: page for key, page in self._pages.items() if key[1] and key[1] not in (models or ())}

    # -- what it says -------------------------------------------------------------------------------------------------

    def knowledge(self) -> Knowledge:
        """What the closed jobs teach as of the material's moment; service due, how words held, lead times and what was
        left out as `tend` last saw to them."""
        state, record = self.material.state, self.standing.record()
        flagged: dict[str, list[memory.IntakeWarning]] = {}
        for early in record.flagged():
            flagged.setdefault(early.model, []).append(self.warning(early))
        whole = len(self.material.closed) >= len(state.closed)
        bulk = Bulk(rows_of(record), self._service, self._leads.orders)
        return Knowledge(
            seq=state.seq,
            at=self.material.now,
            jobs=len(state.closed),
            whole=whole,
            warnings={model: tuple(each) for model, each in flagged.items()},
            shapes=memory.age_shapes(record),
            here=self._here() if whole else {},
            packed=msgspec.msgpack.encode(bulk),
            leads=self._leads.figures,
            slower=self._leads.slower,
            held=self._held,
            left_out=self._leads.left_out,
        )

    def warning(self, early: memory.Early) -> memory.IntakeWarning:
        """What to say at the counter of a model that fails early."""
        known = self.material.state.models.get(early.model)
        return warning_of(early, self.looks.on(str(known.layout) if known else ""))

    def tend(self) -> None:
        """See to what need not be there at once: service due and words held, lead times, what was left out."""
        self.tend_service()
        since = self.material.now - timedelta(days=LEAD_DAYS)
        orders = [order for theirs in self._orders.values() for order in theirs if order.ordered >= since]
        orders += [o for o in memory.orders_of(self.material.state.parts.values()) if o.ordered >= since]
        known = memory.lead_times(orders, self.material.now)
        slower = memory.slower(orders, self.material.now)
        every = list(dict.fromkeys(self.standing.left_out()))
        rest = len(every) - LEFT_OUT
        left_out = tuple(every) if rest <= 0 else (*every[:LEFT_OUT], f"and {rest} more")
        self._leads = Tended(dict(known.orders), tuple(_leads(known)), slower, left_out)

    def lesson(self, name: str) -> Lesson:
        """One of LESSONS drawn; a lesson that cannot be drawn says why and costs the others nothing."""
        module, _, function = LESSONS[name].partition(":")
        try:
            drawn = getattr(import_module(module), function)(self.material)
            return Lesson(name, pickle.dumps(drawn, protocol=5))
        except Exception as error:  # whatever one lesson trips over is told; the others are still drawn
            return Lesson(name, fault=f"{type(error).__name__}: {error}")

    def tend_service(self) -> None:
        """See to service due and to how words held, which is soon done."""
        self._service, self._held = self.service(), self._words_held()

    def _words_held(self) -> Held:
        state, now, closed = self.material.state, self.material.now, self.material.closed
        last = sorted(closed)[-JUDGED:]
        for id in last:
            if id not in self._judged:
                self._judged[id] = memory.judged(closed[id][0], self.material.book.covers)
        jobs = [each for id in last if (each := self._judged[id]) is not None]
        since = now - timedelta(days=BACK_DAYS)
        recent = [job for job in state.closed.values() if job.closed_at >= since]
        came_back, by_cause = memory.comebacks(recent, now, state.settings.comeback_days)
        return Held(
            memory.first_right(jobs),
            memory.minutes_held(jobs),
            came_back,
            by_cause,
            memory.reliability(jobs),
            len(last),
        )

    # -- service ------------------------------------------------------------------------------------------------------

    def _today(self) -> date:
        return self.material.now.astimezone(self.material.zone).date()

    def service(self, model: str = "") -> memory.Service:
        """What is due on machines (of a model) that do not stand here now and was noted before."""
        state, today = self.material.state, self._today()
        self._turn_day(today)
        here = {job.machine for job in state.jobs.values() if not job.stage.closed}
        since = self.material.now - timedelta(days=SEEN_DAYS)
        for id, machine in state.machines.items():
            if id not in self._dues and (not machine.readings or machine.readings[-1].at >= since):
                points = self._points.get(machine.model, ())
                done = self._done.get(id, {})
                self._dues[id] = memory.due_on(machine, points, done, self._fleet, today, noted_only=True)
        kept = {id: each for id, each in self._dues.items() if id in state.machines and id not in here}
        own = (each for id, each in kept.items() if model in ("", state.machines[id].model))
        return memory.service_of(own, DUES)

    def _turn_day(self, today: date) -> None:
        """What is due changes with the day, and how much machines are used is looked at once a day."""
        if today != self._day:
            self._day, self._fleet = today, memory.fleet(self.material.state.machines.values())
            self._dues.clear()

    def _here(self) -> dict[int, tuple[memory.ServiceDue, ...]]:
        """Every service point of the machines that stand here."""
        state = self.material.state
        self._turn_day(self._today())
        found: dict[int, tuple[memory.ServiceDue, ...]] = {}
        for id in {job.machine for job in state.jobs.values()} & state.machines.keys():
            machine = state.machines[id]
            points = self._points.get(machine.model, ())
            own = memory.due_on(machine, points, self._done.get(id, {}), self._fleet, self._today(), EVER)
            found[id] = tuple(sorted(own.dues, key=lambda due: (-due.used, due.point)))
        return found

    # -- one page -----------------------------------------------------------------------------------------------------

    def page(self, component: str, model: str) -> CellPage:
        """The page of one component on one model ("": on all), kept until a machine of its family changes."""
        if (component, model) not in self._pages:
            self._pages[component, model] = self._page(component, model)
        return self._pages[component, model]

    def _page(self, component: str, model: str) -> CellPage:
        import numpy as np

        state, book = self.material.state, self.material.book
        models, where = self.family(model)
        found = self.standing.of(component)
        lives = found.lives(component, models=models)
        by = max((life.end for life in lives), default=0.0)
        known = state.models.get(model)
        layout = str(known.layout) if known else ""
        early = self.standing.record().tell(component, model) if model else None
        looks = self.looks.on(layout)
        cause = book.causes.get(component)
        return CellPage(
            seq=state.seq,
            component=component,
            model=model,
            name=cause.name if cause else component.replace("-", " "),
            model_name=known.name if known else model,
            where=where,
            early=early,
            ageing=memory.ageing(lives, np.random.default_rng(SEED)),
            repeats=memory.repeats(memory.repaired(found, component, models), by),
            replace=tuple((times, replacement(lives, np.random.default_rng(SEED), 1.0, times)) for times in COSTS),
            looks=tuple(looks.get(component, ())),
            look_said=warning_of(early, looks).look_said if early else "",
        )

    def family(self, model: str) -> tuple[frozenset[str] | None, str]:
        """The models a page's ages are of (None: all), and what they are called."""
        known = self.material.state.models.get(model)
        if known is None:
            return (None, "all models") if not model else (frozenset({model}), model)
        if not known.family:
            return frozenset({model}), known.name
        same = {id for id, each in self.material.state.models.items() if each.family == known.family}
        return frozenset(same), f"family {known.family}"


#: Days within which every service point falls due sooner or later.
EVER = 36_500


def rows_of(record: memory.Record) -> tuple[Row, ...]:
    """Every component on every model, those that fail early first, then by failures."""
    order = {"act": 0, "watch": 1}
    pairs = [(c, w) for c, w in zip(record.cells, record.words, strict=True) if c.failures]
    pairs.sort(
        key=lambda p: (order.get(p[1], 2), p[0].chance(1.0) if p[1] in order else -p[0].failures, p[0].component)
    )
    return tuple(
        Row(c.component, c.model, w, c.failures, c.expected, c.hit or 0, record.machines.get(c.model, 0))
        for c, w in pairs
    )


def points_by_model(material: Material) -> dict[str, tuple[ServicePoint, ...]]:
    """The service points of every model: its own manual's, else the shop's defaults for its layout."""
    defaults = {str(layout): default_points(material.book, str(layout)) for layout in Layout}
    return {id: memory.points_of(each, defaults[str(each.layout)]) for id, each in material.state.models.items()}


def done_in(job: Job, machine: Machine | None) -> list[memory.Done]:
    """The work a closed job noted as done, with the machine's age then."""
    line = age_line(machine) if machine else ""
    age = line.at(job.arrived, job.hours) if not isinstance(line, str) else None
    return [memory.Done(job.machine, op.id, job.closed_at or job.since, age) for op in job.operations if op.done]


def _leads(known: memory.LeadTimes) -> Iterable[Lead]:
    for supplier, lead_class in sorted(known.orders):
        if supplier:
            waits = known.of(supplier, lead_class)
            received = sum(w.failed for w in known.orders[supplier, lead_class])
            yield Lead(supplier, lead_class, waits.days_for(0.5), waits.days_for(0.8), received, waits.group)
