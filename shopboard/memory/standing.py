"""Every component on every model judged, and kept judged as jobs close: only what a change touches is tested anew.

A cell's chances are kept until its failures change, or hours watched on either side by more than a thousandth: less
moves no chance by more than a few thousandths of itself.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING, NamedTuple

from .cells import Cell, Counted, Counts
from .early import Record, chances, words
from .histories import Event, Histories, Past, together

if TYPE_CHECKING:
    from numpy import bool_, float64
    from numpy.typing import NDArray

#: Hours watched may change by this share before a cell is tested anew.
STALE = 1e-3


class _Judged(NamedTuple):
    """A cell as it was tested last: its chances of "act" and "watch", and its expected failures."""

    cell: Cell
    chances: tuple[float, float]
    expected: float


class _Tested(NamedTuple):
    """What a component's cells were tested on: each row as it was when its own test was made."""

    counts: Counts
    others: NDArray[float64]


class Standing:
    """What every machine's past says of every component on every model. `pasts` are the machines' by id; `layouts`
    says which layouts have a component (one that is not named: those on which it failed), `names` what things are
    called."""

    def __init__(
        self,
        pasts: Mapping[int, Past],
        layouts: Mapping[str, Iterable[str]] | None = None,
        names: Mapping[str, str] | None = None,
    ) -> None:
        self.pasts = dict(pasts)
        self.names = names or {}
        self._layouts = {id: frozenset(map(str, where)) for id, where in (layouts or {}).items()}
        self._last: dict[str, _Tested] = {}
        self._judged: dict[tuple[str, str], _Judged] = {}
        self._count()

    def _count(self) -> None:
        found = together(self.pasts)
        self._events, self._watches = found.events, found.watches
        self._counted = Counted(found.watches.values(), found.events)

    def of(self, component: str) -> Histories:
        """The histories as they are now, of one component."""
        events = self._events.get(component)
        return Histories(self._watches, {component: events} if events else {})

    def components(self) -> tuple[str, ...]:
        """Every component that ever failed, most failures first."""
        return Histories(self._watches, {id: by for id, by in self._events.items() if by}).components()

    def left_out(self) -> tuple[str, ...]:
        """What had to be left out, in sentences."""
        return together(self.pasts).left_out

    def renew(self, machine: int, past: Past | None) -> None:
        """Take a machine's past as it is now in place of the one before (None: it is gone)."""
        before = self.pasts.pop(machine, None)
        if past is not None:
            self.pasts[machine] = past
        if not self._counted.renew(before, past):
            self._count()
            return
        self._watches.pop(machine, None)
        if past is not None and past.watch is not None:
            self._watches[machine] = past.watch
        for component in before.events if before else ():
            self._events.get(component, {}).pop(machine, None)
        for component, events in past.events.items() if past else ():
            self._events.setdefault(component, {})[machine] = events

    def record(self) -> Record:
        """Every cell with its word."""
        judged: list[_Judged] = []
        oldest: dict[tuple[str, str], float] = {}
        for component, by_machine in self._events.items():
            if by_machine:
                counts = self._counted.counts(component, self._where(component))
                judged += self._tested(component, counts)
                oldest |= {(component, model): top for model, top in zip(counts.models, counts.top, strict=True)}
        said = words([each.chances for each in judged], [each.expected for each in judged])
        return Record(tuple(each.cell for each in judged), tuple(said), self._counted.machines(), oldest, self.names)

    def _where(self, component: str) -> frozenset[str]:
        named = self._layouts.get(component)
        if named:
            return named
        watches = (self.pasts[machine].watch for machine in self._events[component])
        return frozenset(watch.layout for watch in watches if watch is not None)

    def _tested(self, component: str, counts: Counts) -> list[_Judged]:
        """The component's cells, those that changed tested anew."""
        changed = _changed(self._last.get(component), counts)
        every_hour, every_failure = counts.hours.sum(axis=0), counts.failed.sum(axis=0)
        found: list[_Judged] = []
        for row, model in enumerate(counts.models):
            if changed[row] or (component, model) not in self._judged:
                cell = counts.cell(component, row, every_hour, every_failure)
                self._judged[component, model] = _Judged(cell, chances(cell), cell.expected)
            if counts.hours[row].any():
                found.append(self._judged[component, model])
        self._keep(component, counts, changed)
        return found

    def _keep(self, component: str, counts: Counts, changed: NDArray[bool_]) -> None:
        """What the cells were tested on: rows not tested anew keep theirs, so that small changes add up."""
        last, others = self._last.get(component), _others(counts.hours)
        if last is not None and not changed.all():
            counts.hours[~changed] = last.counts.hours[~changed]
            others[~changed] = last.others[~changed]
        self._last[component] = _Tested(counts, others)


def _changed(last: _Tested | None, now: Counts) -> NDArray[bool_]:
    """Which rows are to be tested anew."""
    import numpy as np

    if last is None or last.counts.models != now.models:
        return np.ones(len(now.models), dtype=bool)
    # The others' failures of every row change with any row's
    if (last.counts.failed.sum(axis=0) != now.failed.sum(axis=0)).any():
        return np.ones(len(now.models), dtype=bool)
    failed = (last.counts.failed != now.failed).any(axis=1) | (last.counts.hit != now.hit)
    return np.asarray(failed | _moved(last.counts.hours, now.hours) | _moved(last.others, _others(now.hours)))


def _others(hours: NDArray[float64]) -> NDArray[float64]:
    import numpy as np

    return np.asarray(hours.sum(axis=0) - hours)


def _moved(before: NDArray[float64], now: NDArray[float64]) -> NDArray[bool_]:
    import numpy as np

    return np.asarray((np.abs(now - before) > STALE * np.maximum(before, 1.0)).any(axis=1))


def record(
    found: Histories, layouts: Mapping[str, Iterable[str]] | None = None, names: Mapping[str, str] | None = None
) -> Record:
    """Every component that ever failed on every model that has it, judged. `layouts` says which layouts have a
    component (one that is not named: those on which it failed)."""
    events: dict[int, dict[str, tuple[Event, ...]]] = {}
    for component, by_machine in found.events.items():
        for machine, theirs in by_machine.items():
            events.setdefault(machine, {})[component] = theirs
    pasts = {id: Past(watch, "", events.get(id, {}), {}) for id, watch in found.watches.items()}
    return Standing(pasts, layouts, names).record()
