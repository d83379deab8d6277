"""Labour with the covers counted once: what must come off, in which order, and the minutes it takes.

A job's labour is its own work plus each cover once, off and on again, however many operations share it
(common practice, no source: price the union, not the sum).
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from typing import Protocol


class CoverTimes(Protocol):
    """What labour needs to know of a cover: minutes to take off and put on, and what must be off before it."""

    @property
    def off(self) -> float:
        """Minutes to take it off."""

    @property
    def on(self) -> float:
        """Minutes to put it back on."""

    @property
    def under(self) -> Collection[str]:
        """The covers that must be off before it."""


def closure(needed: Iterable[str], under: Mapping[str, Collection[str]]) -> tuple[str, ...]:
    """Every cover that must come off to have the `needed` ones off, each once, in an order that works.

    `under` names for a cover those that must come off before it; a cover it does not name has none. Raises
    ValueError if covers lie under each other in a circle.

    >>> closure(["pump-shield"], {"pump-shield": ["floor-plate"], "floor-plate": ["mat"]})
    ('mat', 'floor-plate', 'pump-shield')
    """
    order: dict[str, None] = {}
    above: list[str] = []

    def take_off(cover: str) -> None:
        if cover in order:
            return
        if cover in above:
            raise ValueError(f"covers lie under each other: {' under '.join([*above, cover])}")
        above.append(cover)
        for first in under.get(cover, ()):
            take_off(first)
        above.pop()
        order[cover] = None

    for cover in needed:
        take_off(cover)
    return tuple(order)


def access_minutes(
    needed: Iterable[str], covers: Mapping[str, CoverTimes], already_off: Collection[str] = frozenset()
) -> float:
    """Minutes to take off and put back the closure of the `needed` covers, less those already off.

    Raises KeyError for a cover that `covers` does not have, ValueError for covers in a circle.
    """
    under = {id: cover.under for id, cover in covers.items()}
    return float(sum(covers[c].off + covers[c].on for c in closure(needed, under) if c not in already_off))


@dataclass(frozen=True)
class Labour:
    """Labour of several operations done together, in minutes: own work, access once, the covers in the order they
    come off, and what is saved against doing each operation alone."""

    own: float
    access: float
    covers: tuple[str, ...]
    saved: float

    @property
    def total(self) -> float:
        """Own work and access together, in minutes."""
        return self.own + self.access


def labour(
    operations: Iterable[tuple[float, Collection[str]]],
    covers: Mapping[str, CoverTimes],
    already_off: Collection[str] = frozenset(),
) -> Labour:
    """The labour of operations given as (own minutes, covers they need off), done in one visit.

    >>> from types import SimpleNamespace as Cover
    >>> plate = {"plate": Cover(off=8, on=10, under=())}
    >>> done = labour([(30, ["plate"]), (5, ["plate"])], plate)
    >>> done.total, done.saved
    (53.0, 18.0)
    """
    wanted = list(operations)
    together = [cover for _, needed in wanted for cover in needed]
    access = access_minutes(together, covers, already_off)
    alone = sum(access_minutes(needed, covers, already_off) for _, needed in wanted)
    order = closure(together, {id: cover.under for id, cover in covers.items()})
    to_come_off = tuple(cover for cover in order if cover not in already_off)
    return Labour(float(sum(minutes for minutes, _ in wanted)), access, to_come_off, alone - access)


def reachable(off: Collection[str], needed: Collection[str], covers: Mapping[str, CoverTimes]) -> bool:
    """Whether with the covers `off`, and no other, everything that needs `needed` off can be reached."""
    return all(cover in off for cover in closure(needed, {id: cover.under for id, cover in covers.items()}))
