"""How long a ranking and a next check take on the shipped book, and a posterior beside pgmpy where it is installed.

Each case is timed three times and the best counts, since the machine is shared.

Run by hand: PYTHONPATH=tests python tests/benchmarks/bench_decision.py
Results: bench_decision.txt. Target: median under 10 ms for both together.
"""

from __future__ import annotations

import importlib.util
import platform
import time
from collections.abc import Callable

import numpy as np
from aids.shipped_book import shipped_book
from aids.simulate import answers, draw

from shopboard.trouble import Evidence, next_checks, rank
from shopboard.trouble.evidence import items
from shopboard.trouble.network import network
from shopboard.trouble.ranking import hypotheses

SEED, LAYOUTS = 40, ("in-line", "split", "transaxle", "gear")


def _cases(count: int) -> list[tuple[str, Evidence]]:
    rng, made = np.random.default_rng(SEED), []
    for n in range(count):
        net = network(shipped_book(), LAYOUTS[n % 4])
        machine = draw(net, rng, asked=1)
        checks = rng.choice(list(net.checks), size=int(rng.integers(0, 9)), replace=False)
        made.append((net.layout, Evidence(machine.symptoms, machine.asked + answers(net, machine, checks, rng))))
    return made


def _seconds(work: Callable[..., object], layout: str, evidence: Evidence) -> float:
    start = time.perf_counter()
    work(shipped_book(), layout, evidence)
    return time.perf_counter() - start


def _pgmpy(cases: list[tuple[str, Evidence]]) -> str:
    if importlib.util.find_spec("pgmpy") is None:
        return "pgmpy is not installed here"
    from aids.pgmpy_networks import hypothesis_network
    from pgmpy.inference import VariableElimination

    book, net = shipped_book(), network(shipped_book(), "in-line")
    infer = VariableElimination(hypothesis_network(book, "in-line"))
    theirs, ours = [], []
    for _, evidence in [case for case in cases if case[0] == "in-line"][:50]:
        observed = dict.fromkeys(evidence.symptoms, 1)
        observed |= {
            id: ["no", "yes"].index(o) if id in net.symptoms else net.rows[id][o] for id, o in evidence.answers
        }
        start = time.perf_counter()
        infer.query(["fault"], evidence=observed, show_progress=False)
        middle = time.perf_counter()
        hypotheses(net, items(net, evidence))
        theirs.append(middle - start)
        ours.append(time.perf_counter() - middle)
    own, other = np.median(ours) * 1e3, np.median(theirs) * 1e3
    return f"posterior, in-line: ours {own:.2f} ms, pgmpy {other:.2f} ms, ratio {other / own:.1f}"


def main() -> None:
    """Print the medians."""
    book, cases = shipped_book(), _cases(200)
    for layout, evidence in cases[:8]:
        next_checks(book, layout, evidence)
    ranking, choice = [], []
    for layout, evidence in cases:
        ranking.append(min(_seconds(rank, layout, evidence) for _ in range(3)))
        choice.append(min(_seconds(next_checks, layout, evidence) for _ in range(3)))
    both = np.array(ranking) + np.array(choice)
    print(f"shipped book: {len(book.causes)} causes, {len(book.checks)} checks; {len(cases)} cases, seed {SEED}")
    for name, values in (("ranking with reasons", ranking), ("next check", choice), ("both", both)):
        print(f"{name:<22} median {np.median(values) * 1e3:5.2f} ms   95 % {np.quantile(values, 0.95) * 1e3:5.2f} ms")
    print(_pgmpy(cases))
    print(f"{platform.machine()}, Python {platform.python_version()}")


if __name__ == "__main__":
    main()
