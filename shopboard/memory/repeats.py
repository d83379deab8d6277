"""Repairs of one place that comes back again and again: their mean number by machine age.

No life distribution is assumed, and a machine may have any number of them. Sources: Nelson, J. Quality Technology 27
(1995) 147-157 (mean cumulative function); Lawless & Nadeau, Technometrics 37 (1995) 158-168 (its variance, robust).
"""

from __future__ import annotations

import math
from collections.abc import Collection, Sequence
from statistics import NormalDist

import msgspec

from .figures import LEVEL, Figure, count, hours, rounded
from .histories import Histories

#: Machines with repeats that are needed before anything is said of repeats.
LEAST_AGAIN = 3


class Repaired(msgspec.Struct, frozen=True):
    """One machine watched from age `since` to `to` [h], and the ages at which the place was repaired."""

    since: float
    to: float
    ages: tuple[float, ...] = ()


class Mean(msgspec.Struct, frozen=True):
    """From age `at` [h] on a machine has had `repairs` on the average, with the band, `watched` machines then."""

    at: float
    repairs: float
    low: float
    high: float
    watched: int


def mean_repairs(machines: Sequence[Repaired], level: float = LEVEL) -> tuple[Mean, ...]:
    """The mean number of repairs a machine by age; steps where something was repaired.

    A machine counts from the age it was first watched to its last reading.

    >>> [round(mean.repairs, 2) for mean in mean_repairs([Repaired(0, 100, (20, 60)), Repaired(0, 50, (20,))])]
    [1.0, 2.0]
    """
    import numpy as np

    normal = NormalDist().inv_cdf((1 + level) / 2)
    fell: dict[float, list[int]] = {}
    for place, machine in enumerate(machines):
        for age in machine.ages:
            if machine.since < age <= machine.to:
                fell.setdefault(age, []).append(place)
    since = np.array([machine.since for machine in machines])
    to = np.array([machine.to for machine in machines])
    total, drift = 0.0, np.zeros(len(machines))
    found: list[Mean] = []
    for age in sorted(fell):
        here = (since < age) & (age <= to)
        watched = int(here.sum())
        mean = len(fell[age]) / watched
        total += mean
        drift[here] -= mean / watched
        np.add.at(drift, fell[age], 1 / watched)
        wide = math.exp(normal * float(np.sqrt(drift @ drift)) / total)
        found.append(Mean(age, total, total / wide, total * wide, watched))
    return tuple(found)


def repaired(found: Histories, component: str, models: Collection[str] | None = None) -> tuple[Repaired, ...]:
    """The machines (of these models) on whose layouts the component ever failed, with its repairs; comebacks count."""
    events, layouts = found.events.get(component, {}), found.layouts(component)
    return tuple(
        Repaired(
            watch.since,
            watch.to,
            tuple(e.age for e in events.get(watch.machine, ()) if watch.since < e.age <= watch.to),
        )
        for watch in found.watches.values()
        if watch.layout in layouts and (models is None or watch.model in models)
    )


def repeats(machines: Sequence[Repaired], by: float) -> Figure:
    """Repairs to be expected on a hundred machines by age `by` [h], with band; only a sentence where fewer than
    LEAST_AGAIN machines had it more than once."""
    if not any(one.since < age <= min(one.to, by) for one in machines for age in one.ages):
        return Figure(said=f"no repair by {hours(by)} in {count(len(machines), 'machine')}")
    again = sum(1 for machine in machines if len(machine.ages) > 1)
    if again < LEAST_AGAIN:
        return Figure(said=f"{count(again, 'machine')} had it more than once: too few to say how often it comes again")
    last = [mean for mean in mean_repairs(machines) if mean.at <= by][-1]
    low, value, high = (100 * each for each in (last.low, last.repairs, last.high))
    said = f"{rounded(value)} repairs on a hundred machines by {hours(by)} ({rounded(low)} to {rounded(high)})"
    said += f"; {count(again, 'machine')} had it more than once"
    return Figure(value=value, low=low, high=high, unit="repairs/100 machines", said=said)
