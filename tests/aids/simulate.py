"""Machines drawn from a book: faults, what the customer reports, and what each check would show."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from shopboard.trouble import Book
from shopboard.trouble.network import Network, network
from shopboard.trouble.scales import SHARED_ERROR


@dataclass(frozen=True)
class Drawn:
    """One machine: the number of its hypothesis in the network, its causes, the symptom it is brought in for, what was
    said to questions for others (symptom, "yes" or "no"), and the shared errors at work."""

    hypothesis: int
    causes: tuple[str, ...]
    symptoms: tuple[str, ...]
    asked: tuple[tuple[str, str], ...]
    errors: frozenset[str]


def draw(net: Network, rng: np.random.Generator, asked: int = 2, prior: np.ndarray | None = None) -> Drawn:
    """A machine that is brought in: a symptom drawn evenly, and a fault from the prior given that it is seen.

    So the chance of a complaint is what the book says it is, and what the customer does not mention means nothing.
    """
    prior = net.prior() if prior is None else prior
    names = list(net.symptoms)
    while True:
        chief = names[int(rng.integers(len(names)))]
        hypothesis = int(rng.choice(net.size, p=prior / prior.sum()))
        if rng.random() < net.symptoms[chief][hypothesis]:
            break
    others = rng.choice([id for id in names if id != chief], size=min(asked, len(names) - 1), replace=False)
    told = tuple((str(id), "yes" if rng.random() < net.symptoms[id][hypothesis] else "no") for id in others)
    errors = sorted({check.shared_error for check in net.book.checks.values() if check.shared_error})
    at_work = frozenset(name for name in errors if rng.random() < SHARED_ERROR)
    return Drawn(hypothesis, causes_of(net, hypothesis), (chief,), told, at_work)


def causes_of(net: Network, hypothesis: int) -> tuple[str, ...]:
    """The causes of a hypothesis by number: none, one or two."""
    count = len(net.causes)
    if hypothesis == 0:
        return ()
    if hypothesis <= count:
        return (net.causes[hypothesis - 1],)
    pair = hypothesis - 1 - count
    return net.causes[net.first[pair]], net.causes[net.second[pair]]


def outcome(net: Network, machine: Drawn, check: str, rng: np.random.Generator) -> str:
    """What a check shows on a machine; spoilt by its shared error it shows what a sound one would."""
    spoilt = net.book.checks[check].shared_error in machine.errors
    row = net.checks[check][:, 0 if spoilt else machine.hypothesis]
    return list(net.rows[check])[int(rng.choice(len(row), p=row))]


def answers(
    net: Network, machine: Drawn, checks: Iterable[str], rng: np.random.Generator
) -> tuple[tuple[str, str], ...]:
    """The outcomes of several checks, as evidence takes them."""
    return tuple((check, outcome(net, machine, check, rng)) for check in checks)


def perturbed(book: Book, rng: np.random.Generator, *, words: float = 0.0, logit: float = 0.0) -> Book:
    """The book with a share `words` of its entries one word off, or every number moved by logit-normal noise."""
    from msgspec.structs import replace

    from shopboard.trouble.scales import FREQUENCY, WEIGHT

    def off(value: float, scale: list[float]) -> float:
        if words and rng.random() < words:
            place = min(range(len(scale)), key=lambda i: abs(np.log(scale[i] / value)))
            step = int(rng.choice([-1, 1]))
            value = scale[place + step] if 0 <= place + step < len(scale) else scale[place - step]
        if logit:
            odds = value / (1 - value) * float(np.exp(rng.normal(0, logit)))
            value = odds / (1 + odds)
        return value

    often, common = list(FREQUENCY.values()), list(WEIGHT.values())
    causes = {
        id: replace(
            c,
            weight=off(c.weight, common),
            shows={s: off(p, often) for s, p in c.shows.items()},
            answers={k: {o: off(p, often) for o, p in told.items()} for k, told in c.answers.items()},
        )
        for id, c in book.causes.items()
    }
    symptoms = {id: replace(s, otherwise=off(s.otherwise, often)) for id, s in book.symptoms.items()}
    checks = {
        id: replace(
            c,
            outcomes={
                o: out if out.normal else replace(out, otherwise=off(out.otherwise, often))
                for o, out in c.outcomes.items()
            },
        )
        for id, c in book.checks.items()
    }
    return Book(symptoms, checks, causes, book.corrections, book.covers, book.service_points, book.cautions)


def layout_network(book: Book, layout: str = "in-line") -> Network:
    """The network of a layout, for tests that draw from it."""
    return network(book, layout)
