"""Rebuild, exchange unit or scrap side by side, against what the machine is worth."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal


@dataclass(frozen=True)
class WayOut:
    """One thing that could be done: what it costs, tax with it, and what the machine would be worth after it (None:
    nobody has said). For scrap the cost is the disposal and the worth is the scrap's price."""

    name: str
    cost: Decimal
    worth_after: Decimal | None = None
    note: str = ""


@dataclass(frozen=True)
class Weighed:
    """A way out with what is `left` of the machine's worth after paying for it (None where no worth is known), and
    whether it leaves the most."""

    way: WayOut
    left: Decimal | None
    best: bool


def side_by_side(ways: Sequence[WayOut]) -> tuple[Weighed, ...]:
    """The ways out in the order given, weighed. None is called best while the worth after any of them is unknown, and
    of equals the first is.

    >>> rebuild = WayOut("rebuild", Decimal(900), Decimal(2400))
    >>> scrap = WayOut("scrap", Decimal(40), Decimal(300))
    >>> [(w.way.name, w.left, w.best) for w in side_by_side([rebuild, scrap])]
    [('rebuild', Decimal('1500'), True), ('scrap', Decimal('260'), False)]
    """
    left = [None if way.worth_after is None else way.worth_after - way.cost for way in ways]
    known = [amount for amount in left if amount is not None]
    best = left.index(max(known)) if known and len(known) == len(left) else None
    return tuple(Weighed(way, left[n], n == best) for n, way in enumerate(ways))
