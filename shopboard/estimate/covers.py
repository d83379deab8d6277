"""The covers of one machine as a graph: what must be off to reach what, by which ways, and what that takes.

Anything that must be undone before the work and done again after it is a cover, drained oil too: `off` is the
draining, `on` the filling. What can be reached by more than one way (from above, from below) is named in `ways`.
Two people double the minutes billed, not those on the clock.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from typing import Protocol

from .labour import closure

#: More combinations of ways than any machine has; a graph beyond this is a mistake.
MOST_ROUTES = 4096

Ways = Mapping[str, tuple[tuple[str, ...], ...]]


class CoverEntry(Protocol):
    """What the trouble book says of a cover, as far as labour needs it."""

    @property
    def name(self) -> str:
        """What people call it."""

    @property
    def off(self) -> float:
        """Minutes to take it off."""

    @property
    def on(self) -> float:
        """Minutes to put it back on."""

    @property
    def under(self) -> Collection[str]:
        """The covers that must be off before it."""

    @property
    def people(self) -> int:
        """How many people it takes."""

    @property
    def layouts(self) -> Collection[str]:
        """The layouts it is found on."""


@dataclass(frozen=True)
class Cover:
    """One cover: minutes on the clock to take it off and to put it on, what must be off before it, how many people
    it takes, and what the bay must offer for it ("hoist", "lift")."""

    name: str
    off: float
    on: float
    under: tuple[str, ...] = ()
    people: int = 1
    needs: tuple[str, ...] = ()

    @property
    def billed(self) -> float:
        """Minutes billed for off and on: those on the clock times the people."""
        return (self.off + self.on) * self.people


@dataclass(frozen=True)
class Route:
    """One way to have everything needed off: which way was taken to each place that has several (by its number from
    0), the covers in the order they come off, the minutes for those not off yet, and what the bay must offer."""

    taken: tuple[tuple[str, int], ...]
    covers: tuple[str, ...]
    clock: float
    billed: float
    needs: frozenset[str]


@dataclass(frozen=True)
class Graph:
    """The covers of one machine. `ways` gives for a place (or a cover) the sets of covers of which one must be off
    to reach it; a cover's own `under` must be off besides.

    Raises ValueError for a minute that is none, an unknown cover, a place with no way, or covers in a circle.
    """

    covers: Mapping[str, Cover]
    ways: Ways = field(default_factory=dict)

    def __post_init__(self) -> None:
        for id, cover in self.covers.items():
            minutes = (cover.off, cover.on)
            if not all(math.isfinite(m) and m >= 0 for m in minutes) or cover.people < 1:
                raise ValueError(f"cover {id}: minutes must be 0 or more, and somebody must do it")
        known = self.covers.keys() | self.ways.keys()
        for id, options in self.ways.items():
            if not options:
                raise ValueError(f"{id} has no way to it")
        for id in known:
            for above in self._all_above(id):
                if above not in known:
                    raise ValueError(f"{id} lies under {above}, which is no cover here")
        closure(known, {id: self._all_above(id) for id in known})

    def _all_above(self, id: str) -> tuple[str, ...]:
        return (*self._own(id), *(above for way in self.ways.get(id, ()) for above in way))

    def _own(self, id: str) -> tuple[str, ...]:
        return self.covers[id].under if id in self.covers else ()

    def above(self, taken: Mapping[str, int]) -> dict[str, tuple[str, ...]]:
        """What must be off before each cover and place, with these ways taken (the first where none is named)."""
        known = self.covers.keys() | self.ways.keys()
        chosen = {id: options[taken.get(id, 0)] for id, options in self.ways.items()}
        return {id: (*self._own(id), *chosen.get(id, ())) for id in known}

    def order(self, needed: Iterable[str], taken: Mapping[str, int]) -> tuple[str, ...]:
        """The covers to come off for the `needed` ones, in an order that works. KeyError for one not known here."""
        needed = tuple(needed)
        for id in needed:
            if id not in self.covers and id not in self.ways:
                raise KeyError(id)
        return tuple(id for id in closure(needed, self.above(taken)) if id in self.covers)

    def choices(self, needed: Collection[str]) -> Iterator[dict[str, int]]:
        """Every combination of ways to the `needed` covers and places; one, empty, where there is nothing to choose.

        Raises ValueError if there are more than MOST_ROUTES.
        """
        count = 0
        open_: list[dict[str, int]] = [{}]
        while open_:
            taken = open_.pop()
            reached = closure(needed, self.above(taken))
            place = next((id for id in reached if id in self.ways and id not in taken), None)
            if place is None:
                count += 1
                if count > MOST_ROUTES:
                    raise ValueError(f"there are more than {MOST_ROUTES} ways to {', '.join(sorted(needed))}")
                yield taken
            else:
                open_ += [{**taken, place: number} for number in reversed(range(len(self.ways[place])))]

    def offered(self, order: Iterable[str], can: Collection[str] | None) -> bool:
        """Whether a bay that offers `can` (None: everything) will do for taking these covers off."""
        return can is None or all(need in can for id in order for need in self.covers[id].needs)


def graph_of(
    entries: Mapping[str, CoverEntry],
    layout: str = "",
    *,
    ways: Ways | None = None,
    changes: Mapping[str, Cover] | None = None,
) -> Graph:
    """The graph of one layout ("": of all) from the book's entries, with the ways to them that they name; `ways` are
    those to other places, and `changes` a model's own covers by id, which stand in for the book's.

    A place of `ways` that only other layouts have is left out. Raises ValueError as `Graph`.
    """
    here = {id: entry for id, entry in entries.items() if not layout or layout in entry.layouts}
    covers = {
        id: Cover(entry.name, entry.off, entry.on, tuple(entry.under), entry.people, tuple(getattr(entry, "needs", ())))
        for id, entry in here.items()
    }
    own = {id: tuple(map(tuple, found)) for id, entry in here.items() if (found := getattr(entry, "ways", ()))}
    return Graph({**covers, **(changes or {})}, {**own, **(ways or {})})


def routes(
    graph: Graph,
    needed: Collection[str],
    *,
    can: Collection[str] | None = None,
    already_off: Collection[str] = frozenset(),
) -> tuple[Route, ...]:
    """Every route to the `needed` covers and places in a bay that offers `can` (None: everything), fewest billed
    minutes first. Covers already off take no time any more (putting those back is another matter).

    >>> sides = Graph({"deck": Cover("deck", 10, 15), "floor": Cover("floor", 6, 8)}, {"rod": (("deck",), ("floor",))})
    >>> [(route.covers, route.billed) for route in routes(sides, ["rod"])]
    [(('floor',), 14.0), (('deck',), 25.0)]
    """
    found = []
    for taken in graph.choices(needed):
        order = graph.order(needed, taken)
        if not graph.offered(order, can):
            continue
        todo = [graph.covers[id] for id in order if id not in already_off]
        found.append(
            Route(
                taken=tuple(taken.items()),
                covers=order,
                clock=float(sum(cover.off + cover.on for cover in todo)),
                billed=float(sum(cover.billed for cover in todo)),
                needs=frozenset(need for id in order for need in graph.covers[id].needs),
            )
        )
    return tuple(sorted(found, key=lambda route: (route.billed, route.clock)))
