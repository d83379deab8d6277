"""The book as networks for pgmpy, built from the book's own numbers and none of the engine's arithmetic."""

from __future__ import annotations

import math
from itertools import combinations, product
from typing import Any

import numpy as np

from shopboard.trouble import Book, Check
from shopboard.trouble.scales import NONE_ODDS, SHARED_ERROR

Faults = frozenset[str]


def seen(book: Book, faults: Faults, symptom: str) -> float:
    """P(symptom reported | faults): noisy-OR."""
    miss = math.prod(1 - book.causes[c].shows.get(symptom, 0) for c in faults)
    return 1 - (1 - book.symptoms[symptom].otherwise) * miss


def row(book: Book, faults: Faults, check: Check) -> list[float]:
    """P(outcome | faults) of a check of which one outcome is reported."""
    yes = {
        o.id: 1
        - (1 - o.otherwise) * math.prod(1 - book.causes[c].answers.get(check.id, {}).get(o.id, 0) for c in faults)
        for o in check.outcomes.values()
        if not o.normal
    }
    ways = [math.prod(p if id == o else 1 - p for id, p in yes.items()) for o in check.outcomes]
    return [way / sum(ways) for way in ways]


def cause_network(book: Book, layout: str) -> Any:
    """A network with one yes/no node a cause, for books of few causes.

    "number" counts the faults (three stands for more); "comes in" is what is always observed: never with more than two
    faults, and with none in the measure of NONE_ODDS.
    """
    from pgmpy.factors.discrete import TabularCPD
    from pgmpy.models import DiscreteBayesianNetwork

    causes = sorted(c.id for c in book.causes.values() if layout in c.layouts)
    sets = [
        frozenset(c for c, on in zip(causes, bits, strict=True) if on) for bits in product((0, 1), repeat=len(causes))
    ]
    twos = [2] * len(causes)
    edges = [(c, "number") for c in causes] + [("number", "comes in")]
    odds = {c: book.causes[c].weight for c in causes}
    cpds = [TabularCPD(c, 2, [[1 / (1 + odds[c])], [odds[c] / (1 + odds[c])]]) for c in causes]
    counts = [[float(min(len(s), 3) == n) for s in sets] for n in range(4)]
    cpds.append(TabularCPD("number", 4, counts, causes, twos))
    comes = [NONE_ODDS, 1.0, 1.0, 0.0]
    cpds.append(TabularCPD("comes in", 2, [[1 - p for p in comes], comes], ["number"], [4]))
    for s in sorted(book.symptoms):
        yes = [seen(book, faults, s) for faults in sets]
        edges += [(c, s) for c in causes]
        cpds.append(TabularCPD(s, 2, [[1 - p for p in yes], yes], causes, twos))
    errors = sorted({check.shared_error for check in book.checks.values() if check.shared_error})
    cpds += [TabularCPD(e, 2, [[1 - SHARED_ERROR], [SHARED_ERROR]]) for e in errors]
    for check in book.checks.values():
        table = [row(book, faults, check) for faults in sets]
        parents, sizes = list(causes), list(twos)
        if check.shared_error:
            parents, sizes = [check.shared_error, *causes], [2, *twos]
            table += [row(book, frozenset(), check)] * len(sets)
        edges += [(parent, check.id) for parent in parents]
        cpds.append(TabularCPD(check.id, len(check.outcomes), np.array(table).T.tolist(), parents, sizes))
    return _model(DiscreteBayesianNetwork, edges, cpds)


def hypotheses(book: Book, layout: str) -> list[Faults]:
    """Every set of at most two causes of the layout."""
    causes = sorted(c.id for c in book.causes.values() if layout in c.layouts)
    return [frozenset(s) for n in (0, 1, 2) for s in combinations(causes, n)]


def hypothesis_network(book: Book, layout: str) -> Any:
    """A network with one node "fault" whose states are the hypotheses, for the whole book."""
    from pgmpy.factors.discrete import TabularCPD
    from pgmpy.models import DiscreteBayesianNetwork

    sets = hypotheses(book, layout)
    odds = [math.prod(book.causes[c].weight for c in s) if s else NONE_ODDS for s in sets]
    cpds = [TabularCPD("fault", len(sets), [[o / sum(odds)] for o in odds])]
    edges = []
    for symptom in book.symptoms.values():
        if layout in symptom.layouts:
            yes = [seen(book, faults, symptom.id) for faults in sets]
            edges.append(("fault", symptom.id))
            cpds.append(TabularCPD(symptom.id, 2, [[1 - p for p in yes], yes], ["fault"], [len(sets)]))
    here = [check for check in book.checks.values() if layout in check.layouts]
    errors = sorted({check.shared_error for check in here if check.shared_error})
    cpds += [TabularCPD(e, 2, [[1 - SHARED_ERROR], [SHARED_ERROR]]) for e in errors]
    for check in here:
        table = [row(book, faults, check) for faults in sets]
        parents, sizes = ["fault"], [len(sets)]
        if check.shared_error:
            parents, sizes = [check.shared_error, "fault"], [2, len(sets)]
            table += [row(book, frozenset(), check)] * len(sets)
        edges += [(parent, check.id) for parent in parents]
        cpds.append(TabularCPD(check.id, len(check.outcomes), np.array(table).T.tolist(), parents, sizes))
    return _model(DiscreteBayesianNetwork, edges, cpds)


def _model(kind: Any, edges: list[tuple[str, str]], cpds: list[Any]) -> Any:
    model = kind(edges)
    model.add_cpds(*cpds)
    return model
