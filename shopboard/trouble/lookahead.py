"""Expected minutes to fix: of repairing in a good order, and of checking first.

Expected cost of repair after Heckerman, Breese and Rommelse, Decision-theoretic troubleshooting, CACM 1995, widened to
two faults at once and to covers that several actions share: a cover costs its minutes once. Whoever gives up hands
the machine on, which costs ESCALATION_MINUTES and then the repair itself.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from .network import Floats, Network
from .scales import ESCALATION_MINUTES
from .work import WAY, Flags, Work

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
        kept: float = 0.995,
        most: int = 160,
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
        self.repairs = np.unique(np.concatenate((first[1:], second[1:]))) if len(self.ids) > 1 else first[:0]
        local = {int(repair): place for place, repair in enumerate(self.repairs)}
        self.first = np.array([local.get(int(r), 0) for r in first], dtype=int)
        self.second = np.array([local.get(int(r), 0) for r in second], dtype=int)
        self.needs = np.zeros((len(self.ids), len(self.repairs)))
        self.needs[np.arange(1, len(self.ids)), self.first[1:]] = 1.0
        self.needs[np.arange(1, len(self.ids)), self.second[1:]] = 1.0
        self.minutes = self.costs.repair_minutes[self.repairs]
        self.covers = self.costs.repair_covers[self.repairs]
        alone = self.minutes + self.covers @ self.costs.access
        self.handed_on = ESCALATION_MINUTES + self.needs @ alone

    def repair_cost(self, chance: Floats, off: Flags, depth: int = 12) -> Floats:
        """Expected minutes to fix by repairs alone, for each row of `chance` (rows × hypotheses) with the covers `off`
        (rows × covers): the best point at which to stop and hand the machine on, of an order that always takes the
        repair with the most probability a minute next."""
        rows, count = len(chance), len(self.repairs)
        every = np.arange(rows)
        left = np.ones((rows, count))
        wanted = chance @ self.needs
        spent = np.zeros(rows)
        open_ = off.copy()
        place = np.full((rows, count), count, dtype=int)
        paid = np.zeros((rows, min(depth, count) + 1))
        fixed_covers = self.covers.astype(float) * self.costs.access
        for step in range(min(depth, count)):
            cost = self.minutes + (~open_) @ fixed_covers.T
            pick = np.argmax(left * wanted / np.maximum(cost, 1e-9), axis=1)
            spent = spent + cost[every, pick]
            paid[:, step + 1] = spent
            place[every, pick] = step
            left[every, pick] = 0.0
            open_ |= self.covers[pick]
        return self._best_stop(chance, place, paid)

    def _best_stop(self, chance: Floats, place: Ints, paid: Floats) -> Floats:
        """The least over all stopping points: those fixed by then paid until then, the others are handed on."""
        rows, steps = len(chance), paid.shape[1] - 1
        when = np.minimum(np.maximum(place[:, self.first], place[:, self.second]), steps)
        when[:, 0] = steps
        flat = (when + (steps + 1) * np.arange(rows)[:, None]).ravel()
        shape = (rows, steps + 1)
        fixed = np.bincount(flat, chance.ravel(), rows * (steps + 1)).reshape(shape)
        handed = np.bincount(flat, (chance * self.handed_on).ravel(), rows * (steps + 1)).reshape(shape)
        paid_fixed = np.cumsum(fixed[:, :steps] * paid[:, 1:], axis=1)
        before = np.concatenate((np.zeros((rows, 1)), paid_fixed), axis=1)
        unfixed = 1.0 - np.concatenate((np.zeros((rows, 1)), np.cumsum(fixed[:, :steps], axis=1)), axis=1)
        still = handed.sum(axis=1, keepdims=True) - np.concatenate(
            (np.zeros((rows, 1)), np.cumsum(handed[:, :steps], axis=1)), axis=1
        )
        best: Floats = (before + unfixed * paid + still).min(axis=1)
        return best

    def check_costs(self, off: Flags, at: int | None) -> Floats:
        """Minutes of each check that can be made, with these covers off and from this place."""
        costs: Floats = self.costs.check_costs(off, at)[self.number]
        return costs

    def after(self, chance: Floats, checks: list[int]) -> tuple[Floats, Floats, Ints]:
        """Every outcome of the named checks: probabilities of hypotheses (rows), of the outcome, and whose it is."""
        joint = np.concatenate([self.rows[check] for check in checks]) * chance
        weight = joint.sum(axis=1)
        owner = np.repeat(checks, [len(self.rows[check]) for check in checks])
        return joint / np.maximum(weight, 1e-300)[:, None], weight, owner

    def one_step(self, chance: Floats, off: Flags, at: int | None, checks: list[int]) -> Floats:
        """Expected minutes of each named check followed by repairs alone."""
        posterior, weight, owner = self.after(chance, checks)
        open_ = off | self.costs.check_covers[self.number[owner]]
        value = self.repair_cost(posterior, open_)
        cost = self.check_costs(off, at)[checks]
        total = np.bincount(owner, weight * value, len(self.names))[checks]
        result: Floats = cost + total
        return result

    def place_after(self, check: int) -> int | None:
        """Where the machine stands after the check; a question leaves it where it is."""
        return None if self.at is None else int(self.costs.check_place[self.number[check]])


__all__ = ["WAY", "Lookahead"]
