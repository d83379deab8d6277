"""Minutes to fix on machines drawn from the shipped book: our advice against a fixed chart and simple rules.

Run by hand: PYTHONPATH=tests python tests/benchmarks/bench_policy_shipped.py [machines]
Results: bench_policy_shipped.txt.

Every policy meets the same machines with the same answers. The charts are wall charts for the symptom: checks that bear
on it in a fixed order; an abnormal outcome sends one to the repair of its commonest cause; after the last check come
the repairs, the commonest cause first. The long chart has every check that bears, the least work first; the short one
the eight that find most a minute, in that order, as a thoughtful author would write it. A machine is fixed when every
fault behind its complaint is repaired.
"""

from __future__ import annotations

import platform
import sys
import time
from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np
from aids.shipped_book import shipped_book
from aids.simulate import Drawn, draw, outcome, perturbed

from shopboard.estimate.labour import access_minutes
from shopboard.trouble import Book, Cause, Evidence, advise, rank
from shopboard.trouble.network import network
from shopboard.trouble.scales import ESCALATION_MINUTES

SEED, LAYOUT = 500, "in-line"


@dataclass
class Visit:
    """One machine in the shop: what is known, what is off, what was repaired, and the minutes spent."""

    machine: Drawn
    told: dict[str, str]
    book: Book
    seen: Evidence = field(init=False)
    off: set[str] = field(default_factory=set)
    repaired: set[str] = field(default_factory=set)
    minutes: float = 0.0
    done: bool = False

    def __post_init__(self) -> None:
        self.seen = Evidence(self.machine.symptoms)
        chief = self.machine.symptoms[0]
        behind = {c for c in self.machine.causes if chief in self.book.causes[c].shows}
        self.wanted = behind or set(self.machine.causes)

    def _open(self, covers: tuple[str, ...]) -> None:
        self.minutes += access_minutes(covers, self.book.covers, self.off)
        for cover in covers:
            self.off |= {cover, *self.book.covers[cover].under}

    def check(self, id: str) -> str:
        """Make a check; what it shows."""
        entry = self.book.checks[id]
        self._open(entry.covers_on(LAYOUT))
        self.minutes += entry.minutes_on(LAYOUT)
        self.seen = Evidence(self.seen.symptoms, (*self.seen.answers, (id, self.told[id])))
        return self.told[id]

    def repair(self, correction: str) -> None:
        """Do a correction; `done` if it was the last one wanted."""
        entry = self.book.corrections[correction]
        self._open(entry.covers_on(LAYOUT))
        self.minutes += entry.minutes_on(LAYOUT)
        self.repaired |= {c.id for c in self.book.causes.values() if c.correction[0] == correction}
        self.done = bool(self.wanted) and self.wanted <= self.repaired

    def hand_on(self) -> None:
        """Give up: somebody else surely finds it, and repairs it."""
        self.minutes += ESCALATION_MINUTES
        for cause in self.wanted - self.repaired:
            entry = self.book.corrections[self.book.causes[cause].correction[0]]
            self.minutes += entry.minutes_on(LAYOUT) + access_minutes(entry.covers_on(LAYOUT), self.book.covers)
        self.done = True


def by_advice(visit: Visit, believed: Book) -> None:
    """Our policy, on what the shop believes."""
    while not visit.done:
        gone = dict.fromkeys(visit.repaired, 0.0)
        advice = advise(believed, LAYOUT, visit.seen, covers_off=visit.off, weights=gone, limit=1)
        if advice.repair_now or not advice.checks:
            visit.repair(advice.repair.correction) if advice.repair else visit.hand_on()
        else:
            visit.check(advice.checks[0].check)


def _by_order(visit: Visit, causes: list[str], most: int) -> None:
    for cause in causes[:most]:
        if visit.done:
            return
        if cause not in visit.repaired:
            visit.repair(visit.book.causes[cause].correction[0])
    if not visit.done:
        visit.hand_on()


def _work(book: Book, cause: str) -> float:
    entry = book.corrections[book.causes[cause].correction[0]]
    return entry.minutes_on(LAYOUT) + access_minutes(entry.covers_on(LAYOUT), book.covers)


def by_probability_over_cost(visit: Visit, believed: Book) -> None:
    """No checks: repairs by probability over cost after the complaint, the best five, then hand on."""
    ranking = rank(believed, LAYOUT, visit.seen)
    order = sorted(ranking.causes, key=lambda r: -r.probability / _work(believed, r.id))
    _by_order(visit, [r.id for r in order], 5)


def _effort(book: Book, check: str) -> float:
    entry = book.checks[check]
    return entry.minutes_on(LAYOUT) + access_minutes(entry.covers_on(LAYOUT), book.covers)


def _behind(visit: Visit, book: Book) -> list[Cause]:
    chief = visit.machine.symptoms[0]
    return [c for c in book.causes.values() if chief in c.shows and LAYOUT in c.layouts]


def _follow(visit: Visit, behind: list[Cause], checks: list[str]) -> None:
    for check in checks:
        if visit.done:
            return
        seen = visit.check(check)
        named = [c for c in behind if seen in c.answers.get(check, {}) and c.id not in visit.repaired]
        if named:
            visit.repair(max(named, key=lambda c: c.weight * c.answers[check][seen]).correction[0])
    if not visit.done:
        _by_order(visit, [c.id for c in sorted(behind, key=lambda c: -c.weight)], 5)


def by_long_chart(visit: Visit, believed: Book) -> None:
    """Every check that bears on the symptom, the least work first."""
    behind = _behind(visit, believed)
    bearing = {check for c in behind for check in c.answers} & set(visit.told)
    _follow(visit, behind, sorted(bearing, key=lambda id: (_effort(visit.book, id), id)))


def by_short_chart(visit: Visit, believed: Book) -> None:
    """The eight checks that find most a minute."""
    behind, chief = _behind(visit, believed), visit.machine.symptoms[0]
    bearing = {check for c in behind for check in c.answers} & set(visit.told)

    def finds(check: str) -> float:
        return sum(c.weight * c.shows[chief] * sum(c.answers.get(check, {}).values()) for c in behind)

    best = sorted(bearing, key=lambda id: (-finds(id) / _effort(visit.book, id), id))
    _follow(visit, behind, best[:8])


def main() -> None:
    """Print the table."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 400
    book, rng, start = shipped_book(), np.random.default_rng(SEED), time.perf_counter()
    net = network(book, LAYOUT)
    noisy = perturbed(book, rng, logit=0.7)
    policies: dict[str, tuple[Callable[[Visit, Book], None], Book]] = {
        "our advice": (by_advice, book),
        "our advice, book off by logit noise 0.7": (by_advice, noisy),
        "probability / cost, no checks": (by_probability_over_cost, book),
        "fixed chart, long": (by_long_chart, book),
        "fixed chart, short": (by_short_chart, book),
    }
    spent: dict[str, list[float]] = {name: [] for name in policies}
    for _ in range(count):
        machine = draw(net, rng, asked=0)
        told = {check: outcome(net, machine, check, rng) for check in net.checks}
        for name, (policy, believed) in policies.items():
            visit = Visit(machine, told, book)
            policy(visit, believed)
            spent[name].append(visit.minutes)
    print(f"{count} machines, {LAYOUT}, drawn from the shipped book; seed {SEED}")
    print(f"{platform.machine()}, Python {platform.python_version()}, {time.perf_counter() - start:.0f} s")
    print("minutes to fix, and against the better chart on the same machines (95 % intervals)\n")
    chart = np.array(min((v for k, v in spent.items() if "chart" in k), key=sum))
    for name, values in spent.items():
        mine = np.array(values)
        pick = rng.integers(count, size=(2000, count))
        ratio = mine[pick].mean(axis=1) / chart[pick].mean(axis=1)
        error = 1.96 * mine.std() / count**0.5
        low, high = np.quantile(ratio, [0.025, 0.975])
        print(
            f"{name:<42}{mine.mean():>7.0f} ± {error:<5.0f}{mine.mean() / chart.mean():>6.2f} ({low:.2f} to {high:.2f})"
        )


if __name__ == "__main__":
    main()
