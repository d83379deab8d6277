"""Cells: one component on one model, hours watched and failures by age band, against the same on all other models."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import msgspec

from .exact import at_least, times_band
from .figures import LEVEL
from .histories import Histories, Watch, lives_on
from .lives import Life

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
        return self.expected_by(len(self.own))

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
        return at_least(self.failures, self.together, self.own, self.others, times)

    def times(self, level: float = LEVEL) -> tuple[float, float]:
        """The exact band of how many times the others' rate it fails at."""
        return times_band(self.failures, self.together, self.own, self.others, level)


class Counted:
    """Hours watched by model, layout and age band: every machine whole once, then mended where a component failed."""

    def __init__(self, found: Histories) -> None:
        self.found = found
        self.groups: dict[tuple[str, str], list[Watch]] = {}
        for watch in found.watches.values():
            self.groups.setdefault((watch.model, watch.layout), []).append(watch)
        self.whole = {
            group: in_bands([(watch.since, watch.to) for watch in watches]) for group, watches in self.groups.items()
        }
        self.top = {group: max(watch.to for watch in watches) for group, watches in self.groups.items()}
        self.machines: dict[str, int] = {}
        for (model, _), watches in self.groups.items():
            self.machines[model] = self.machines.get(model, 0) + len(watches)

    def cells(self, component: str, layouts: frozenset[str]) -> list[tuple[Cell, float]]:
        """The component's cells with the greatest age watched in each."""
        here = [group for group in self.groups if group[1] in layouts]
        watched, failed, top, hit = self._own(component, here)
        every_hour, every_failure = _total(watched), _total(failed)
        return [
            (_cell(component, model, watched[model], every_hour, failed[model], every_failure, hit[model]), top[model])
            for model in watched
            if watched[model].any()
        ]

    def _own(
        self, component: str, here: Sequence[tuple[str, str]]
    ) -> tuple[dict[str, NDArray[float64]], dict[str, NDArray[float64]], dict[str, float], dict[str, int]]:
        import numpy as np

        watched = {model: np.zeros(len(BANDS)) for model, _ in here}
        failed = {model: np.zeros(len(BANDS)) for model, _ in here}
        top = dict.fromkeys(watched, 0.0)
        for group in here:
            watched[group[0]] += self.whole[group]
            top[group[0]] = max(top[group[0]], self.top[group])
        lives, wholes, hit = self._mended(component, frozenset(here))
        for model in lives:
            watched[model] += in_bands([(life.start, life.end) for life in lives[model]]) - in_bands(wholes[model])
            watched[model][watched[model] < 1e-9] = 0.0
            failed[model] += _failures_in_bands(lives[model])
        return watched, failed, top, {model: hit.get(model, 0) for model in watched}

    def _mended(
        self, component: str, here: frozenset[tuple[str, str]]
    ) -> tuple[dict[str, list[Life]], dict[str, list[tuple[float, float]]], dict[str, int]]:
        lives: dict[str, list[Life]] = {}
        wholes: dict[str, list[tuple[float, float]]] = {}
        hit: dict[str, int] = {}
        for machine, events in self.found.events[component].items():
            watch = self.found.watches[machine]
            if (watch.model, watch.layout) in here:
                theirs = list(lives_on(watch, events))
                lives.setdefault(watch.model, []).extend(theirs)
                hit[watch.model] = hit.get(watch.model, 0) + any(life.failed for life in theirs)
                wholes.setdefault(watch.model, []).append((watch.since, watch.to))
        return lives, wholes, hit


def _cell(
    component: str,
    model: str,
    own: NDArray[float64],
    every_hour: NDArray[float64],
    failed: NDArray[float64],
    every_failure: NDArray[float64],
    hit: int,
) -> Cell:
    others = every_hour - own
    others[others < 1e-9] = 0.0
    own_failed, others_failed = failed.astype(int).tolist(), (every_failure - failed).astype(int).tolist()
    hours, other_hours = tuple(own.tolist()), tuple(others.tolist())
    return Cell(component, model, hours, other_hours, tuple(own_failed), tuple(others_failed), hit)


def _total(rows: dict[str, NDArray[float64]]) -> NDArray[float64]:
    import numpy as np

    return np.asarray(sum(rows.values(), np.zeros(len(BANDS))))


def in_bands(spans: Sequence[tuple[float, float]]) -> NDArray[float64]:
    """Hours that the spans of age (from, to) [h] spend in each band.

    >>> [float(hours) for hours in in_bands([(20.0, 120.0)])[:4]]
    [30.0, 50.0, 20.0, 0.0]
    """
    import numpy as np

    if not spans:
        return np.zeros(len(BANDS))
    ends = np.array(spans, dtype=float)
    low, high = np.array(BANDS), np.append(BANDS[1:], np.inf)
    inside = np.minimum(ends[:, 1:], high) - np.maximum(ends[:, :1], low)
    return np.asarray(np.clip(inside, 0.0, None).sum(axis=0))


def _failures_in_bands(lives: Sequence[Life]) -> NDArray[float64]:
    """An age on the edge of two bands belongs to the younger, whose hours led to it."""
    import numpy as np

    ages = [life.end for life in lives if life.failed]
    return np.bincount(np.searchsorted(BANDS, ages, side="left") - 1, minlength=len(BANDS)).astype(float)
