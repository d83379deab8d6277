"""One future of a shop, run step by step with plain lists: the independent route that many futures at once are held to.

Nothing here comes from `planning.many`: the same policy written anew, one decision after the other.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field

FIRST = 1e4


@dataclass
class Step:
    """A step of one future: slots before the person's factor, when it may start, days after the one before (and `then`
    more once the shop is open), who, where (None: no bay)."""

    slots: float
    ready: int
    lag: float
    people: set[int]
    bays: set[int] | None
    mean: float
    then: float = 0.0


@dataclass
class Item:
    """A job of one future."""

    steps: list[Step]
    due: float
    weight: float
    held: int = -1
    first: bool = False
    at: int = 0
    ready: int = 0
    done: int | None = None


@dataclass
class Shop:
    """Who is there when (sets of slots), and which moment [days] each slot begins."""

    people: list[set[int]]
    bays: list[set[int]]
    days: list[float]
    end: int
    factor: list[float]
    taken: dict[int, int] = field(default_factory=dict)


def run(shop: Shop, items: list[Item], now: int, pace: float) -> list[int]:
    """The slot by which each job is done; `end` + 1 where it is not."""
    never = shop.end + 1
    free = [_next(shop.people[p], now, shop.end) for p in range(len(shop.people))]
    bay_free = [now] * len(shop.bays)
    for item in items:
        item.ready = item.steps[0].ready
        if item.held >= 0:
            bay_free[item.held] = never
    while min(free, default=never) < never:
        person = free.index(min(free))
        slot = free[person]
        chosen = _choose(shop, items, bay_free, person, slot, pace)
        if chosen is None:
            free[person] = _next(shop.people[person], slot + 1, shop.end)
            continue
        item, bay = chosen
        end = _work(shop, item, person, slot)
        free[person] = _next(shop.people[person], end, shop.end)
        if bay is not None:
            bay_free[bay] = end
        _onward(shop, item, end)
    return [item.done if item.done is not None else never for item in items]


def _next(there: set[int], slot: int, end: int) -> int:
    return next((s for s in range(slot, end) if s in there), end + 1)


def _choose(shop, items, bay_free, person, slot, pace):
    best, best_key = None, -math.inf
    for item in items:
        if item.done is not None or item.ready > slot:
            continue
        step = item.steps[item.at]
        if person not in step.people:
            continue
        bay = None
        if item.held >= 0 and item.at == 0:
            bay = item.held
        elif step.bays is not None:
            open_ = [b for b in sorted(step.bays) if bay_free[b] <= slot and slot in shop.bays[b]]
            if not open_:
                continue
            bay = open_[0]
        rest = max(1.0, sum(s.mean for s in item.steps[item.at :]))
        key = math.log(item.weight / rest) - max(item.due - rest - slot, 0.0) / pace
        key += FIRST if item.first and item.at == 0 else 0.0
        if key > best_key + 1e-9:
            best, best_key = (item, bay), key
    return best


def _work(shop, item, person, slot):
    step = item.steps[item.at]
    slots = max(1, math.floor(step.slots * shop.factor[person] + 0.5))
    at = slot
    while slots and at < shop.end:
        slots -= at in shop.people[person]
        at += 1
    return at if not slots else shop.end + 1


def _onward(shop, item, end):
    item.at += 1
    if end > shop.end:
        item.at = len(item.steps)
        item.done = shop.end + 1
    elif item.at == len(item.steps):
        item.done = end
    else:
        step = item.steps[item.at]
        ready = end
        if step.lag > 0:
            moment = shop.days[end - 1] + 15 / 1440 + step.lag
            ready = next((s for s in range(len(shop.days)) if shop.days[s] >= moment - 1e-9), shop.end + 1)
        if step.then > 0 and ready < len(shop.days):
            moment = shop.days[ready] + step.then
            ready = next((s for s in range(len(shop.days)) if shop.days[s] >= moment - 1e-9), shop.end + 1)
        item.ready = max(ready, step.ready)
