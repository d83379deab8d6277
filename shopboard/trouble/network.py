"""The book as arrays, for one layout: every hypothesis of at most two faults, and what each of them shows.

A noisy-OR network (Pearl 1988; Henrion's leak) in the form that a technician's book fills: hypothesis 0 is "none of
these", then the single causes, then the pairs. Because there are only these, everything is exact: no sampling.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np
import numpy.typing as npt

from shopboard.records import Layout

from .book import Book, Check
from .scales import NONE_ODDS

Floats = npt.NDArray[np.float64]
#: Outcomes that say nothing.
SILENT = ("unsure", "not tested", "")


class Network:
    """The tables of one layout. `symptoms[id]` is P(reported) by hypothesis; `checks[id]` has a row for each outcome
    in the book's order, P(outcome) by hypothesis, columns summing to 1."""

    def __init__(self, book: Book, layout: str) -> None:
        self.book, self.layout = book, layout
        self.causes = tuple(sorted(id for id, cause in book.causes.items() if layout in cause.layouts))
        self.number = {id: place for place, id in enumerate(self.causes)}
        self.first, self.second = np.triu_indices(len(self.causes), k=1)
        self.size = 1 + len(self.causes) + len(self.first)
        self.symptoms = {
            id: 1.0 - self._unseen(symptom.otherwise, {c: book.causes[c].shows.get(id, 0.0) for c in self.causes})
            for id, symptom in sorted(book.symptoms.items())
            if layout in symptom.layouts
        }
        here = [check for _, check in sorted(book.checks.items()) if layout in check.layouts]
        self.checks = {check.id: self._outcome_table(check) for check in here}
        self.rows = {check.id: {id: row for row, id in enumerate(check.outcomes)} for check in here}

    def _unseen(self, otherwise: float, shows: Mapping[str, float]) -> Floats:
        """P(a finding is not seen) by hypothesis: the noisy-OR of the causes present and of `otherwise`."""
        miss = 1.0 - np.array([shows[id] for id in self.causes], dtype=float)
        pairs = miss[self.first] * miss[self.second]
        return (1.0 - otherwise) * np.concatenate(([1.0], miss, pairs))

    def _outcome_table(self, check: Check) -> Floats:
        """P(outcome) by hypothesis, given that one outcome is reported: yes for its finding and no for the others.

        Dividing each product by that of all "no", an abnormal outcome stands with the odds of its finding and
        the normal one with 1.
        """
        odds = np.ones((len(check.outcomes), self.size))
        for row, outcome in enumerate(check.outcomes.values()):
            if outcome.normal:
                continue
            shows = {c: self.book.causes[c].answers.get(check.id, {}).get(outcome.id, 0.0) for c in self.causes}
            unseen = self._unseen(outcome.otherwise, shows)
            odds[row] = (1.0 - unseen) / unseen
        table: Floats = odds / odds.sum(axis=0)
        return table

    def prior(self, weights: Mapping[str, float] | None = None) -> Floats:
        """Prior odds by hypothesis: a cause's weight, times its multiplier in `weights`; a pair's is the product."""
        factor = weights or {}
        if bad := sorted(id for id, value in factor.items() if not 0 <= value < float("inf")):
            raise ValueError(f"a weight multiplier must be 0 or more: {', '.join(bad)}")
        odds = np.array([self.book.causes[id].weight * factor.get(id, 1.0) for id in self.causes], dtype=float)
        return np.concatenate(([NONE_ODDS], odds, odds[self.first] * odds[self.second]))


def network(book: Book, layout: Any) -> Network:
    """The network of one layout of a book, made once a book. Raises ValueError for a layout there is not."""
    key = ("network", str(layout))
    if key not in book.compiled:
        book.compiled[key] = Network(book, Layout(layout).value)
    made: Network = book.compiled[key]
    return made


def posterior(odds: Floats, *likelihoods: Floats) -> Floats:
    """Probabilities by hypothesis from prior odds and the likelihoods of independent evidence (Bayes' rule)."""
    with np.errstate(divide="ignore"):
        log = np.log(odds) + sum(np.log(likelihood) for likelihood in likelihoods)
    shifted = np.exp(log - log.max())
    result: Floats = shifted / shifted.sum()
    return result
