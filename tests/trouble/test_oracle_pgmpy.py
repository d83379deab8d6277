"""The ranking against pgmpy, an independent library for Bayesian networks, on the same network."""

from __future__ import annotations

from functools import cache
from typing import Any

import numpy as np
import pytest
from aids.pgmpy_networks import cause_network, hypotheses, hypothesis_network
from aids.random_book import random_book
from aids.shipped_book import shipped_book

from shopboard.trouble import Book, Evidence, rank
from shopboard.trouble.network import network

pytestmark = pytest.mark.oracle
EXACT = 1e-9


def _random_case(book: Book, layout: str, rng: np.random.Generator) -> tuple[Evidence, dict[str, int]]:
    """Some symptoms said or denied and some checks answered, as evidence for both."""
    net = network(book, layout)
    asked = rng.choice(list(net.symptoms), size=min(2, len(net.symptoms)), replace=False)
    said = {str(s): int(rng.random() < 0.7) for s in asked}
    checks = rng.choice(list(net.checks), size=int(rng.integers(0, min(7, len(net.checks)))), replace=False)
    told = {str(c): int(rng.integers(len(net.rows[str(c)]))) for c in checks}
    symptoms = tuple(s for s, yes in said.items() if yes)
    denied = tuple((s, "no") for s, yes in said.items() if not yes)
    answers = tuple((c, list(net.rows[c])[o]) for c, o in told.items())
    counted = {c: o for c, o in told.items() if list(book.checks[c].outcomes.values())[o].same_as not in symptoms}
    return Evidence(symptoms, (*denied, *answers)), {**said, **counted}


@pytest.mark.parametrize("seed", range(25))
def test_random_small_books_node_by_node(seed: int) -> None:
    from pgmpy.inference import VariableElimination

    rng = np.random.default_rng(seed)
    book = random_book(rng, causes=6, checks=5, symptoms=2, errors=True)
    model = cause_network(book, "in-line")
    assert model.check_model()
    infer = VariableElimination(model)
    causes = sorted(book.causes)
    evidence, observed = _random_case(book, "in-line", rng)
    joint = infer.query(causes, evidence={**observed, "comes in": 1}, show_progress=False)
    ranking = rank(book, "in-line", evidence)
    place = [joint.variables.index(c) for c in causes]
    values = np.transpose(joint.values, place)
    for ranked in ranking.causes:
        alone = tuple(int(c == ranked.id) for c in causes)
        assert ranked.probability == pytest.approx(float(values[alone]), abs=EXACT)
    assert ranking.none_of_these == pytest.approx(float(values[(0,) * len(causes)]), abs=EXACT)
    bits = np.indices(values.shape).sum(axis=0)
    assert ranking.two_at_once == pytest.approx(float(values[bits == 2].sum()), abs=EXACT)


@cache
def _whole(layout: str) -> tuple[Any, list[frozenset[str]]]:
    from pgmpy.inference import VariableElimination

    return VariableElimination(hypothesis_network(shipped_book(), layout)), hypotheses(shipped_book(), layout)


@pytest.mark.parametrize("layout", ["in-line", "split", "transaxle", "gear"])
def test_the_shipped_book_on_fifty_cases_a_layout(layout: str) -> None:
    infer, sets = _whole(layout)
    rng = np.random.default_rng(31)
    for _ in range(50):
        evidence, observed = _random_case(shipped_book(), layout, rng)
        values = infer.query(["fault"], evidence=observed, show_progress=False).values
        told = {faults: float(p) for faults, p in zip(sets, values, strict=True)}
        ranking = rank(shipped_book(), layout, evidence)
        assert ranking.none_of_these == pytest.approx(told[frozenset()], abs=EXACT)
        for ranked in ranking.causes:
            assert ranked.probability == pytest.approx(told[frozenset({ranked.id})], abs=EXACT)
        for pair in ranking.pairs:
            assert pair.probability == pytest.approx(told[frozenset(pair.ids)], abs=EXACT)
        two = sum(p for faults, p in told.items() if len(faults) == 2)
        assert ranking.two_at_once == pytest.approx(two, abs=EXACT)
