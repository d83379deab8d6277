"""What checks and repairs cost on one layout, in minutes: own work, covers not yet off, and the way there."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from typing import Any

import numpy as np
import numpy.typing as npt

from shopboard.estimate.labour import closure

from .book import Book, Check
from .network import Floats, Network

Flags = npt.NDArray[np.bool_]

#: Where a machine can stand; a check with the customer at the counter costs a call once the machine has moved on.
PLACES = ("counter", "yard", "bay", "move")
#: Minutes from one place (row) to another (column): a call to the customer, or moving and securing the machine. What
#: can be looked at in the yard can be looked at in the bay as well.
WAY = np.array(
    [
        [0.0, 3.0, 10.0, 10.0],
        [8.0, 0.0, 10.0, 5.0],
        [8.0, 0.0, 0.0, 10.0],
        [8.0, 0.0, 10.0, 0.0],
    ]
)


class Work:
    """The costs of every check and repair of a layout. A repair is the usual correction of one or more causes."""

    def __init__(self, net: Network) -> None:
        book, layout = net.book, net.layout
        self.covers = tuple(sorted(id for id, cover in book.covers.items() if layout in cover.layouts))
        self.access = np.array([book.covers[id].off + book.covers[id].on for id in self.covers], dtype=float)
        self.checks = tuple(net.checks)
        self.check_minutes = np.array([book.checks[id].minutes_on(layout) for id in self.checks], dtype=float)
        self.check_covers = self._needed(book, (book.checks[id].covers_on(layout) for id in self.checks))
        self.check_place = np.array([PLACES.index(book.checks[id].where) for id in self.checks], dtype=int)
        usual = [book.causes[id].correction[0] for id in net.causes]
        self.repairs = tuple(sorted(set(usual)))
        self.repair_of = np.array([self.repairs.index(id) for id in usual], dtype=int)
        corrections = [book.corrections[id] for id in self.repairs]
        self.repair_minutes = np.array([correction.minutes_on(layout) for correction in corrections], dtype=float)
        self.repair_covers = self._needed(book, (correction.covers_on(layout) for correction in corrections))

    def _needed(self, book: Book, each: Iterable[Collection[str]]) -> Flags:
        """One row an action, one column a cover: whether it must come off, those above it included."""
        under = {id: cover.above for id, cover in book.covers.items()}
        rows = [set(closure(needed, under)) for needed in each]
        flags = [[id in row for id in self.covers] for row in rows]
        return np.array(flags, dtype=bool).reshape(len(rows), len(self.covers))

    def flags(self, covers_off: Collection[str]) -> Flags:
        """The covers off as one flag each; covers the layout does not have are left out."""
        return np.array([id in covers_off for id in self.covers], dtype=bool)

    def check_costs(self, off: Flags, at: int | None) -> Floats:
        """Minutes of each check with these covers off, from place number `at` (None: wherever it is done)."""
        cost: Floats = self.check_minutes + (self.check_covers & ~off) @ self.access
        return cost if at is None else cost + WAY[at, self.check_place]


def work(net: Network) -> Work:
    """The costs of a network's layout, made once a book."""
    key = ("work", net.layout)
    if key not in net.book.compiled:
        net.book.compiled[key] = Work(net)
    made: Work = net.book.compiled[key]
    return made


def can_do(check: Check, lacks: Collection[str], instruments: Collection[str] | None) -> bool:
    """Whether the check can be made: the unit has what it needs and the shop owns the instrument (None: any)."""
    owned = instruments is None or not check.tool or check.tool in instruments
    return owned and not set(check.needs) & set(lacks)


def place_number(at: Any) -> int | None:
    """The place's number, or None for nowhere in particular. Raises ValueError for a place there is not."""
    if at is None:
        return None
    if at not in PLACES:
        raise ValueError(f"no such place: {at}; one of {', '.join(PLACES)}")
    return PLACES.index(at)
