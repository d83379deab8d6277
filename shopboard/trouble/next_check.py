"""The check that saves the most expected time, and when repairing now is the better bet."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from typing import Any

import msgspec
import numpy as np

from shopboard.estimate.labour import closure

from .book import Book
from .complaint import without_bystanders
from .decision import Decision, decide
from .evidence import Evidence, Item, items, known, spoilt_share
from .lookahead import Lookahead
from .network import Floats, Network, network
from .ranking import hypotheses
from .work import Flags, can_do, place_number, work


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


class NextRepair(msgspec.Struct, frozen=True):
    """The repair that is the best bet now: the likeliest cause it cures, how probable it is that it cures everything,
    and its minutes with the covers that must come off first."""

    cause: str
    correction: str
    name: str
    probability: float
    minutes: float
    covers: tuple[str, ...]
    cautions: tuple[str, ...]


class Advice(msgspec.Struct, frozen=True):
    """What to do next. `repair_now` when a repair (or, with no `repair`, handing the machine on) is the better bet
    than any check; `minutes_to_fix` are those expected if the advice is followed; `why` says it in a sentence."""

    checks: tuple[NextCheck, ...]
    repair: NextRepair | None
    repair_now: bool
    minutes_to_fix: float
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
    """The checks that save time against repairing without any, the one that saves most first; none if none does.

    `covers_off` are covers off already, `lacks` what the unit does not have, `instruments` those the shop owns (None:
    all), `at` where the machine stands (counter, yard, bay, move; None: no way counted), `weights` as for `rank`.
    `advise` says as well when repairing now is the better bet.
    """
    look = looking(book, layout, evidence, covers_off, lacks, instruments, at, weights)
    return _checks(network(book, layout), look, decide(look), covers_off, limit)


def advise(
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
) -> Advice:
    """The checks of `next_checks`, the best repair, and which of them is the better bet now."""
    look = looking(book, layout, evidence, covers_off, lacks, instruments, at, weights)
    made, net = decide(look), network(book, layout)
    checks = _checks(net, look, made, covers_off, limit)
    best_check = float(made.checks.min(initial=np.inf))
    best_repair = float(made.repairs.min(initial=np.inf))
    repair = _repair(net, look, int(made.repairs.argmin()), covers_off) if best_repair <= made.hand_on else None
    now = min(best_repair, made.hand_on) <= best_check
    return Advice(checks, repair, now, made.best, _why(checks, repair, now))


def _why(checks: tuple[NextCheck, ...], repair: NextRepair | None, now: bool) -> str:
    if now and repair is None:
        return "no check and no repair of the book is worth its time: hand it to somebody who can open it up"
    if now and repair is not None:
        return (
            f"repair now: {repair.name} cures it with {repair.probability:.0%}, and no check saves more than it costs"
        )
    return f"check first: {checks[0].name} {checks[0].why}" if checks else "check first"


def _checks(
    net: Network, look: Lookahead, made: Decision, covers_off: Collection[str], limit: int
) -> tuple[NextCheck, ...]:
    saved, minutes = made.saves, look.check_costs(look.off, look.at)
    wanted = [int(check) for check in np.argsort(-saved, kind="stable") if saved[check] > 0]
    best = _of_their_own(look, made, wanted, minutes)[:limit]
    return tuple(
        _next(net, look.names[check], float(minutes[check]), float(saved[check]), covers_off) for check in best
    )


def _of_their_own(look: Lookahead, made: Decision, wanted: list[int], minutes: Floats) -> list[int]:
    """Those of the wanted checks, the best first, that are not named only for the good check that could follow them:
    any idle look of a minute could be made before the best one."""
    if not wanted:
        return []
    saved = made.saves
    alone = look.one_step(look.chance[None], look.off[None], [look.at], np.array(wanted, dtype=int))[0]
    return [
        check
        for check, value in zip(wanted, made.repairs_alone - alone, strict=True)
        if value > 0 or saved[check] > saved[wanted[0]] - minutes[check]
    ]


def _repair(net: Network, look: Lookahead, repair: int, covers_off: Collection[str]) -> NextRepair:
    costs = work(net)
    number = look.repairs[repair]
    cured = (look.first == repair) & (look.second == repair) & (np.arange(len(look.ids)) > 0)
    alone = np.flatnonzero(cured & (look.ids <= len(net.causes)))
    cause = net.causes[int(look.ids[alone[np.argmax(look.chance[alone])]]) - 1]
    correction = net.book.corrections[costs.repairs[number]]
    minutes = float(look.minutes[repair] + (look.covers[repair] & ~look.off) @ costs.access)
    return NextRepair(
        cause=cause,
        correction=correction.id,
        name=correction.name,
        probability=float(look.chance[cured].sum()),
        minutes=minutes,
        covers=_to_come_off(net, costs.repair_covers[number], covers_off),
        cautions=tuple(net.book.cautions[id].text for id in correction.cautions),
    )


def _to_come_off(net: Network, needed: Flags, covers_off: Collection[str]) -> tuple[str, ...]:
    """The covers still to take off, in an order that works."""
    under = {id: cover.above for id, cover in net.book.covers.items()}
    wanted = [id for id, flag in zip(work(net).covers, needed, strict=True) if flag]
    return tuple(id for id in closure(wanted, under) if id not in covers_off)


def looking(
    book: Book,
    layout: Any,
    evidence: Evidence,
    covers_off: Collection[str],
    lacks: Collection[str],
    instruments: Collection[str] | None,
    at: Any,
    weights: Mapping[str, float] | None,
) -> Lookahead:
    """The machine as `next_checks` looks at it: checks that were answered or cannot be made are left out."""
    net = network(book, layout)
    found = items(net, evidence)
    asked = known(net, evidence)
    tables = {
        id: _told(net, id, found)
        for id in net.checks
        if id not in asked and can_do(book.checks[id], lacks, instruments)
    }
    costs = work(net)
    chance = without_bystanders(net, found, hypotheses(net, found, weights))
    return Lookahead(net, costs, chance, tables, costs.flags(covers_off), place_number(at))


def outcome_chances(book: Book, layout: Any, evidence: Evidence, check: str) -> dict[str, float]:
    """How probable each outcome of a check not yet made is, given the evidence; they sum to 1."""
    net = network(book, layout)
    found = items(net, evidence)
    chances = _told(net, check, found) @ hypotheses(net, found)
    return {id: float(chances[row]) for id, row in net.rows[check].items()}


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
    return NextCheck(
        check=check,
        name=entry.name,
        minutes=minutes,
        saves_minutes=saved,
        where=entry.where,
        covers=_to_come_off(net, needed, covers_off),
        tool=entry.tool,
        cautions=tuple(net.book.cautions[id].text for id in entry.cautions),
        how=entry.how,
        why=f"saves about {saved:.0f} min",
    )
