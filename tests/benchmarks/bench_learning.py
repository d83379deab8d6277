"""What closed jobs mend in a wrong book: log score by number of jobs.

Run by hand: PYTHONPATH=tests python tests/benchmarks/bench_learning.py [books]
Results: bench_learning.txt.

A shop works with a book that is one word off in a third of its entries, on machines drawn from the true one. Each
closed job has its complaint, two symptoms asked for, twelve checks and the confirmed causes. "Removed" is the share of
the loss in log score (that of the wrong book over the true one) that learning took away, on 2,000 fresh machines.
"""

from __future__ import annotations

import platform
import sys
import time

import numpy as np
from aids.shipped_book import shipped_book
from aids.simulate import answers, draw, perturbed

from shopboard.trouble import Book, ClosedResult, Evidence, learn
from shopboard.trouble.evidence import items
from shopboard.trouble.network import Network, network
from shopboard.trouble.ranking import hypotheses

SEED, LAYOUT, CASES = 300, "in-line", 2000
STEPS = (3, 10, 30, 100, 300, 1000, 2000, 5000)


def _case(net: Network, checks: int, rng: np.random.Generator) -> tuple[int, tuple[str, ...], Evidence]:
    machine = draw(net, rng)
    made = answers(net, machine, rng.choice(list(net.checks), size=checks, replace=False), rng)
    return machine.hypothesis, machine.causes, Evidence(machine.symptoms, machine.asked + made)


def _losses(book: Book, cases: list[tuple[int, tuple[str, ...], Evidence]]) -> tuple[float, float]:
    """Mean log loss and Brier score of the hypothesis that was true."""
    net, log, brier = network(book, LAYOUT), 0.0, 0.0
    for true, _, evidence in cases:
        chance = hypotheses(net, items(net, evidence))
        log -= float(np.log(chance[true]))
        brier += float((chance**2).sum() - 2 * chance[true] + 1)
    return log / len(cases), brier / len(cases)


def main() -> None:
    """Print the curve, averaged over several wrong books."""
    books, start = int(sys.argv[1]) if len(sys.argv) > 1 else 8, time.perf_counter()
    true = shipped_book()
    net = network(true, LAYOUT)
    removed = np.zeros((books, len(STEPS)))
    brier = np.zeros((books, len(STEPS)))
    for b in range(books):
        rng = np.random.default_rng(SEED + b)
        wrong = perturbed(true, rng, words=1 / 3)
        cases = [_case(net, 6, rng) for _ in range(CASES)]
        jobs = [
            ClosedResult(LAYOUT, c, e.symptoms, e.answers)
            for _, c, e in (_case(net, 12, rng) for _ in range(STEPS[-1]))
        ]
        best, start_at = _losses(true, cases), _losses(wrong, cases)
        for n, step in enumerate(STEPS):
            after = _losses(learn(wrong, jobs[:step], LAYOUT).book, cases)
            removed[b, n] = (start_at[0] - after[0]) / (start_at[0] - best[0])
            brier[b, n] = (start_at[1] - after[1]) / (start_at[1] - best[1])
    print(f"{books} wrong books, {LAYOUT}, seeds {SEED} to {SEED + books - 1}; share of the loss removed\n")
    print(f"{'jobs':>6}{'log score':>11}{'worst book':>12}{'best book':>11}{'Brier':>8}")
    for n, step in enumerate(STEPS):
        column = removed[:, n]
        print(f"{step:>6}{column.mean():>11.3f}{column.min():>12.3f}{column.max():>11.3f}{brier[:, n].mean():>8.3f}")
    print(f"\n{platform.machine()}, Python {platform.python_version()}, {time.perf_counter() - start:.0f} s")


if __name__ == "__main__":
    main()
