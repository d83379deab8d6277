"""The least expected minutes to fix, by exact dynamic programming, on books small enough: an independent yardstick.

Nothing of the engine's arithmetic is used here: hypotheses, likelihoods and costs are built anew from the book.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from itertools import combinations
from typing import NamedTuple

from shopboard.trouble import Book
from shopboard.trouble.scales import ESCALATION_MINUTES, NONE_ODDS

Faults = frozenset[str]


class State(NamedTuple):
    """What the shop knows: probability of each set of remaining faults, checks not yet made, covers off."""

    chance: tuple[tuple[Faults, float], ...]
    left: frozenset[str]
    off: frozenset[str]


Action = tuple[str, str]  # ("check", id), ("repair", cause), ("hand on", "")
Policy = Callable[[State], Action]


class Shop:
    """A book of one correction a cause, on layout in-line, with one symptom reported."""

    def __init__(self, book: Book, symptom: str) -> None:
        self.book = book
        names = sorted(book.causes)
        sets = [frozenset(s) for n in (0, 1, 2) for s in combinations(names, n)]
        odds = {s: math.prod(book.causes[c].weight for c in s) if s else NONE_ODDS for s in sets}
        weight = {s: odds[s] * self.seen(s, symptom) for s in sets}
        total = sum(weight.values())
        self.start = State(_key({s: w / total for s, w in weight.items()}), frozenset(book.checks), frozenset())
        self.memo: dict[State, tuple[float, Action]] = {}
        self.tables: dict[tuple[Faults, str], dict[str, float]] = {}

    def seen(self, faults: Faults, symptom: str) -> float:
        """P(symptom | faults), the noisy-OR written out."""
        entry = self.book.symptoms[symptom]
        return 1 - (1 - entry.otherwise) * math.prod(1 - self.book.causes[c].shows.get(symptom, 0) for c in faults)

    def outcomes(self, faults: Faults, check: str) -> dict[str, float]:
        """P(outcome | faults, exactly one outcome is reported): product of yes and no over the findings, scaled."""
        if (faults, check) in self.tables:
            return self.tables[faults, check]
        yes = {}
        for outcome in self.book.checks[check].outcomes.values():
            if not outcome.normal:
                miss = [1 - self.book.causes[c].answers.get(check, {}).get(outcome.id, 0) for c in faults]
                yes[outcome.id] = 1 - (1 - outcome.otherwise) * math.prod(miss)
        found = {}
        for outcome in self.book.checks[check].outcomes.values():
            found[outcome.id] = math.prod(p if id == outcome.id else 1 - p for id, p in yes.items())
        total = sum(found.values())
        self.tables[faults, check] = {id: p / total for id, p in found.items()}
        return self.tables[faults, check]

    def _above(self, covers: tuple[str, ...]) -> frozenset[str]:
        found = frozenset(covers)
        while more := frozenset(u for c in found for u in self.book.covers[c].under) - found:
            found |= more
        return found

    def cost(self, action: Action, off: frozenset[str]) -> tuple[float, frozenset[str]]:
        """Minutes of a check or repair and the covers off after it."""
        kind, id = action
        entry = self.book.checks[id] if kind == "check" else self.book.corrections[self.book.causes[id].correction[0]]
        needed = self._above(entry.covers_on("in-line"))
        access = sum(self.book.covers[c].off + self.book.covers[c].on for c in needed - off)
        return entry.minutes + access, off | needed

    def hand_on(self, state: State) -> float:
        """Minutes when the machine is handed on: the trouble is surely found, and then repaired."""
        repair = {c: self.cost(("repair", c), frozenset())[0] for c in self.book.causes}
        return ESCALATION_MINUTES + sum(p * sum(repair[c] for c in s) for s, p in state.chance)

    def after_check(self, state: State, check: str) -> dict[str, tuple[float, State]]:
        """Probability and next state of every outcome of a check."""
        _, off = self.cost(("check", check), state.off)
        results = {}
        for outcome in self.book.checks[check].outcomes:
            joint = {s: p * self.outcomes(s, check)[outcome] for s, p in state.chance}
            total = sum(joint.values())
            if total > 1e-9:
                chance = _key({s: p / total for s, p in joint.items()})
                results[outcome] = total, State(chance, state.left - {check}, off)
        return results

    def after_repair(self, state: State, cause: str) -> tuple[float, State | None]:
        """Probability that the trouble remains after the repair, and the state then."""
        _, off = self.cost(("repair", cause), state.off)
        remaining: dict[Faults, float] = {}
        for s, p in state.chance:
            if s != {cause}:
                remaining[s - {cause}] = remaining.get(s - {cause}, 0) + p
        total = sum(remaining.values())
        if total < 1e-9:
            return 0.0, None
        return total, State(_key({s: p / total for s, p in remaining.items()}), state.left, off)

    def actions(self, state: State) -> list[Action]:
        """What may be done: checks not yet made, repairs that could cure, handing on."""
        causes = sorted({c for s, p in state.chance if p > 1e-9 for c in s})
        return [*(("check", c) for c in sorted(state.left)), *(("repair", c) for c in causes), ("hand on", "")]

    def value_of(self, state: State, action: Action, rest: Callable[[State], float]) -> float:
        """Expected minutes of one action when what comes after is worth `rest`."""
        if action[0] == "hand on":
            return self.hand_on(state)
        minutes, _ = self.cost(action, state.off)
        if action[0] == "check":
            return minutes + sum(p * rest(after) for p, after in self.after_check(state, action[1]).values())
        share, after = self.after_repair(state, action[1])
        return minutes + (share * rest(after) if after is not None else 0.0)

    def best(self, state: State) -> tuple[float, Action]:
        """The least expected minutes from here, over all policies, and the action that begins it."""
        if state not in self.memo:
            each = ((self.value_of(state, a, lambda s: self.best(s)[0]), a) for a in self.actions(state))
            self.memo[state] = min(each)
        return self.memo[state]

    def of_policy(self, policy: Policy, believed: Shop | None = None) -> float:
        """Expected minutes of a policy, exactly. With `believed`, the policy decides on that shop's probabilities."""
        known: dict[tuple[State, State], float] = {}

        def follow(true: State, seen: State) -> float:
            if (true, seen) not in known:
                known[true, seen] = self._step(true, seen, policy(seen), believed or self, follow)
            return known[true, seen]

        return follow(self.start, (believed or self).start)

    def _step(
        self, true: State, seen: State, action: Action, believed: Shop, follow: Callable[[State, State], float]
    ) -> float:
        if action[0] == "hand on":
            return self.hand_on(true)
        minutes, _ = self.cost(action, true.off)
        if action[0] == "check":
            thought = believed.after_check(seen, action[1])
            told = self.after_check(true, action[1])
            return minutes + sum(p * follow(after, thought[o][1]) for o, (p, after) in told.items())
        share, after = self.after_repair(true, action[1])
        _, thought_after = believed.after_repair(seen, action[1])
        if after is None:
            return minutes
        return minutes + share * (follow(after, thought_after) if thought_after else self.hand_on(after))


def _key(chance: dict[Faults, float]) -> tuple[tuple[Faults, float], ...]:
    """The probabilities in a fixed order, rounded so that equal states are one."""
    return tuple((s, round(p, 10)) for s, p in sorted(chance.items(), key=lambda item: sorted(item[0])) if p > 1e-9)
