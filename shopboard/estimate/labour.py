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
    for cover in needed:
        _take_off(cover, under, order, [])
    return tuple(order)


def _take_off(cover: str, under: Mapping[str, Collection[str]], order: dict[str, None], above: list[str]) -> None:
    if cover in order:
        return
    if cover in above:
        raise ValueError(f"covers lie under each other: {' under '.join([*above, cover])}")
    above.append(cover)
    for first in under.get(cover, ()):
        _take_off(first, under, order, above)
    above.pop()
    order[cover] = None


def access_minutes(
    needed: Iterable[str], covers: Mapping[str, CoverTimes], already_off: Collection[str] = frozenset()
) -> float:
    """Minutes to take off and put back the closure of the `needed` covers, less those already off.

    Raises KeyError for a cover that `covers` does not have, ValueError for covers in a circle.
    """
    return _access(needed, covers, {id: cover.under for id, cover in covers.items()}, already_off)


def _access(
    needed: Iterable[str],
    covers: Mapping[str, CoverTimes],
    under: Mapping[str, Collection[str]],
    already_off: Collection[str],
) -> float:
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
    own = float(sum(minutes for minutes, _ in wanted))
    if not together:
        return Labour(own, 0.0, (), 0.0)
    under = {id: cover.under for id, cover in covers.items()}
    access = _access(together, covers, under, already_off)
    alone = sum(_access(needed, covers, under, already_off) for _, needed in wanted if needed)
    to_come_off = tuple(cover for cover in closure(together, under) if cover not in already_off)
    return Labour(own, access, to_come_off, alone - access)


def reachable(off: Collection[str], needed: Collection[str], covers: Mapping[str, CoverTimes]) -> bool:
    """Whether with the covers `off`, and no other, everything that needs `needed` off can be reached."""
    return all(cover in off for cover in closure(needed, {id: cover.under for id, cover in covers.items()}))
