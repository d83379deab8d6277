"""What was said, answered and measured, as likelihoods by hypothesis."""

from __future__ import annotations

import math
from collections.abc import Iterator

import msgspec
import numpy as np

from .book import Book, Check
from .network import SILENT, Floats, Network
from .scales import READING_SLIP, READING_SPAN, SHARED_ERROR


class SoftReading(msgspec.Struct, frozen=True):
    """A measured number as evidence for a check: `ratio` is the reading over the model's limit, `error` the standard
    error of the instrument on the same scale, `quantity` which of the check's readings it is ("": its first)."""

    check: str
    ratio: float
    error: float = 0.0
    quantity: str = ""


class Evidence(msgspec.Struct, frozen=True):
    """What is known of one machine. `symptoms` are those reported; `answers` pairs of check and outcome, or of a
    symptom that was asked for and "yes" or "no". "unsure" and "not tested" say nothing; of two answers to one check
    the later counts, of two readings of one quantity too, and a reading counts before an answer."""

    symptoms: tuple[str, ...] = ()
    answers: tuple[tuple[str, str], ...] = ()
    readings: tuple[SoftReading, ...] = ()


class Item(msgspec.Struct, frozen=True):
    """One piece of evidence: P(it) by hypothesis, and what it would be where the shared error spoilt the check."""

    id: str
    outcome: str
    text: str
    likelihood: Floats
    error: str = ""
    spoilt: float = 0.0


def soft_reading(
    book: Book, check: str, value: float, limit: float, error: float = 0.0, quantity: str = ""
) -> SoftReading:
    """The evidence of a reading `value` with standard error `error` against the model's `limit`, in one unit.

    Raises ValueError if the limit is not above 0 or the check is not answered by readings.
    """
    if not limit > 0 or not math.isfinite(value) or not error >= 0:
        raise ValueError("a reading needs a limit above 0, a finite value and an error of 0 or more")
    if check not in book.checks or not book.checks[check].readings:
        raise ValueError(f"{check} is not answered by a reading")
    return SoftReading(check, value / limit, error / limit, quantity)


def items(net: Network, evidence: Evidence) -> tuple[Item, ...]:
    """The evidence that says something on this layout, in a fixed order, so that the order of telling is nothing."""
    measured = {id: _measured(net, id, evidence.readings) for id in {reading.check for reading in evidence.readings}}
    answered: dict[str, Item | None] = {id: _symptom(net, id, "yes") for id in evidence.symptoms}
    for id, outcome in evidence.answers:
        answered[id] = _symptom(net, id, outcome) if id in net.symptoms else _answer(net, id, outcome)
    for id, item in answered.items():
        if item is not None and id in net.checks and repeats(net, id, item.outcome) in evidence.symptoms:
            answered[id] = None
    answered |= {id: item for id, item in measured.items() if item is not None}
    return tuple(item for _, item in sorted(answered.items()) if item is not None)


def repeats(net: Network, check: str, outcome: str) -> str:
    """The symptom that an outcome of a check is in other words, or nothing."""
    return net.book.checks[check].outcomes[outcome].same_as


def known(net: Network, evidence: Evidence) -> set[str]:
    """Ids of what need not be asked any more: answered in any way, measured, said by a symptom already, or idle on a
    machine with such a symptom."""
    said = {id for id in net.checks if any(repeats(net, id, o) in evidence.symptoms for o in net.rows[id])}
    said |= {id for id in net.checks if set(net.book.checks[id].unless) & set(evidence.symptoms)}
    return said | {id for id, _ in evidence.answers} | {reading.check for reading in evidence.readings}


def left_out(net: Network, evidence: Evidence) -> tuple[str, ...]:
    """Ids in the evidence that this layout of the book does not know (the book may have changed since)."""
    named = [*evidence.symptoms, *(id for id, _ in evidence.answers), *(reading.check for reading in evidence.readings)]
    silent = {id for id, outcome in evidence.answers if outcome in SILENT}
    strange = {id for id in named if id not in net.symptoms and id not in net.checks} - silent
    strange |= {id for id, outcome in evidence.answers if id in net.checks and _strange(net, id, outcome)}
    return tuple(sorted(strange))


def _strange(net: Network, check: str, outcome: str) -> bool:
    return outcome not in SILENT and outcome not in net.rows[check]


def _symptom(net: Network, id: str, said: str) -> Item | None:
    if id not in net.symptoms or said not in ("yes", "no"):
        return None
    name, seen = net.book.symptoms[id].name, net.symptoms[id]
    return Item(id, said, name, seen) if said == "yes" else Item(id, said, f"not: {name}", 1.0 - seen)


def _answer(net: Network, check: str, outcome: str) -> Item | None:
    if check not in net.checks or outcome not in net.rows[check]:
        return None
    row = net.checks[check][net.rows[check][outcome]]
    entry = net.book.checks[check]
    return Item(check, outcome, entry.outcomes[outcome].name, row, entry.shared_error, float(row[0]))


def _measured(net: Network, check: str, readings: tuple[SoftReading, ...]) -> Item | None:
    """The readings of a check: each outcome is a class with its own spread; some readings are plain slips. Readings
    of different quantities are taken as independent once the outcome is given."""
    entry = net.book.checks.get(check)
    if check not in net.checks or entry is None or not entry.readings:
        return None
    first = entry.readings[0].quantity
    by = {reading.quantity or first: reading for reading in readings if reading.check == check}
    known = [(i, by[of.quantity]) for i, of in enumerate(entry.readings) if of.quantity in by]
    if not known:
        return None
    row = np.array([_class(outcome.ratios, known) for outcome in entry.outcomes.values()]) @ net.checks[check]
    text = f"{entry.name}: {_words(entry, known)}"
    return Item(check, "", text, row, entry.shared_error, float(row[0]))


def _class(ratios: tuple[tuple[float, float], ...], known: list[tuple[int, SoftReading]]) -> float:
    """Density of the readings where the check comes out one way."""
    return math.prod(_density(read.ratio, ratios[i][0], math.hypot(ratios[i][1], read.error)) for i, read in known)


def _words(entry: Check, known: list[tuple[int, SoftReading]]) -> str:
    if len(entry.readings) == 1 and isinstance(entry.readings[0].limit, str):
        return f"{known[0][1].ratio:.2f} of the limit"
    return ", ".join(f"{entry.readings[i].quantity.replace('_', ' ')} {read.ratio:.2f}" for i, read in known)


def _density(ratio: float, mean: float, spread: float) -> float:
    normal = math.exp(-0.5 * ((ratio - mean) / spread) ** 2) / (spread * math.sqrt(2 * math.pi))
    return (1.0 - READING_SLIP) * normal + READING_SLIP / READING_SPAN


def factors(found: tuple[Item, ...]) -> Iterator[Floats]:
    """Independent likelihoods by hypothesis: one for each item, items with one shared error taken together."""
    errors = sorted({item.error for item in found if item.error})
    yield from (item.likelihood for item in found if not item.error)
    for error in errors:
        together = [item for item in found if item.error == error]
        sound = np.prod([item.likelihood for item in together], axis=0)
        yield (1.0 - SHARED_ERROR) * sound + SHARED_ERROR * math.prod(item.spoilt for item in together)


def spoilt_share(found: tuple[Item, ...], error: str, size: int) -> Floats:
    """P(the shared error `error` was at work) by hypothesis, given the items seen."""
    together = [item for item in found if item.error == error]
    sound = np.prod([np.ones(size), *(item.likelihood for item in together)], axis=0)
    spoilt = SHARED_ERROR * math.prod(item.spoilt for item in together)
    share: Floats = spoilt / (spoilt + (1.0 - SHARED_ERROR) * sound)
    return share
