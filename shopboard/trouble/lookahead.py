"""Expected minutes to fix: of repairing in a good order, and of checking first.

Expected cost of repair after Heckerman, Breese and Rommelse, Decision-theoretic troubleshooting, CACM 1995, widened to
two faults at once and to covers that several actions share: a cover costs its minutes once. Whoever gives up hands
the machine on, which costs ESCALATION_MINUTES and then the repair itself.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from .network import Floats, Network
from .scales import ESCALATION_MINUTES
from .work import Flags, Work

#: Repairs followed before the rest is handed on; rows worked on at once (small enough for the cache).
_DEPTH, _ROWS = 10, 128

Ints = npt.NDArray[np.intp]


class Lookahead:
    """One machine at one moment: what may be wrong with it, and what each action costs and tells.

    Only hypotheses that matter are kept (`kept` of the probability, at most `most` of them), the rest scaled away:
    the ranking is exact, the choice of a check need not be.
    """

    def __init__(
        self,
        net: Network,
        costs: Work,
        chance: Floats,
        tables: dict[str, Floats],
        off: Flags,
        at: int | None,
        *,
        kept: float = 0.99,
        most: int = 80,
    ) -> None:
        self.costs, self.off, self.at = costs, off, at
        count = len(net.causes)
        order = np.argsort(-chance, kind="stable")
        enough = int(np.searchsorted(np.cumsum(chance[order]), kept)) + 1
        self._keep(net, order[: min(enough, most)], count)
        self.chance = chance[self.ids] / chance[self.ids].sum()
        self.names = tuple(tables)
        self.rows = [tables[id][:, self.ids] for id in self.names]
        self.number = np.array([costs.checks.index(id) for id in self.names], dtype=int)

    def _keep(self, net: Network, likely: Ints, count: int) -> None:
        """Keep these hypotheses, "none of these", and the single causes that pairs among them can leave behind."""
        pairs = likely[likely > count] - 1 - count
        singles = {0, *(1 + net.first[pairs]), *(1 + net.second[pairs])}
        self.ids = np.array(sorted(singles | set(likely.tolist())), dtype=int)
        first = np.zeros(len(self.ids), dtype=int)
        second = first.copy()
        for place, id in enumerate(self.ids):
            if 0 < id <= count:
                first[place] = second[place] = self.costs.repair_of[id - 1]
            elif id > count:
                first[place] = self.costs.repair_of[net.first[id - 1 - count]]
                second[place] = self.costs.repair_of[net.second[id - 1 - count]]
        self.repairs = np.unique(np.concatenate((first[1:], second[1:])))
        local = {int(repair): place for place, repair in enumerate(self.repairs)}
        self.first = np.array([local.get(int(r), 0) for r in first], dtype=int)
        self.second = np.array([local.get(int(r), 0) for r in second], dtype=int)
        alone = {int(a): place for place, (a, b) in enumerate(zip(first, second, strict=True)) if place and a == b}
        self.single = np.array([alone[int(repair)] for repair in self.repairs], dtype=int)
        self.needs = np.zeros((len(self.ids), len(self.repairs)))
        self.needs[np.arange(1, len(self.ids)), self.first[1:]] = 1.0
        self.needs[np.arange(1, len(self.ids)), self.second[1:]] = 1.0
        self.minutes = np.maximum(self.costs.repair_minutes[self.repairs], 0.1)
        self.covers = self.costs.repair_covers[self.repairs]
        self.uncovered = 1.0 - self.covers
        self.access = (self.covers * self.costs.access).T.copy()
        each = self.minutes + self.covers @ self.costs.access
        self.handed_on = ESCALATION_MINUTES + self.needs @ each

    def repair_cost(self, chance: Floats, off: Flags) -> Floats:
        """Expected minutes to fix by repairs alone, for each row of `chance` (rows × hypotheses) with the covers `off`
        (rows × covers): the best point at which to stop and hand the machine on, of an order that always takes the
        repair with the most probability a minute next."""
        if not len(self.repairs):
            handed: Floats = chance @ self.handed_on
            return handed
        parts = range(0, len(chance), _ROWS)
        return np.concatenate([self._best_stop(*self._order(chance[i : i + _ROWS], off[i : i + _ROWS])) for i in parts])

    def _order(self, chance: Floats, off: Flags) -> tuple[Floats, Ints, Floats]:
        """The order of repairs for each row: when each is made, and the minutes spent by then."""
        rows, count = len(chance), len(self.repairs)
        steps = min(_DEPTH, count)
        every = np.arange(rows)
        wanted = chance @ self.needs
        closed = 1.0 - off
        spent, paid = np.zeros(rows), np.zeros((rows, steps + 1))
        when = np.full((rows, count), steps)
        for step in range(steps):
            cost = closed @ self.access
            cost += self.minutes
            pick = (wanted / cost).argmax(axis=1)
            spent = spent + cost[every, pick]
            paid[:, step + 1] = spent
            when[every, pick] = step
            wanted[every, pick] = -1.0
            closed *= self.uncovered[pick]
        return chance, when, paid

    def _best_stop(self, chance: Floats, when: Ints, paid: Floats) -> Floats:
        """The least over all stopping points: those fixed by then paid until then, the others are handed on."""
        rows, steps = len(chance), paid.shape[1] - 1
        fixed_at = np.maximum(when[:, self.first], when[:, self.second])
        fixed_at[:, 0] = steps
        fixed_at += (steps + 1) * np.arange(rows)[:, None]
        flat, size = fixed_at.ravel(), rows * (steps + 1)
        fixed = np.bincount(flat, chance.ravel(), size).reshape(paid.shape)
        handed = np.bincount(flat, (chance * self.handed_on).ravel(), size).reshape(paid.shape)
        before = np.zeros((3, rows, steps + 1))
        np.cumsum(fixed[:, :steps] * paid[:, 1:], axis=1, out=before[0, :, 1:])
        np.cumsum(fixed[:, :steps], axis=1, out=before[1, :, 1:])
        np.cumsum(handed[:, :steps], axis=1, out=before[2, :, 1:])
        value = before[0] + (1.0 - before[1]) * paid + (handed.sum(axis=1, keepdims=True) - before[2])
        best: Floats = value.min(axis=1)
        return best

    def check_costs(self, off: Flags, at: int | None) -> Floats:
        """Minutes of each check that can be made, with these covers off and from this place."""
        costs: Floats = self.costs.check_costs(off, at)[self.number]
        return costs

    def after_check(self, chance: Floats, check: int) -> tuple[Floats, Floats]:
        """Every outcome of a check: probabilities by hypothesis (rows), and that of the outcome."""
        joint = self.rows[check] * chance
        weight = joint.sum(axis=1)
        return joint / np.maximum(weight, 1e-300)[:, None], weight

    def after_repair(self, chance: Floats, repair: int) -> tuple[Floats, float]:
        """What remains if a repair does not cure: probabilities by hypothesis, and that it does not cure."""
        left = chance.copy()
        first, second = self.first == repair, self.second == repair
        first[0] = second[0] = False
        left[first & second] = 0.0
        for gone, other in ((first & ~second, self.second), (second & ~first, self.first)):
            np.add.at(left, self.single[other[gone]], left[gone])
            left[gone] = 0.0
        total = float(left.sum())
        return left / max(total, 1e-300), total

    def one_step(self, chance: Floats, off: Flags, ats: Sequence[int | None], checks: Ints) -> Floats:
        """Expected minutes of each named check (column) followed by repairs alone, for each row of `chance`."""
        table = np.concatenate([self.rows[check] for check in checks])
        start = np.cumsum([0, *(len(self.rows[check]) for check in checks)])[:-1]
        owner = np.repeat(np.arange(len(checks)), [len(self.rows[check]) for check in checks])
        joint = chance[:, None, :] * table
        weight = joint.sum(axis=2)
        joint /= np.maximum(weight, 1e-300)[:, :, None]
        open_ = off[:, None, :] | self.costs.check_covers[self.number[checks][owner]]
        flat = (len(chance) * len(table), -1)
        value = self.repair_cost(joint.reshape(flat), open_.reshape(flat)).reshape(weight.shape)
        cost = np.array([self.check_costs(row, at)[checks] for row, at in zip(off, ats, strict=True)])
        result: Floats = cost + np.add.reduceat(weight * value, start, axis=1)
        return result
