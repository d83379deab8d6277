"""What this shop's closed jobs teach, reckoned beside the board and kept with the change it is of.

It is worked out in a process of its own (`knowledge_work`), which holds every closed job whole; the board gets the
results only, as `board.knowledge` (None until they are there: say “not reckoned yet”, never wait for them).

To have something of one's own worked out there: a function `(Material) -> Any` in one's own module, whose result is
small and can be pickled, and one line in LESSONS. The board then has it as `board.knowledge.lesson(name)`. A lesson may
keep what it has read so far in `material.kept[name]` and add only the jobs in `material.fresh` the next time.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from importlib import import_module
from typing import TYPE_CHECKING, Any
from zoneinfo import ZoneInfo

from shopboard import memory
from shopboard.memory.meters import age_line
from shopboard.records import Job, PartLine, ShopState

from . import memory_page

if TYPE_CHECKING:  # the trouble room brings numpy, which nothing loads before the first paint
    from shopboard.trouble import Book

Whole = tuple[Job, tuple[PartLine, ...]]

#: What else is worked out from the closed jobs, by name: module and function.
LESSONS: dict[str, str] = {"book": "shopboard.places.learned_book:lesson"}


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


@dataclass(frozen=True, kw_only=True)
class Knowledge:
    """What closed jobs teach as of change `seq`, at moment `at`."""

    seq: int
    at: datetime
    record: memory.Record
    warnings: Mapping[str, tuple[memory.IntakeWarning, ...]]
    leads: memory.LeadTimes
    service: memory.Service
    lessons: Mapping[str, Any] = field(default_factory=dict)

    def lesson(self, name: str) -> Any:
        """The result of one of LESSONS; None where it could not be drawn."""
        return self.lessons.get(name)

    def warnings_for(self, model: str, hours: float | None = None) -> tuple[memory.IntakeWarning, ...]:
        """What to say when a machine of this model comes in at this age [h] (None: not known), most certain first."""
        return self.warnings.get(model, ())

    def weights_for(
        self, model: str, hours: float | None, renewed: Mapping[str, float] | None = None
    ) -> dict[str, float]:
        """How much likelier than at any age each cause is at this machine age [h] by the shop's own failures: the
        shape over hours alone, its mean over the hours watched 1; how often a cause comes at all is left to the
        learned counts. `renewed` are ages of younger components (`renewed_on`). Empty where the age is not known."""
        if hours is None:
            return {}
        return {w.component: w.by_age for w in memory.age_weights(self.record, model, max(hours, 0.0), renewed)}

    def lead(self, supplier: str, lead_class: str) -> memory.Waits:
        """How long parts of this class take from this supplier: `.days_for(share, waited)`, `.in_by(days, waited)`."""
        return self.leads.of(supplier, lead_class)

    def dues_of(self, machine: int) -> tuple[memory.ServiceDue, ...]:
        """The service points of a machine that are due or fall due within four weeks, hidden ones first."""
        return tuple(due for due in self.service.dues if due.machine == machine)


def renewed_on(state: ShopState, machine_id: int) -> dict[str, float]:
    """Ages [h] of the components renewed on a machine here, by its closed jobs; the others are as old as it is."""
    machine = state.machines[machine_id]
    line = age_line(machine)
    if isinstance(line, str):
        return {}
    own = [job for job in state.closed.values() if job.machine == machine_id]
    return memory.component_ages(memory.histories([machine], own), machine_id, line.now)


def reckon(material: Material) -> Knowledge:
    """Everything closed jobs teach. Works for seconds over many: never to be called where a key is waited for."""
    state, book = material.state, material.book
    found = memory.histories(state.machines.values(), state.closed.values())
    shop = memory_page.shop_record(found, state, book)
    wholes = list(material.closed.values())
    lines = [line for _, theirs in wholes for line in theirs] + list(state.parts.values())
    return Knowledge(
        seq=state.seq,
        at=material.now,
        record=shop,
        warnings={model: tuple(memory_page.warnings_of(shop, state, book, model)) for model in state.models},
        leads=memory.lead_times(memory.orders_of(lines), material.now),
        service=memory_page.service(state, book, wholes, material.now, material.zone, ""),
        lessons={name: _lesson(where)(material) for name, where in LESSONS.items()},
    )


def _lesson(where: str) -> Callable[[Material], Any]:
    module, _, name = where.partition(":")
    found: Callable[[Material], Any] = getattr(import_module(module), name)
    return found
