"""Two steps ahead: what to do next, a check or a repair, and the minutes each choice would save."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .lookahead import Ints, Lookahead
from .network import Floats
from .work import Flags

#: How many checks, and how many repairs, are followed two steps deep.
CHECK_BEAM, REPAIR_BEAM = 8, 3
#: How many checks are tried as the second step, and how many repairs as the first.
SECOND_STEP, REPAIRS_TRIED = 10, 8


@dataclass(frozen=True)
class Decision:
    """Expected minutes to fix for each check made first (by its place in `look.names`), for each repair made first
    (by its place in `look.repairs`), when handing the machine on at once, and by repairs alone."""

    checks: Floats
    repairs: Floats
    hand_on: float
    repairs_alone: float

    @property
    def best(self) -> float:
        """Expected minutes to fix with the best first action."""
        return float(min(self.checks.min(initial=np.inf), self.repairs.min(initial=np.inf), self.hand_on))

    @property
    def saves(self) -> Floats:
        """Minutes each check made first saves against repairing without any check; below 0 it costs."""
        result: Floats = self.repairs_alone - self.checks
        return result


def decide(look: Lookahead, *, deep: bool = True) -> Decision:
    """The expected minutes of every first action. With `deep`, the most promising are followed a second step."""
    hand_on = float(look.chance @ look.handed_on)
    chance, off = look.chance[None], look.off[None]
    repairs = _repairs_first(look)
    every = np.arange(len(look.names))
    checks = look.one_step(chance, off, [look.at], every)[0] if len(every) else np.zeros(0)
    if deep and len(every):
        _deepen(look, checks, repairs)
    return Decision(checks, repairs, hand_on, float(look.repair_cost(chance, off)[0]))


def _repairs_first(look: Lookahead) -> Floats:
    """Each of the most promising repairs made first, the others in good order after it; the rest are not tried."""
    value = np.full(len(look.repairs), np.inf)
    minutes = _repair_minutes(look)
    tried = np.argsort(minutes / np.maximum(look.chance @ look.needs, 1e-12), kind="stable")[:REPAIRS_TRIED]
    if len(tried):
        left = [look.after_repair(look.chance, int(repair)) for repair in tried]
        rest = look.repair_cost(np.array([chance for chance, _ in left]), look.off | look.covers[tried])
        value[tried] = minutes[tried] + np.array([share for _, share in left]) * rest
    return value


def _repair_minutes(look: Lookahead) -> Floats:
    minutes: Floats = look.minutes + (look.covers & ~look.off) @ look.costs.access
    return minutes


def _deepen(look: Lookahead, checks: Floats, repairs: Floats) -> None:
    """Replace the value of the best checks and repairs by that with the best second step after each outcome."""
    second = np.argsort(checks, kind="stable")[:SECOND_STEP]
    first_checks, first_repairs = second[:CHECK_BEAM], np.argsort(repairs, kind="stable")[:REPAIR_BEAM]
    states = [_after_check(look, int(check)) for check in first_checks]
    states += [_after_repair(look, int(repair)) for repair in first_repairs]
    best = _best_second(look, states, second)
    start = 0
    for table, beam, minutes in (
        (checks, first_checks, look.check_costs(look.off, look.at)),
        (repairs, first_repairs, _repair_minutes(look)),
    ):
        for action in beam:
            weight = states[start].weight
            value = minutes[action] + float(weight @ best[start])
            table[action] = min(table[action], value)
            start += 1


@dataclass(frozen=True)
class _State:
    """After a first step: probabilities by hypothesis for each outcome (rows), how probable each is, covers off, where
    the machine stands, and the check that cannot be made again (-1: none)."""

    chance: Floats
    weight: Floats
    off: Flags
    at: int | None
    made: int


def _after_check(look: Lookahead, check: int) -> _State:
    chance, weight = look.after_check(look.chance, check)
    number = look.number[check]
    at = None if look.at is None else int(look.costs.check_place[number])
    return _State(chance, weight, look.off | look.costs.check_covers[number], at, check)


def _after_repair(look: Lookahead, repair: int) -> _State:
    chance, share = look.after_repair(look.chance, repair)
    return _State(chance[None], np.array([share]), look.off | look.covers[repair], look.at, -1)


def _best_second(look: Lookahead, states: list[_State], second: Ints) -> list[Floats]:
    """Expected minutes after each outcome of each state: repairs alone, or the best of these checks before them."""
    rows = [len(state.chance) for state in states]
    chance = np.concatenate([state.chance for state in states])
    off = np.repeat(np.array([state.off for state in states]), rows, axis=0)
    ats = [state.at for state in states for _ in state.weight]
    made = np.repeat([state.made for state in states], rows)
    with_check = look.one_step(chance, off, ats, second)
    with_check[made[:, None] == second] = np.inf
    best = np.minimum(look.repair_cost(chance, off), with_check.min(axis=1))
    return np.split(best, np.cumsum(rows)[:-1])
