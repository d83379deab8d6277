"""The likely causes, exactly, with what speaks for and against each in words and in weight."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import msgspec
import numpy as np

from .book import Book
from .conflict import contradictions
from .evidence import Evidence, Item, factors, items, left_out
from .network import Floats, Network, network, posterior

#: Weights nearer to 0 than this (odds changed by less than a tenth) are not worth a line.
_WORTH_SAYING = 0.1
_STRENGTH = ((2.3, "strongly"), (1.1, "clearly"), (0.4, "somewhat"), (0.0, "slightly"))


class Weight(msgspec.Struct, frozen=True):
    """What one piece of evidence does to one cause. `weight` is the natural logarithm of the factor by which it
    changed the odds of the cause, all other evidence standing (Good's weight of evidence)."""

    text: str
    weight: float

    @property
    def strength(self) -> str:
        """The weight in a word: slightly, somewhat, clearly (odds × 3), strongly (odds × 10)."""
        return next(word for least, word in _STRENGTH if abs(self.weight) >= least)


class Ranked(msgspec.Struct, frozen=True):
    """One cause as the only fault: its probability, and the evidence for and against it, the heaviest first."""

    id: str
    name: str
    probability: float
    speaks_for: tuple[Weight, ...] = ()
    speaks_against: tuple[Weight, ...] = ()


class PairOf(msgspec.Struct, frozen=True):
    """Two causes present together, and how probable that is."""

    ids: tuple[str, str]
    name: str
    probability: float


class Ranking(msgspec.Struct, frozen=True):
    """Every cause of the layout, most likely first. Single causes, `two_at_once` and `none_of_these` sum to 1.

    `pairs` are the likeliest five pairs; `contradictions` say which answers hardly go together; `left_out` are ids in
    the evidence that the book does not know.
    """

    causes: tuple[Ranked, ...]
    two_at_once: float
    pairs: tuple[PairOf, ...]
    none_of_these: float
    contradictions: tuple[str, ...] = ()
    left_out: tuple[str, ...] = ()


def hypotheses(net: Network, found: tuple[Item, ...], weights: Mapping[str, float] | None = None) -> Floats:
    """The probability of every hypothesis of the network, given the items of evidence."""
    return posterior(net.prior(weights), *factors(found))


def rank(book: Book, layout: Any, evidence: Evidence, *, weights: Mapping[str, float] | None = None) -> Ranking:
    """The causes of a machine of this layout, given the evidence.

    `weights` multiplies the prior odds of causes by id (1 where it names none), as the shop's memory of failures at
    this hour meter may; raises ValueError for a negative one or an unknown layout. Evidence the book does not know
    is left out and named.
    """
    net = network(book, layout)
    found = items(net, evidence)
    chance = hypotheses(net, found, weights)
    count = len(net.causes)
    moved = _weights(net, found, weights, chance)
    ranked = [
        Ranked(id, book.causes[id].name, float(chance[1 + place]), *_for_and_against(found, moved[:, place]))
        for place, id in enumerate(net.causes)
    ]
    return Ranking(
        causes=tuple(sorted(ranked, key=lambda cause: (-cause.probability, cause.id))),
        two_at_once=float(chance[1 + count :].sum()),
        pairs=_pairs(net, chance),
        none_of_these=float(chance[0]),
        contradictions=contradictions(book, found, net.prior(weights)),
        left_out=left_out(net, evidence),
    )


def _log_odds(chance: Floats) -> Floats:
    tiny = 1e-15
    result: Floats = np.log(np.maximum(chance, tiny)) - np.log(np.maximum(1.0 - chance, tiny))
    return result


def _weights(net: Network, found: tuple[Item, ...], weights: Mapping[str, float] | None, chance: Floats) -> Floats:
    """For each item (row) and cause: the change of its log odds when the item joins all the others."""
    singles = slice(1, 1 + len(net.causes))
    odds = _log_odds(chance[singles])
    without = [hypotheses(net, found[:row] + found[row + 1 :], weights)[singles] for row in range(len(found))]
    return np.array([odds - _log_odds(other) for other in without]).reshape(len(found), len(net.causes))


def _for_and_against(found: tuple[Item, ...], moved: Floats) -> tuple[tuple[Weight, ...], tuple[Weight, ...]]:
    said = [Weight(item.text, float(weight)) for item, weight in zip(found, moved, strict=True)]
    speaks_for = sorted((w for w in said if w.weight >= _WORTH_SAYING), key=lambda w: -w.weight)
    against = sorted((w for w in said if w.weight <= -_WORTH_SAYING), key=lambda w: w.weight)
    return tuple(speaks_for), tuple(against)


def _pairs(net: Network, chance: Floats, most: int = 5) -> tuple[PairOf, ...]:
    of_pairs = chance[1 + len(net.causes) :]
    best = np.argsort(-of_pairs, kind="stable")[:most]
    made = []
    for place in best:
        ids = net.causes[net.first[place]], net.causes[net.second[place]]
        name = " and ".join(net.book.causes[id].name for id in ids)
        made.append(PairOf(ids, name, float(of_pairs[place])))
    return tuple(made)
