"""Cells: one component on one model, hours watched and failures by age band, against the same on all other models."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from functools import lru_cache
from typing import TYPE_CHECKING

import msgspec

from .exact import at_least, times_band
from .figures import LEVEL
from .histories import Event, Past, Watch, lives_on

if TYPE_CHECKING:
    from numpy import float64
    from numpy.typing import NDArray

#: Ages [h] at which bands begin; the last has no end.
BANDS = (0.0, 50.0, 100.0, 200.0, 300.0, 500.0, 750.0, 1000.0, 1500.0, 2000.0, 3000.0, 5000.0)


class Cell(msgspec.Struct, frozen=True):
    """One component on one model by age band: hours watched there and failures, on this model and on all others."""

    component: str
    model: str
    own: tuple[float, ...]
    others: tuple[float, ...]
    own_failed: tuple[int, ...]
    others_failed: tuple[int, ...]
    hit: int | None = None
    """Machines of this model it failed on; None where that was not counted."""

    @property
    def failures(self) -> int:
        """Failures of the component on this model."""
        return sum(self.own_failed)

    @property
    def expected(self) -> float:
        """Failures to be expected on this model at the others' rate, age band by age band; its own failures at ages
        where no other model was watched, which say nothing."""
        return _expected(self)

    def expected_by(self, bands: int) -> float:
        """Failures to be expected in the first so many age bands."""
        rows = zip(
            self.own[:bands], self.others[:bands], self.own_failed[:bands], self.others_failed[:bands], strict=True
        )
        return float(sum(a * g / b if b > 0 else f for a, b, f, g in rows if a > 0))

    @property
    def last_band(self) -> int:
        """How many age bands its failures lie in, counted from new; 0 without a failure."""
        return max((band + 1 for band, failed in enumerate(self.own_failed) if failed), default=0)

    @property
    def together(self) -> list[int]:
        """Failures of the component on all models, by age band."""
        return [f + g for f, g in zip(self.own_failed, self.others_failed, strict=True)]

    def beyond(self, times: float) -> float:
        """By how many standard deviations the failures are more than at `times` the others' rate."""
        mean = variance = 0.0
        for a, b, together in zip(self.own, self.others, self.together, strict=True):
            share = times * a / (times * a + b) if a > 0 else 0.0
            mean += together * share
            variance += together * share * (1 - share)
        return (self.failures - mean) / variance**0.5 if variance > 0 else 0.0

    def chance(self, times: float) -> float:
        """The chance of so many failures or more, had it failed at `times` the others' rate."""
        return _chance(self, times)

    def times(self, level: float = LEVEL) -> tuple[float, float]:
        """The exact band of how many times the others' rate it fails at."""
        return _times(self, level)


# The same cells are asked for again and again; only those that were tested anew are new
@lru_cache(maxsize=8192)
def _expected(cell: Cell) -> float:
    return cell.expected_by(len(cell.own))


@lru_cache(maxsize=8192)
def _chance(cell: Cell, times: float) -> float:
    return at_least(cell.failures, cell.together, cell.own, cell.others, times)


@lru_cache(maxsize=4096)
def _times(cell: Cell, level: float) -> tuple[float, float]:
    return times_band(cell.failures, cell.together, cell.own, cell.others, level)


class Counts(msgspec.Struct, frozen=True):
    """A component by model: hours watched and failures in each age band, machines it failed on, greatest age there."""

    models: tuple[str, ...]
    hours: NDArray[float64]
    failed: NDArray[float64]
    hit: NDArray[float64]
    top: tuple[float, ...]

    def cell(self, component: str, row: int, every_hour: NDArray[float64], every_failure: NDArray[float64]) -> Cell:
        """The cell of one model, given the hours and failures of all together by band."""
        own, failed = self.hours[row], self.failed[row]
        others = every_hour - own
        others[others < 1e-9] = 0.0
        return Cell(
            component,
            self.models[row],
            tuple(own.tolist()),
            tuple(others.tolist()),
            tuple(failed.astype(int).tolist()),
            tuple((every_failure - failed).astype(int).tolist()),
            int(self.hit[row]),
        )


class Counted:
    """Hours watched by model, layout and age band: every machine whole once, then mended where a component failed.

    `renew` brings one machine up to date and leaves the others as they are.
    """

    def __init__(self, watches: Iterable[Watch], events: Mapping[str, Mapping[int, Iterable[Event]]]) -> None:
        import numpy as np

        self.groups: dict[tuple[str, str], dict[int, Watch]] = {}
        known: dict[int, Watch] = {}
        for watch in watches:
            known[watch.machine] = watch
            self.groups.setdefault((watch.model, watch.layout), {})[watch.machine] = watch
        self.place = {group: place for place, group in enumerate(self.groups)}
        self.top = [max(watch.to for watch in own.values()) for own in self.groups.values()]
        self.whole = np.array([in_bands([(w.since, w.to) for w in own.values()]) for own in self.groups.values()])
        self.mended: dict[str, NDArray[float64]] = {}
        self._by_layouts: dict[frozenset[str], tuple[list[int], list[str], list[int]]] = {}
        for component, by_machine in events.items():
            self._mend(component, [(known[id], theirs) for id, theirs in by_machine.items() if id in known], 1.0)

    def machines(self) -> dict[str, int]:
        """How many machines of each model were watched."""
        many: dict[str, int] = {}
        for (model, _), own in self.groups.items():
            if own:
                many[model] = many.get(model, 0) + len(own)
        return many

    def renew(self, before: Past | None, after: Past | None) -> bool:
        """Take one machine's past out and another in; False where its model was never seen: count anew then."""
        if after is not None and after.watch is not None and _group(after.watch) not in self.place:
            return False
        for past, sign in ((before, -1.0), (after, 1.0)):
            if past is not None and past.watch is not None:
                watch, own = past.watch, self.groups[_group(past.watch)]
                self.whole[self.place[_group(watch)]] += sign * in_bands([(watch.since, watch.to)])
                own.pop(watch.machine, None)
                if sign > 0:
                    own[watch.machine] = watch
                self.top[self.place[_group(watch)]] = max((each.to for each in own.values()), default=0.0)
                for component, theirs in past.events.items():
                    self._mend(component, [(watch, theirs)], sign)
        return True

    def _mend(self, component: str, machines: Iterable[tuple[Watch, Iterable[Event]]], sign: float) -> None:
        """What the component's failures change: by group, bands of hours, bands of failures, machines it failed on."""
        import numpy as np

        size = len(BANDS)
        table = self.mended.setdefault(component, np.zeros((len(self.place), 2 * size + 1)))
        spans: list[float] = []  # flat, as numpy takes it in several times as fast: from, to, sign, group
        fell: list[tuple[float, int]] = []
        for watch, events in machines:
            group, before = self.place[_group(watch)], len(fell)
            spans += (watch.since, watch.to, -sign, group)
            for life in lives_on(watch, events):
                spans += (life.start, life.end, sign, group)
                if life.failed:
                    fell.append((life.end, group))
            table[group, -1] += sign * (len(fell) > before)
        if spans:
            rows = np.array(spans).reshape(-1, 4)
            np.add.at(table[:, :size], rows[:, 3].astype(int), _inside(rows[:, :2]) * rows[:, 2:3])
        if fell:
            # An age on the edge of two bands belongs to the younger, whose hours led to it
            band = np.searchsorted(BANDS, [age for age, _ in fell], side="left") - 1
            row = np.array([group for _, group in fell])
            np.add.at(table.reshape(-1), row * table.shape[1] + size + band, sign)

    def counts(self, component: str, layouts: frozenset[str]) -> Counts:
        """The component on every model that has one of these layouts."""
        import numpy as np

        size = len(BANDS)
        groups, models, rows = self._here(layouts)
        mended = self.mended[component][groups]
        by_model = np.zeros((len(models), 2 * size + 1))
        np.add.at(by_model, rows, mended + np.pad(self.whole[groups], ((0, 0), (0, size + 1))))
        hours = by_model[:, :size]
        hours[hours < 1e-9] = 0.0
        top = dict.fromkeys(models, 0.0)
        for place, row in zip(groups, rows, strict=True):
            top[models[row]] = max(top[models[row]], self.top[place])
        return Counts(tuple(models), hours, by_model[:, size:-1], by_model[:, -1], tuple(top.values()))

    def _here(self, layouts: frozenset[str]) -> tuple[list[int], list[str], list[int]]:
        """Groups of these layouts, the models in them, and which model each group is of."""
        if layouts not in self._by_layouts:
            here = [(place, group[0]) for group, place in self.place.items() if group[1] in layouts]
            models = list(dict.fromkeys(model for _, model in here))
            self._by_layouts[layouts] = [place for place, _ in here], models, [models.index(m) for _, m in here]
        return self._by_layouts[layouts]


def _group(watch: Watch) -> tuple[str, str]:
    return watch.model, watch.layout


def in_bands(spans: Sequence[tuple[float, float]]) -> NDArray[float64]:
    """Hours that the spans of age (from, to) [h] spend in each band.

    >>> [float(hours) for hours in in_bands([(20.0, 120.0)])[:4]]
    [30.0, 50.0, 20.0, 0.0]
    """
    import numpy as np

    if not spans:
        return np.zeros(len(BANDS))
    return np.asarray(_inside(np.array(spans, dtype=float)).sum(axis=0))


def _inside(spans: NDArray[float64]) -> NDArray[float64]:
    """Hours of each span (a row: from, to) in each band."""
    import numpy as np

    low, high = np.array(BANDS), np.append(BANDS[1:], np.inf)
    inside = np.minimum(spans[:, 1:2], high) - np.maximum(spans[:, :1], low)
    return np.asarray(np.clip(inside, 0.0, None))
