"""What this shop's closed jobs teach, reckoned beside the board and kept with the change it is of.

It is worked out in a process of its own (`knowledge_work`), which holds every closed job whole; the board gets the
results only, as `board.knowledge` (None until they are there: say “not reckoned yet”, never wait for them). First comes
what the summaries of closed jobs teach (`whole` False), a moment later what they teach read whole, then the lessons.

To have something of one's own worked out there: a function `(Material) -> Any` in one's own module, whose result is
small and can be pickled, and one line in LESSONS. The board then has it as `board.knowledge.lesson(name)`. A lesson may
keep what it has read so far in `material.kept[name]` and add only the jobs in `material.fresh` the next time.
"""

from __future__ import annotations

import pickle
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from functools import cached_property
from typing import TYPE_CHECKING, Any
from zoneinfo import ZoneInfo

import msgspec

from shopboard import memory
from shopboard.memory.meters import age_line
from shopboard.records import Job, PartLine, ShopState

if TYPE_CHECKING:  # the trouble room brings numpy, which nothing loads before the first paint
    from shopboard.trouble import Book

Whole = tuple[Job, tuple[PartLine, ...]]

#: What else is worked out from the closed jobs, by name: module and function.
LESSONS: dict[str, str] = {
    "book": "shopboard.places.learned_book:lesson",
    "plan": "shopboard.places.plan_lessons:known",
}


@dataclass
class Material:
    """What lessons are drawn from: the shop as of change `state.seq`, its book, every closed job whole by id, which of
    them are `fresh` (closed, changed or gone since the last reckoning; all of them the first time), and what each
    lesson has `kept` between reckonings."""

    state: ShopState
    book: Book
    now: datetime
    zone: ZoneInfo
    closed: dict[int, Whole]
    fresh: frozenset[int] = frozenset()
    kept: dict[str, Any] = field(default_factory=dict)


class Row(msgspec.Struct, frozen=True, array_like=True):
    """One component on one model in few words: the word for it, failures, how many were expected, machines it failed
    on and machines of the model."""

    component: str
    model: str
    word: memory.Word
    failures: int
    expected: float
    hit: int
    machines: int


class Lead(msgspec.Struct, frozen=True):
    """How long parts of one class take from one supplier: the day by which half and four in five are in."""

    supplier: str
    lead_class: str
    half: memory.Figure
    most: memory.Figure
    received: int
    group: str


class Held(msgspec.Struct, frozen=True):
    """How well the shop's words held, over the last `jobs` closed jobs that can be judged; comebacks over all."""

    first_right: memory.Figure
    minutes: memory.Figure
    came_back: memory.Figure
    by_cause: tuple[memory.CameBack, ...]
    reliability: memory.Reliability
    jobs: int


class Bulk(msgspec.Struct, frozen=True):
    """What only some pages want, in one piece until it is asked for: every component on every model, those that fail
    early first; what is due on machines that do not stand here; lead times of parts."""

    rows: tuple[Row, ...]
    service: memory.Service
    orders: dict[tuple[str, str], tuple[memory.Wait, ...]]


class Knowledge(msgspec.Struct, frozen=True, kw_only=True, tag=True, dict=True):
    """What the closed jobs teach as of change `seq`, at moment `at`; from `jobs` of them."""

    seq: int
    at: datetime
    jobs: int
    whole: bool
    warnings: dict[str, tuple[memory.IntakeWarning, ...]]
    shapes: dict[str, tuple[float, ...]]
    here: dict[int, tuple[memory.ServiceDue, ...]]
    packed: bytes
    leads: tuple[Lead, ...] = ()
    slower: tuple[memory.Slower, ...] = ()
    held: Held
    left_out: tuple[str, ...] = ()

    @cached_property
    def bulk(self) -> Bulk:
        """What only some pages want."""
        return msgspec.msgpack.decode(self.packed, type=Bulk)

    @cached_property
    def lead_times(self) -> memory.LeadTimes:
        """Every wait for parts by supplier and class."""
        return memory.LeadTimes(self.bulk.orders)

    @cached_property
    def lessons(self) -> dict[str, Lesson]:
        """Those of LESSONS that have come so far."""
        return {}

    @cached_property
    def faults(self) -> dict[str, str]:
        """Why a lesson could not be drawn, by its name."""
        return {}

    def lesson(self, name: str) -> Any:
        """The result of one of LESSONS; None while it is not there."""
        found = self.lessons.get(name)
        return found.drawn if found else None

    def packed_lesson(self, name: str) -> bytes | None:
        """The same as it came, for another process of this board; the same object until it is drawn anew."""
        found = self.lessons.get(name)
        return found.packed if found else None

    def after(self, before: Knowledge | None) -> Knowledge:
        """This with the lessons known before, until new ones come."""
        if before is not None:
            self.lessons.update(before.lessons)
            self.faults.update(before.faults)
        return self

    def with_lesson(self, lesson: Lesson) -> Knowledge:
        """The same with one lesson more, or anew: another object, so that whoever keeps things by it looks again."""
        made = msgspec.structs.replace(self).after(self)
        if lesson.fault:
            made.faults[lesson.name] = lesson.fault
        else:
            made.lessons[lesson.name] = lesson
        return made

    def warnings_for(self, model: str, hours: float | None = None) -> tuple[memory.IntakeWarning, ...]:
        """What to say when a machine of this model comes in, most certain first; at an age [h] (None: not known) first
        what fails on machines no younger."""
        found = self.warnings.get(model, ())
        if hours is None:
            return found
        return tuple(sorted(found, key=lambda warning: warning.early.before < hours))

    def weights_for(self, hours: float | None, renewed: Mapping[str, float] | None = None) -> dict[str, float]:
        """How much likelier than at any age each cause is at this machine age [h] by the shop's own failures: the
        shape over hours alone, its mean over the hours watched 1; how often a cause comes at all is left to the
        learned counts, and so is the model. `renewed` are ages of younger components (`renewed_on`). Empty where
        the age is not known."""
        if hours is None:
            return {}
        younger = renewed or {}
        return {id: shape[memory.band_of(younger.get(id, hours))] for id, shape in self.shapes.items()}

    def lead(self, supplier: str, lead_class: str) -> memory.Waits:
        """How long parts of this class take from this supplier: `.days_for(share, waited)`, `.in_by(days, waited)`."""
        return self.lead_times.of(supplier, lead_class)

    def dues_of(self, machine: int) -> tuple[memory.ServiceDue, ...]:
        """Every service point of a machine that stands here, with how much of its interval is `used` up, those used
        most first; empty for a machine that does not."""
        return self.here.get(machine, ())


class CellPage(msgspec.Struct, frozen=True, kw_only=True, tag=True):
    """Everything about one component on one model: how it stands against the others, how it ages in the model's family
    (`where`), how often it comes again, at which age to replace it by how many times dearer a failure is than a planned
    change, what to look at."""

    seq: int
    component: str
    model: str
    name: str
    model_name: str
    where: str
    early: memory.Early | None
    ageing: memory.Ageing
    repeats: memory.Figure
    replace: tuple[tuple[float, memory.Figure], ...]
    looks: tuple[memory.Look, ...]
    look_said: str


class Lesson(msgspec.Struct, frozen=True, tag=True, dict=True):
    """One of LESSONS as drawn, pickled, or why it could not be."""

    name: str
    packed: bytes = b""
    fault: str = ""

    @cached_property
    def drawn(self) -> Any:
        """What was drawn. Only ever unpickles what a process this board started has written."""
        return pickle.loads(self.packed)


class Why(msgspec.Struct, frozen=True, tag=True):
    """Why there is no answer, in one line."""

    said: str


class Ask(msgspec.Struct, frozen=True):
    """A question: everything as of `now`, or the page of one component on one model ("": on all)."""

    now: datetime
    component: str = ""
    model: str = ""


Answer = Knowledge | CellPage | Lesson | Why


def renewed_on(state: ShopState, machine_id: int) -> dict[str, float]:
    """Ages [h] of the components renewed on a machine here, by its closed jobs; the others are as old as it is."""
    machine = state.machines[machine_id]
    line = age_line(machine)
    if isinstance(line, str):
        return {}
    own = [job for job in state.closed.values() if job.machine == machine_id]
    return memory.component_ages(memory.histories([machine], own), machine_id, line.now)
