"""What closed jobs teach, worked out: everything once, then only what each change touches.

Works for seconds over many jobs the first time, so it runs in a process of its own (`knowledge_work`) or for a command.
"""

from __future__ import annotations

import pickle
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import timedelta
from importlib import import_module
from typing import NamedTuple

import msgspec

from shopboard import memory
from shopboard.memory.intake_warning import warning_of
from shopboard.memory.replacement import replacement
from shopboard.records import ClosedJob

from .knowledge import LESSONS, Bulk, CellPage, Held, Knowledge, Lead, Lesson, Material, Row, Whole
from .memory_looks import Looks
from .servicing import Servicing

#: Words are judged by so many of the last closed jobs, lead times by orders of so many days back.
JUDGED, LEAD_DAYS = 2000, 730
#: Comebacks count over so many days back.
BACK_DAYS = 730
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
    _judged: dict[int, memory.Judged | None] = field(default_factory=dict)
    _orders: dict[int, tuple[memory.Order, ...]] = field(default_factory=dict)
    _leads: Tended = NOT_YET
    _service: memory.Service = NO_SERVICE
    _held: Held = NOTHING_HELD

    def __post_init__(self) -> None:
        state, book = self.material.state, self.material.book
        self.servicing = Servicing(self.material)
        self._jobs: dict[int, dict[int, ClosedJob]] = {}
        for job in state.closed.values():
            self._jobs.setdefault(job.machine, {})[job.id] = job
        ids = self._jobs.keys() | state.machines.keys()
        names = {id: cause.name for id, cause in book.causes.items()}
        names |= {id: model.name for id, model in state.models.items()}
        layouts = {id: cause.layouts for id, cause in book.causes.items()}
        self.standing = memory.Standing({id: self._past(id) for id in ids}, layouts, names)
        self.looks = Looks(book)

    def _past(self, machine: int) -> memory.Past:
        known = self.material.state.machines.get(machine)
        line = self.servicing.line(known) if known else None
        return memory.past_of(known, self._jobs.get(machine, {}).values(), line=line)

    # -- taking in ----------------------------------------------------------------------------------------------------

    def take_wholes(self, wholes: Iterable[Whole]) -> None:
        """Take in closed jobs read whole."""
        self.servicing.take(wholes)

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
            self._orders.pop(id, None)
        for machine in touched:
            self._renew(machine)

    def _renew(self, machine: int) -> None:
        self.servicing.forget(machine)
        self.standing.renew(machine, self._past(machine))
        known = self.material.state.machines.get(machine)
        wholes = (self.material.closed.get(id) for id in self._jobs.get(machine, ()))
        self.servicing.renew(machine, [whole for whole in wholes if whole])
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
            here=self.servicing.here() if whole else {},
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
        for id, (_, lines) in self.material.closed.items():
            if id not in self._orders:
                self._orders[id] = memory.orders_of(lines)
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
        self._service, self._held = self.servicing.to_ring(), self._words_held()

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


def _leads(known: memory.LeadTimes) -> Iterable[Lead]:
    for supplier, lead_class in sorted(known.orders):
        if supplier:
            waits = known.of(supplier, lead_class)
            received = sum(w.failed for w in known.orders[supplier, lead_class])
            yield Lead(supplier, lead_class, waits.days_for(0.5), waits.days_for(0.8), received, waits.group)
