"""Rules that could say “fails early”, side by side on simulated shops: ours, observed over expected, Poisson."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator

import numpy as np

from shopboard.memory.cells import Cell
from shopboard.memory.early import LEAST_FAILURES, judge

from .simulated_shops import MODELS, YEARS, Shop, cells, simulated_shop

#: Seeds from here on were never looked at while the rule's numbers, or these thresholds, were settled.
EVALUATION = 1_000_000
#: Thresholds of the other two rules, settled on the shops of seeds 0 to 699 with a spread of 0.3 between cells so that
#: each has there the same 0.06 false flags a year as ours.
OVER_EXPECTED, POISSON = 26.2, 1.0e-7

Rule = Callable[[list[Cell]], list[bool]]


def ours(found: list[Cell]) -> list[bool]:
    """The shop's own rule, the word "act"."""
    return [word == "act" for word in judge(found)]


def over_expected_of(cell: Cell) -> float:
    """Observed over expected failures; 0 with fewer than the least number of failures."""
    if cell.failures < LEAST_FAILURES:
        return 0.0
    return cell.failures / cell.expected if cell.expected else math.inf


def poisson_of(cell: Cell) -> float:
    """The chance of so many failures or more if the expected number were known and the rest chance."""
    if cell.failures < LEAST_FAILURES:
        return 1.0
    terms = [math.exp(-cell.expected)]
    for k in range(1, cell.failures):
        terms.append(terms[-1] * cell.expected / k)
    return max(0.0, 1 - math.fsum(terms)) if cell.expected else 0.0


def over_expected(found: list[Cell]) -> list[bool]:
    """Observed over expected, above its threshold."""
    return [over_expected_of(cell) >= OVER_EXPECTED for cell in found]


def poisson(found: list[Cell]) -> list[bool]:
    """A plain Poisson test of each cell."""
    return [poisson_of(cell) <= POISSON for cell in found]


def looks(shop: Shop) -> Iterator[list[Cell]]:
    """The cells at the twelve monthly looks of the last year."""
    for month in range(1, 13):
        yield cells(shop, YEARS - 1 + month / 12)


def settle(seeds: range, spread: float) -> tuple[int, float, float]:
    """Cells of sound shops ours flags in a year of looks, and the thresholds with which observed over expected and
    Poisson flag as many."""
    flags, ratios, chances = 0, [], []
    for seed in seeds:
        seen = list(looks(simulated_shop(np.random.default_rng(seed), spread=spread)))
        flags += int(np.any([ours(found) for found in seen], axis=0).sum())
        ratios += np.max([[over_expected_of(cell) for cell in found] for found in seen], axis=0).tolist()
        chances += np.min([[poisson_of(cell) for cell in found] for found in seen], axis=0).tolist()
    return flags, sorted(ratios)[-flags], sorted(chances)[flags - 1]


def false_flags(rules: dict[str, Rule], seeds: range, spread: float) -> dict[str, float]:
    """Cells flagged at any of a year's looks, a year, by rule, in shops where no cell was made worse."""
    total = dict.fromkeys(rules, 0)
    for seed in seeds:
        flagged: dict[str, set[int]] = {name: set() for name in rules}
        for found in looks(simulated_shop(np.random.default_rng(seed), spread=spread)):
            for name, rule in rules.items():
                flagged[name] |= {place for place, flag in enumerate(rule(found)) if flag}
        for name in rules:
            total[name] += len(flagged[name])
    return {name: flags / len(seeds) for name, flags in total.items()}


def power(
    rules: dict[str, Rule],
    first: int,
    shops: int,
    spread: float,
    times: float,
    expected: tuple[float, float],
    last: int = 12,
) -> dict[str, float]:
    """The share of cells made `times` as bad that are flagged at one or more of the year's `last` looks, among those
    where so many failures are `expected` (from, to) at the year's end."""
    hits = dict.fromkeys(rules, 0)
    seed, done = first, 0
    while done < shops:
        place = _chosen(seed, spread, expected)
        seed += 1
        if place is None:
            continue
        worse = {(place // MODELS, place % MODELS): times}
        shop = simulated_shop(np.random.default_rng(seed - 1), spread=spread, worse=worse)
        seen = list(looks(shop))
        if not expected[0] <= seen[-1][place].expected <= expected[1]:
            continue
        done += 1
        for name, rule in rules.items():
            hits[name] += any(rule(found)[place] for found in seen[-last:])
    return {name: hit / shops for name, hit in hits.items()}


def _chosen(seed: int, spread: float, expected: tuple[float, float]) -> int | None:
    """A cell of the shop of this seed where about so many failures are expected; making it worse moves that little."""
    found = cells(simulated_shop(np.random.default_rng(seed), spread=spread), YEARS)
    near = [i for i, cell in enumerate(found) if 0.8 * expected[0] <= cell.expected <= 1.2 * expected[1]]
    return near[seed % len(near)] if near else None
