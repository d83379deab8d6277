"""Ways to choose what to do next on the small books of `exact_policy`, the engine's own among them."""

from __future__ import annotations

import math

import numpy as np

from aids.exact_policy import Action, Policy, Shop, State
from shopboard.trouble.decision import decide
from shopboard.trouble.lookahead import Lookahead
from shopboard.trouble.network import Network, network
from shopboard.trouble.work import work


def _vector(net: Network, state: State) -> np.ndarray:
    chance = np.zeros(net.size)
    count = len(net.causes)
    place = {frozenset(): 0} | {frozenset({c}): 1 + i for i, c in enumerate(net.causes)}
    pairs = zip(net.first, net.second, strict=True)
    place |= {frozenset({net.causes[a], net.causes[b]}): 1 + count + i for i, (a, b) in enumerate(pairs)}
    for faults, p in state.chance:
        chance[place[faults]] = p
    return chance


def ours(shop: Shop, *, deep: bool = True) -> Policy:
    """The engine's choice: two steps ahead, or one."""
    net = network(shop.book, "in-line")
    costs = work(net)

    def choose(state: State) -> Action:
        tables = {id: net.checks[id] for id in net.checks if id in state.left}
        look = Lookahead(net, costs, _vector(net, state), tables, costs.flags(state.off), None)
        made = decide(look, deep=deep)
        options: list[tuple[float, Action]] = [(made.hand_on, ("hand on", ""))]
        options += [(float(v), ("check", id)) for v, id in zip(made.checks, look.names, strict=True)]
        for value, repair in zip(made.repairs, look.repairs, strict=True):
            cause = net.causes[int(np.flatnonzero(costs.repair_of == repair)[0])]
            options.append((float(value), ("repair", cause)))
        return min(options)[1]

    return choose


def _presence(state: State) -> dict[str, float]:
    present: dict[str, float] = {}
    for faults, p in state.chance:
        for cause in faults:
            present[cause] = present.get(cause, 0.0) + p
    return present


def by_probability_over_cost(shop: Shop) -> Policy:
    """Repairs only, the greatest probability a minute first, until handing on is cheaper than one more repair."""

    def choose(state: State) -> Action:
        present = _presence(state)
        if not present:
            return ("hand on", "")
        cost = {c: shop.cost(("repair", c), state.off)[0] for c in present}
        best = max(sorted(present), key=lambda c: present[c] / cost[c])
        worth = present[best] * shop.hand_on(state) > cost[best]
        return ("repair", best) if worth else ("hand on", "")

    return choose


def by_information(shop: Shop, sure: float = 0.75) -> Policy:
    """The check with the most information a minute until one cause is this sure, then probability over cost."""
    repair = by_probability_over_cost(shop)

    def gain(state: State, check: str) -> float:
        after = shop.after_check(state, check)
        return _bits(state) - sum(p * _bits(s) for p, s in after.values())

    def choose(state: State) -> Action:
        if max(_presence(state).values(), default=1.0) >= sure or not state.left:
            return repair(state)
        rate = {c: gain(state, c) / shop.cost(("check", c), state.off)[0] for c in sorted(state.left)}
        best = max(rate, key=lambda c: rate[c])
        return ("check", best) if gain(state, best) > 0.02 else repair(state)

    return choose


def _bits(state: State) -> float:
    return -sum(p * math.log2(p) for _, p in state.chance if p > 0)


def by_fixed_chart(shop: Shop) -> Policy:
    """A wall chart that does not listen: the same checks in the same order, the least work first; after the last, the
    repairs by what is then likely."""
    order = sorted(shop.book.checks, key=lambda c: (shop.cost(("check", c), frozenset())[0], c))
    repair = by_probability_over_cost(shop)

    def choose(state: State) -> Action:
        left = [check for check in order if check in state.left]
        return ("check", left[0]) if left else repair(state)

    return choose
