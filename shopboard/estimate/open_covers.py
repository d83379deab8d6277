"""While it is open: what else the covers of a job uncover, and which of it together is worth doing now.

What is done now need not be done alone later, with its covers off again; what is done long before it is due is done
too often. The best set is found exactly, since two extras can be worth a cover that neither is worth alone.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import combinations

from .covers import Graph
from .steps import Work

#: Up to so many extras every set is tried; above, the best is found as a minimum cut.
MOST_TRIED = 12


@dataclass(frozen=True)
class Extra:
    """Something that could be done while the covers are off: a service point or a cheap check. `used` is how much of
    its interval will be used up (1: due now; see `used_up`), `hidden_grease` whether it greases what nobody sees."""

    work: Work
    used: float
    hidden_grease: bool = False


@dataclass(frozen=True)
class Offer:
    """One extra as offered. Billed minutes: `adds` to the job as it stands with nothing else added, `alone` on a visit
    of its own, `saves` the difference. `risk` is how far it is used up times the minutes that hide it. `in_bundle`
    says that the best set has it."""

    extra: Extra
    adds: float
    alone: float
    further_covers: tuple[str, ...]
    risk: float
    in_bundle: bool

    @property
    def saves(self) -> float:
        """Minutes saved against doing it alone."""
        return self.alone - self.adds


@dataclass(frozen=True)
class WhileOpen:
    """The extras offered, hidden grease points first by risk, and what the best set of them comes to in billed
    minutes: what it `adds` to the job and `alone`, the sum of doing each alone."""

    offers: tuple[Offer, ...]
    adds: float
    alone: float

    @property
    def bundle(self) -> tuple[Offer, ...]:
        """The offers in the best set."""
        return tuple(offer for offer in self.offers if offer.in_bundle)


def used_up(hours_since: float, interval: float, *, months_since: float = 0.0, months: float = 0.0) -> float:
    """The share of an interval that is used up, by hours or by months, whichever is more; `months` 0: no such limit.

    Reckon with the hours and months at the next expected visit to see what falls due before it. Raises ValueError
    for an interval that is none.

    >>> used_up(60, 50), used_up(10, 50, months_since=9, months=12)
    (1.2, 0.75)
    """
    if interval <= 0 or hours_since < 0 or months_since < 0 or months < 0:
        raise ValueError("an interval is more than 0, and no time is less")
    return max(hours_since / interval, months_since / months if months else 0.0)


def while_open(graph: Graph, extras: Sequence[Extra], covers_off: Collection[str]) -> WhileOpen:
    """What is worth doing while `covers_off`, the covers of the job, are off. Extras used up to less than nothing, or
    that need a cover this machine has not, raise ValueError and KeyError.

    An extra is worth its used share of what it costs alone, less its own minutes; a set of extras the sum of these
    less each further cover once. Of equally good sets the smallest is taken. Places with several ways are reached by
    the way that is cheapest with the job's covers off.
    """
    needs = [_covers(graph, extra.work, covers_off) for extra in extras]
    alones = [_alone(graph, extra.work) for extra in extras]
    for extra in extras:
        if not extra.used >= 0:
            raise ValueError(f"{extra.work.name}: a used share is 0 or more")
    cost = {id: Fraction(graph.covers[id].billed) for id in {id for need in needs for id in need}}
    worth = [
        Fraction(min(extra.used, 1.0)) * Fraction(alone) - Fraction(extra.work.billed)
        for extra, alone in zip(extras, alones, strict=True)
    ]
    best = best_set(worth, needs, cost)
    offers = [
        Offer(
            extra=extra,
            adds=extra.work.billed + float(sum(cost[id] for id in need)),
            alone=alone,
            further_covers=tuple(need),
            risk=extra.used * (alone - extra.work.billed),
            in_bundle=number in best,
        )
        for number, (extra, need, alone) in enumerate(zip(extras, needs, alones, strict=True))
    ]
    opened = {id for number in best for id in needs[number]}
    adds = sum(extras[n].work.billed for n in best) + float(sum(cost[id] for id in opened))
    order = sorted(offers, key=lambda o: (not (o.extra.hidden_grease and o.alone > o.extra.work.billed), -o.risk))
    return WhileOpen(tuple(order), adds, sum(alones[number] for number in best))


def _covers(graph: Graph, work: Work, off: Collection[str]) -> tuple[str, ...]:
    """The further covers for a work by the cheapest way, in the order they come off."""
    ways = (
        tuple(id for id in graph.order(work.covers, taken) if id not in off) for taken in graph.choices(work.covers)
    )
    return min(ways, key=lambda order: sum(graph.covers[id].billed for id in order))


def _alone(graph: Graph, work: Work) -> float:
    return work.billed + float(sum(graph.covers[id].billed for id in _covers(graph, work, ())))


def best_set(worth: Sequence[Fraction], needs: Sequence[Collection[str]], cost: Mapping[str, Fraction]) -> set[int]:
    """The numbers of the extras whose worth less the cost of all covers they need, each once, is greatest; the
    smallest such set. Exact: every set is tried up to MOST_TRIED extras, above that a minimum cut is found.

    >>> best_set([Fraction(6), Fraction(6)], [["plate"], ["plate"]], {"plate": Fraction(10)})
    {0, 1}
    """
    if len(worth) <= MOST_TRIED:
        return by_trying(worth, needs, cost)
    return by_cut(worth, needs, cost)


def by_trying(worth: Sequence[Fraction], needs: Sequence[Collection[str]], cost: Mapping[str, Fraction]) -> set[int]:
    """The best set, by trying every set."""
    best: tuple[int, ...] = ()
    best_value = Fraction(0)
    for size in range(1, len(worth) + 1):
        for chosen in combinations(range(len(worth)), size):
            covers = {id for number in chosen for id in needs[number]}
            value = sum((worth[n] for n in chosen), Fraction(0)) - sum((cost[id] for id in covers), Fraction(0))
            if value > best_value:
                best, best_value = chosen, value
    return set(best)


def by_cut(worth: Sequence[Fraction], needs: Sequence[Collection[str]], cost: Mapping[str, Fraction]) -> set[int]:
    """The best set, by a minimum cut: worth flows from a source through the extras and their covers into a sink, and
    what the source still reaches when no more can flow pays for itself (Picard, Maximal closure of a graph, 1976)."""
    source, sink = "source", "sink"
    left: dict[object, dict[object, Fraction]] = {source: {}, sink: {}}
    plenty = sum((w for w in worth if w > 0), Fraction(1))
    for id, minutes in cost.items():
        left[id, "cover"] = {sink: minutes}
    for number, value in enumerate(worth):
        left[number] = {(id, "cover"): plenty for id in needs[number]}
        if value > 0:
            left[source][number] = value
        else:
            left[number][sink] = -value
    while path := _path(left, source, sink):
        amount = min(left[a][b] for a, b in path)
        for a, b in path:
            left[a][b] -= amount
            left[b][a] = left[b].get(a, Fraction(0)) + amount
    reached = _reached(left, source)
    return {number for number in range(len(worth)) if number in reached}


def _reached(left: Mapping[object, Mapping[object, Fraction]], source: object) -> dict[object, object]:
    """What the source reaches over edges with room left, each with where it was reached from."""
    came: dict[object, object] = {source: source}
    queue = deque([source])
    while queue:
        here = queue.popleft()
        for there, room in left[here].items():
            if room > 0 and there not in came:
                came[there] = here
                queue.append(there)
    return came


def _path(
    left: Mapping[object, Mapping[object, Fraction]], source: object, sink: object
) -> tuple[tuple[object, object], ...]:
    came = _reached(left, source)
    if sink not in came:
        return ()
    return tuple(_back(came, sink))


def _back(came: Mapping[object, object], here: object) -> Iterable[tuple[object, object]]:
    while came[here] is not here:
        yield came[here], here
        here = came[here]
