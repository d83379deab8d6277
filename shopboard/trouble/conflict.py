"""Answers that hardly go together, said aloud."""

from __future__ import annotations

from itertools import combinations

import numpy as np

from .book import Book
from .evidence import Item
from .network import Floats

#: Two answers are told to be at odds when, all else standing, they come together this many times less often than they
#: would if they had nothing to do with each other. Of true sets of ten answers about one in twenty is doubted.
RARER = 2.0


def contradictions(book: Book, found: tuple[Item, ...], prior: Floats) -> tuple[str, ...]:
    """One sentence for each two pieces of evidence that contradict each other or rarely go together, the oddest first.

    A symptom and an answer that denies it in other words contradict each other. Else the measure is the conflict of
    Jensen et al. (1990), P(a | rest)·P(b | rest) / P(a, b | rest), the rest of the evidence taken as given.
    """
    pairs = list(combinations(range(len(found)), 2))
    if not pairs:
        return ()
    denied = [(a, b) for a, b in pairs if _denies(book, found[a], found[b]) or _denies(book, found[b], found[a])]
    rarer = _rarer(found, prior, pairs)
    odd = sorted((-float(rarer[place]), pair) for place, pair in enumerate(pairs) if rarer[place] >= RARER)
    named = dict.fromkeys([*denied, *(pair for _, pair in odd)])
    return tuple(f"“{found[a].text}” and “{found[b].text}” rarely go together: check again" for a, b in named)


def _denies(book: Book, symptom: Item, answer: Item) -> bool:
    """Whether the answer is another outcome of a check that could have said the symptom in other words."""
    check = book.checks.get(answer.id)
    if check is None or symptom.id not in book.symptoms or symptom.outcome != "yes" or not answer.outcome:
        return False
    says = {outcome.same_as for outcome in check.outcomes.values()}
    return symptom.id in says and check.outcomes[answer.outcome].same_as != symptom.id


def _rarer(found: tuple[Item, ...], prior: Floats, pairs: list[tuple[int, int]]) -> Floats:
    """How many times less often each pair comes together than unrelated answers would, all else standing."""
    seen = np.array([item.likelihood for item in found])
    log = np.log(seen)
    with np.errstate(divide="ignore"):
        whole = np.log(prior) + log.sum(axis=0)
    first, second = np.array(pairs).T
    rest = whole - log[first] - log[second]
    chance = np.exp(rest - rest.max(axis=1, keepdims=True))
    chance /= chance.sum(axis=1, keepdims=True)
    together = (chance * seen[first] * seen[second]).sum(axis=1)
    result: Floats = (chance * seen[first]).sum(axis=1) * (chance * seen[second]).sum(axis=1) / together
    return result
