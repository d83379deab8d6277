"""What the shop remembers, put together from its records and its book; the words are in `memory_lines`."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

from shopboard import memory
from shopboard.records import ShopState

from .knowledge import CellPage, Held, Lead, Material, Whole
from .reckoning import Reckoning

if TYPE_CHECKING:  # the trouble room brings numpy, which nothing loads before the first paint
    from shopboard.trouble import Book

#: So many components are shown with their ages, and so many that fail early, and of one model, with their figures.
COMPONENTS, MOST = 8, 12


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
    components: tuple[CellPage, ...]
    service: memory.Service
    calls: tuple[memory.Call, ...]
    leads: tuple[Lead, ...]
    slower: tuple[memory.Slower, ...]
    held: Held
    left_out: tuple[str, ...]
    names: Mapping[str, str]


def look(
    state: ShopState, book: Book, now: datetime, zone: ZoneInfo, wholes: Iterable[Whole] = (), *, model: str = ""
) -> MemoryPage:
    """The memory as it stands now, from the summaries in `state` and the closed jobs read whole; of one model (and its
    family's ages) if `model` is its id.

    Raises ValueError, in one line, for a model the shop does not know.
    """
    if model and model not in state.models:
        raise ValueError(f"no model {model}: there are {', '.join(sorted(state.models)) or 'none yet'}")
    material = Material(state, book, now, zone, {job.id: (job, lines) for job, lines in wholes})
    reckoning = Reckoning(material)
    reckoning.take_wholes(material.closed.values())
    reckoning.tend()
    record, known = reckoning.standing.record(), reckoning.knowledge()
    service = reckoning.servicing.to_ring(model)
    names = {customer.id: customer.name for customer in state.customers.values()}
    return MemoryPage(
        at=now,
        zone=zone,
        model=model,
        name=state.models[model].name if model else "",
        early=tuple(reckoning.warning(early) for early in record.flagged(model, MOST)),
        many_early=record.many_flagged(model),
        of_model=tuple(each for each in record.of_model(model, MOST) if each.failures) if model else (),
        components=tuple(_components(reckoning, model)),
        service=service,
        calls=memory.calls(service.dues, names, now.astimezone(zone).date()),
        leads=known.leads,
        slower=known.slower,
        held=known.held,
        names={id: each.name for id, each in state.models.items()},
        left_out=known.left_out,
    )


def _components(reckoning: Reckoning, model: str) -> Iterable[CellPage]:
    """The components with most failures in the model's family."""
    models, _ = reckoning.family(model)
    ranked = [(_failures(reckoning.standing.of(id), id, models), id) for id in reckoning.standing.components()]
    for failures, id in sorted(ranked, key=lambda pair: (-pair[0], pair[1]))[:COMPONENTS]:
        if failures:
            yield reckoning.page(id, model)


def _failures(found: memory.Histories, component: str, models: frozenset[str] | None) -> int:
    by_machine = found.events[component].items()
    return sum(len(events) for id, events in by_machine if models is None or found.watches[id].model in models)
