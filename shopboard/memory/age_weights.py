"""What age and model say about which cause is likely, as multipliers of the causes' weights in triage.

A cause's weight in the book is how often it comes at all; at one age it comes more or less often. The multiplier is the
shop's own failure rate in the age band over that at all ages, times how this model compares with the others; both are
drawn towards 1 as long as few failures speak.
"""

from __future__ import annotations

from collections.abc import Mapping

import msgspec

from .cells import BANDS
from .early import Record
from .figures import hours, rounded
from .histories import Histories

#: As many failures as the belief in “no difference” is worth (a gamma prior of mean 1 and this shape).
PRIOR_FAILURES = 4.0
#: No multiplier is taken beyond this or below its inverse: age alone proves nothing.
MOST = 6.0


class AgeWeight(msgspec.Struct, frozen=True):
    """The multiplier for one cause: `by_age` and `by_model` and their product `weight`, with the component's `age` [h]
    it was taken at, and the sentence for it."""

    component: str
    weight: float
    by_age: float
    by_model: float
    age: float
    said: str


def component_ages(found: Histories, machine: int, age: float) -> dict[str, float]:
    """Ages [h] of the components that were renewed on a machine which is now `age` hours old; the others are as old
    as the machine."""
    ages: dict[str, float] = {}
    for component, by_machine in found.events.items():
        renewed = [event.age for event in by_machine.get(machine, ()) if event.mended and event.age <= age]
        if renewed:
            ages[component] = age - max(renewed)
    return ages


def age_weights(
    shop: Record, model: str, age: float, renewed: Mapping[str, float] | None = None
) -> tuple[AgeWeight, ...]:
    """The multipliers for every component of a model at machine age `age` [h]; `renewed` are the ages of components
    that are younger than the machine (see `component_ages`). An age below 0 raises ValueError."""
    if not 0 <= age < float("inf"):
        raise ValueError(f"a machine cannot be {age:g} h old")
    result = []
    for cell in shop.cells:
        if cell.model == model:
            own_age = (renewed or {}).get(cell.component, age)
            band = band_of(own_age)
            together = [a + b for a, b in zip(cell.own, cell.others, strict=True)]
            rate = sum(cell.together) / sum(together)
            by_age = _ratio(cell.together[band], together[band] * rate)
            by_model = _ratio(cell.failures, cell.expected)
            weight = min(max(by_age * by_model, 1 / MOST), MOST)
            what = shop.names.get(cell.component, cell.component.replace("-", " "))
            said = f"{what}: {_times(by_age)} at {hours(max(own_age, 0.0))}, {_times(by_model)} on this model"
            result.append(AgeWeight(cell.component, weight, by_age, by_model, max(own_age, 0.0), said))
    return tuple(sorted(result, key=lambda each: (-each.weight, each.component)))


def age_shapes(shop: Record) -> dict[str, tuple[float, ...]]:
    """How much likelier each component fails in each age band (see `band_of`) than at all ages, on all models together:
    the shape over hours alone, whose mean over the hours watched is 1. Drawn towards 1 while few failures speak."""
    found: dict[str, tuple[float, ...]] = {}
    for cell in shop.cells:
        if cell.component not in found:
            hours = [a + b for a, b in zip(cell.own, cell.others, strict=True)]
            rate = sum(cell.together) / sum(hours)
            shape = [_ratio(seen, ran * rate) for seen, ran in zip(cell.together, hours, strict=True)]
            mean = sum(s * h for s, h in zip(shape, hours, strict=True)) / sum(hours)
            found[cell.component] = tuple(min(max(s / mean, 1 / MOST), MOST) for s in shape)
    return found


def band_of(age: float) -> int:
    """Which age band an age [h] lies in; the youngest for an age below 0."""
    return max(place for place, start in enumerate(BANDS) if start <= max(age, 0.0))


def weights(shop: Record, model: str, age: float, renewed: Mapping[str, float] | None = None) -> dict[str, float]:
    """The multipliers by cause, as triage takes them."""
    return {each.component: each.weight for each in age_weights(shop, model, age, renewed)}


def _ratio(seen: int, expected: float) -> float:
    """Seen over expected failures, drawn towards 1: the mean of its gamma posterior.

    >>> _ratio(0, 0.0), _ratio(8, 2.0)
    (1.0, 2.0)
    """
    return (seen + PRIOR_FAILURES) / (expected + PRIOR_FAILURES)


def _times(ratio: float) -> str:
    if 0.91 < ratio < 1.1:
        return "as often as ever"
    return f"{rounded(ratio)} times as often"
