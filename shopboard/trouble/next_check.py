"""The check that saves the most expected time, and when repairing now is the better bet."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from typing import Any

import msgspec
import numpy as np

from .book import Book
from .evidence import Evidence, Item, items, spoilt_share
from .lookahead import Lookahead
from .network import Floats, Network, network
from .ranking import hypotheses
from .work import can_do, place_number, work


class NextCheck(msgspec.Struct, frozen=True):
    """A check worth making. `minutes` are those it costs now (covers not yet off and the way there included),
    `saves_minutes` the expected minutes to fix that it saves against repairing without it. Cautions are texts, to be
    shown before `how`."""

    check: str
    name: str
    minutes: float
    saves_minutes: float
    where: str
    covers: tuple[str, ...]
    tool: str
    cautions: tuple[str, ...]
    how: str
    why: str


def next_checks(
    book: Book,
    layout: Any,
    evidence: Evidence,
    *,
    covers_off: Collection[str] = frozenset(),
    lacks: Collection[str] = (),
    instruments: Collection[str] | None = None,
    at: Any = None,
    limit: int = 5,
    weights: Mapping[str, float] | None = None,
) -> tuple[NextCheck, ...]:
    """The checks that save time, the one that saves most first; none where repairing now is the better bet.

    `covers_off` are covers off already, `lacks` what the unit does not have, `instruments` those the shop owns (None:
    all), `at` where the machine stands (counter, yard, bay, move; None: no way counted).
    """
    net = network(book, layout)
    found = items(net, evidence)
    chance = hypotheses(net, found, weights)
    asked = {id for id, _ in evidence.answers} | {item.id for item in found}
    tables = {
        id: _told(net, id, found)
        for id in net.checks
        if id not in asked and can_do(book.checks[id], lacks, instruments)
    }
    costs = work(net)
    look = Lookahead(net, costs, chance, tables, costs.flags(covers_off), place_number(at))
    if not look.names or not len(look.repairs):
        return ()
    every = list(range(len(look.names)))
    base = float(look.repair_cost(look.chance[None], look.off[None])[0])
    saved = base - look.one_step(look.chance, look.off, look.at, every)
    best = [check for check in np.argsort(-saved, kind="stable") if saved[check] > 0][:limit]
    minutes = look.check_costs(look.off, look.at)
    return tuple(
        _next(net, look.names[check], float(minutes[check]), float(saved[check]), covers_off) for check in best
    )


def _told(net: Network, check: str, found: tuple[Item, ...]) -> Floats:
    """P(outcome) by hypothesis for a check not yet made, given what was found: a shared error may be at work."""
    error, table = net.book.checks[check].shared_error, net.checks[check]
    if not error:
        return table
    share = spoilt_share(found, error, net.size)
    clouded: Floats = (1.0 - share) * table + share * table[:, :1]
    return clouded


def _next(net: Network, check: str, minutes: float, saved: float, covers_off: Collection[str]) -> NextCheck:
    entry, costs = net.book.checks[check], work(net)
    needed = costs.check_covers[costs.checks.index(check)]
    to_come_off = tuple(id for id, flag in zip(costs.covers, needed, strict=True) if flag and id not in covers_off)
    return NextCheck(
        check=check,
        name=entry.name,
        minutes=minutes,
        saves_minutes=saved,
        where=entry.where,
        covers=to_come_off,
        tool=entry.tool,
        cautions=tuple(net.book.cautions[id].text for id in entry.cautions),
        how=entry.how,
        why=f"saves about {saved:.0f} min",
    )
