"""Counts with an equivalent sample size: the arithmetic behind learning.

A share the book states is worth a number of jobs (Beta and Dirichlet counts). How many is chosen from a few sizes, as
that which would have foretold the shop's own counts best (their marginal likelihood): while jobs are few the data
cannot tell, and the first size of the list, the cautious one, stands.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping, Sequence

#: Nothing that may happen is ever held impossible or certain.
LEAST, MOST = 0.002, 0.995
Row = Mapping[str, float]
Count = Mapping[str, int]


def updated(row: Row, size: float, seen: Count) -> dict[str, float]:
    """The shares of `row` (summing to 1), worth `size` jobs, after the counts `seen` joined them.

    >>> updated({"hot": 0.5, "same": 0.5}, 10, {"hot": 10})
    {'hot': 0.75, 'same': 0.25}
    """
    of = size + sum(seen.get(id, 0) for id in row)
    return {id: (size * share + seen.get(id, 0)) / of for id, share in row.items()}


def log_evidence(row: Row, size: float, seen: Count) -> float:
    """Log probability of the counts in one order, if the shares were drawn around `row` with this size."""
    total = math.lgamma(size) - math.lgamma(size + sum(seen.get(id, 0) for id in row))
    for id, share in row.items():
        if seen.get(id, 0):
            total += math.lgamma(size * share + seen[id]) - math.lgamma(size * share)
    return total


def log_poisson_gamma(size: float, expected: float, seen: int) -> float:
    """Log probability of `seen` where `expected` were, if the true rate is off by a factor that is worth `size` counts
    (Gamma-Poisson), without the part that does not depend on the size.

    >>> log_poisson_gamma(4, 2.0, 2) > log_poisson_gamma(4, 2.0, 9)
    True
    """
    if expected <= 0:
        return 0.0
    both = size + expected
    ways = math.lgamma(size + seen) - math.lgamma(size) - math.lgamma(seen + 1)
    return ways + size * math.log(size / both) + seen * math.log(expected / both)


def best_of(sizes: Sequence[float], value: Callable[[float], float], least_gain: float = 2.0) -> float:
    """The size with the greatest log probability; the first of `sizes` unless another is better by `least_gain`."""
    values = {size: value(size) for size in sizes}
    best = max(sizes, key=lambda size: values[size])
    return best if values[best] > values[sizes[0]] + least_gain else sizes[0]


def best_size(pairs: Iterable[tuple[Row, Count]], sizes: Sequence[float]) -> float:
    """The size that foretells all these counts of outcomes best, by `best_of`."""
    rows = [(row, seen) for row, seen in pairs if seen]
    return best_of(sizes, lambda size: sum(log_evidence(row, size, seen) for row, seen in rows))


def row_of(findings: Row) -> dict[str, float]:
    """P(outcome) of a check from the chances of its yes/no findings; the normal outcome is ""."""
    odds = {id: chance / (1.0 - chance) for id, chance in findings.items()}
    normal = 1.0 / (1.0 + sum(odds.values()))
    return {"": normal} | {id: value * normal for id, value in odds.items()}


def findings_of(row: Row) -> dict[str, float]:
    """The chances of the yes/no findings from P(outcome): the way back from `row_of`."""
    return {id: bounded(chance / (chance + row[""])) for id, chance in row.items() if id}


def bounded(share: float) -> float:
    """The share, kept off 0 and 1."""
    return min(max(share, LEAST), MOST)


def noisy(link: float, leak: float) -> float:
    """The chance of a finding from one cause's link and the leak (noisy-OR)."""
    return 1.0 - (1.0 - leak) * (1.0 - link)


def link_of(chance: float, leak: float) -> float:
    """The link that makes a finding this probable over the leak; 0 if the leak alone does."""
    return min(max(1.0 - (1.0 - chance) / (1.0 - leak), 0.0), MOST)


def surprise(row: Row, seen: Count) -> float:
    """How much better (in log probability) the counts' own shares tell them than `row` does."""
    of = sum(seen.get(id, 0) for id in row)
    return sum(n * math.log(n / of / row[id]) for id, n in seen.items() if n and id in row)
