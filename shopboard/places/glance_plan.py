"""The plan that the glance goes by: the one kept by a board that is open, else one made quickly."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Literal, NamedTuple
from zoneinfo import ZoneInfo

from shopboard.records import ShopState

from .plan_kept import kept, kept_planned
from .planned import Planned, Planner

if TYPE_CHECKING:
    from shopboard.trouble import Book

How = Literal["kept", "quick"]


class GlancePlan(NamedTuple):
    """A plan, and whether it was kept by a board or made quickly: then from the book's times alone, without what closed
    jobs teach and without saying how sure each date is."""

    planned: Planned
    how: How


def plan_of(folder: Path, state: ShopState, book: Book, now: datetime, zone: ZoneInfo) -> GlancePlan:
    """The plan of the shop whose own files lie in `folder`; nothing is written. A quick one takes some tenths of a
    second, most of it to look up public holidays."""
    planned = kept_planned(folder, state.settings, now, zone, state.seq)
    if planned is not None:
        return GlancePlan(planned, "kept")
    planner = Planner(state, book, zone)
    planner.seen = kept(folder, state.settings, now)
    return GlancePlan(next(iter(planner.plan(now, lambda: True, quiet=True))), "quick")
