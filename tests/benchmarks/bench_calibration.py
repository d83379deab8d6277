"""Do stated probabilities come true? Machines drawn from the shipped book, and from worlds the book does not know.

Run by hand: PYTHONPATH=tests python tests/benchmarks/bench_calibration.py [machines]
Results: bench_calibration.txt.

Every machine is brought in for one symptom, two more are asked for, and some checks are made. Claims are the
probability of each cause alone, of two at once and of none of these. Worlds: the book itself; a book whose every
number is off by logit noise 0.5; and one where checks err together: on a fifth of the machines half of the checks, for
a reason nobody named, show what a sound machine would.
"""

from __future__ import annotations

import platform
import sys
import time

import numpy as np
from aids.shipped_book import shipped_book
from aids.simulate import Drawn, draw, outcome, perturbed

from shopboard.trouble import Book, Evidence
from shopboard.trouble.evidence import items
from shopboard.trouble.network import Network, network
from shopboard.trouble.ranking import hypotheses

SEED, LAYOUTS = 900, ("in-line", "split", "transaxle", "gear")
BANDS = np.array([0.0, 0.01, 0.05, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 1.0])


def _answers(net: Network, machine: Drawn, rng: np.random.Generator, spoilt: float) -> tuple[tuple[str, str], ...]:
    """Some checks; with probability `spoilt` a machine is one where half the checks show what a sound one would."""
    checks = rng.choice(list(net.checks), size=int(rng.integers(2, 11)), replace=False)
    sound = Drawn(0, (), machine.symptoms, machine.asked, machine.errors)
    bad = rng.random() < spoilt
    return tuple((str(c), outcome(net, sound if bad and rng.random() < 0.5 else machine, str(c), rng)) for c in checks)


def _claims(book: Book, world: Book, count: int, spoilt: float) -> tuple[list[np.ndarray], list[np.ndarray], float]:
    """Stated probabilities and what came true, a row a machine; the share of machines with two faults."""
    rng = np.random.default_rng(SEED)
    stated, true, two = [], [], 0
    for n in range(count):
        layout = LAYOUTS[n % len(LAYOUTS)]
        net, drawn = network(book, layout), network(world, layout)
        machine = draw(drawn, rng)
        evidence = Evidence(machine.symptoms, machine.asked + _answers(drawn, machine, rng, spoilt))
        chance = hypotheses(net, items(net, evidence))
        singles = 1 + len(net.causes)
        claims = np.append(chance[:singles], chance[singles:].sum())
        came = np.zeros(len(claims), dtype=bool)
        came[min(machine.hypothesis, singles)] = True
        two += machine.hypothesis >= singles
        stated.append(claims)
        true.append(came)
    return stated, true, two / count


def _table(stated: np.ndarray, true: np.ndarray) -> float:
    """Print the reliability table; the expected calibration error over claims of 1 % and more."""
    band = np.clip(np.digitize(stated, BANDS, right=True) - 1, 0, len(BANDS) - 2)
    total, error = 0, 0.0
    for b in range(len(BANDS) - 1):
        here = band == b
        if not here.any():
            continue
        said, came, count = stated[here].mean(), true[here].mean(), int(here.sum())
        if b:
            total, error = total + count, error + count * abs(said - came)
        spread = (said * (1 - said) / count) ** 0.5
        print(f"  {BANDS[b]:>4.2f} to {BANDS[b + 1]:<4.2f}{count:>8}{said:>9.3f}{came:>9.3f}  ± {spread:.3f}")
    return error / total


def _error(said: np.ndarray, came: np.ndarray) -> float:
    """The expected calibration error in ten equal bands."""
    band = np.minimum((said * 10).astype(int), 9)
    gaps = [(band == b).mean() * abs(said[band == b].mean() - came[band == b].mean()) for b in set(band.tolist())]
    return float(sum(gaps))


def main() -> None:
    """Print a table a world."""
    count, start = int(sys.argv[1]) if len(sys.argv) > 1 else 5000, time.perf_counter()
    book = shipped_book()
    off = perturbed(book, np.random.default_rng(SEED + 1), logit=0.5)
    worlds = (
        ("drawn from the book", book, 0.0),
        ("every number off by logit noise 0.5", off, 0.0),
        ("checks err together", book, 0.2),
    )
    print(f"{count} machines a world over four layouts, seed {SEED}")
    for name, world, spoilt in worlds:
        stated, true, two = _claims(book, world, count, spoilt)
        first = np.array([claims.max() for claims in stated])
        right = np.array([came[claims.argmax()] for claims, came in zip(stated, true, strict=True)])
        print(f"\n{name}: two faults in {two:.1%}; the likeliest claim was right in {right.mean():.1%}")
        print(f"  {'band':<12}{'claims':>8}{'said':>9}{'came':>9}  standard error")
        every, likeliest = _table(np.concatenate(stated), np.concatenate(true)), _error(first, right)
        print(
            f"  expected calibration error {every:.4f} (claims of 1 % and more), {likeliest:.4f} (the likeliest claim)"
        )
    print(f"\n{platform.machine()}, Python {platform.python_version()}, {time.perf_counter() - start:.0f} s")


if __name__ == "__main__":
    main()
