"""What a repair may cost while the cause is not known: low, expected and high over what may be wrong."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from .money import MoneyRules, written
from .steps import Todo

#: Low and high leave out at most this share of what can be priced at either end.
_TAIL = Fraction(1, 10)


@dataclass(frozen=True)
class Possible:
    """Something that may be wrong: how likely (0 to 1), and the work that would cure it. A pair of faults is one
    possibility with the work of both."""

    name: str
    probability: float
    work: tuple[Todo, ...]
    parts: Decimal | None = None
    """What its parts cost as on the estimate; None: not priced."""


@dataclass(frozen=True)
class PricedPossible:
    """A possibility and the sum it comes to, checks and tax with it."""

    possible: Possible
    amount: Decimal


@dataclass(frozen=True)
class CostRange:
    """From `low` to `high`, `expected` on average, over `possibles` (most likely first).

    `holds` is the probability that the sum lies within low and high; `unknown` that it is none of them, when no sum can
    be said. `without_parts` names those whose parts have no price yet. When one cause is certain the three are one.
    """

    low: Decimal
    expected: Decimal
    high: Decimal
    holds: float
    unknown: float
    possibles: tuple[PricedPossible, ...]
    without_parts: tuple[str, ...]

    @property
    def firm(self) -> bool:
        """Whether nothing is left open: one sum, with all parts priced."""
        return self.low == self.high and not self.unknown and not self.without_parts


def cost_range(
    possibles: Sequence[Possible],
    checks: Sequence[Todo],
    price: Callable[[Sequence[Todo], Decimal], Decimal],
    rules: MoneyRules,
) -> CostRange:
    """The range over the possibilities. `checks` are the next checks, made whatever is wrong; `price` gives the whole
    sum, tax with it, of work done together and parts. So a cover that a check and the repair share counts once.

    What the probabilities leave to 1 is that it is none of these. Raises ValueError for no possibility at all, or for
    probabilities that are none or come to more than 1.
    """
    kept = sorted((one for one in possibles if one.probability > 0), key=lambda one: -one.probability)
    whole = sum((written(one.probability) for one in kept), Fraction(0))
    if any(not 0 <= one.probability <= 1 for one in possibles) or not kept or whole > 1 + Fraction(1, 10**6):
        raise ValueError("what may be wrong needs probabilities above 0 that come to 1 at most")
    priced = [PricedPossible(one, price(_joined(checks, one.work), one.parts or Decimal(0))) for one in kept]
    mean = sum((Fraction(one.amount) * written(one.possible.probability) for one in priced), Fraction(0)) / whole
    low, high = _between(priced, whole)
    holds = sum(one.possible.probability for one in priced if low <= one.amount <= high)
    return CostRange(
        low=low,
        expected=rules.rounded(mean),
        high=high,
        holds=min(1.0, float(holds)),
        unknown=max(0.0, float(1 - whole)) if 1 - whole > Fraction(1, 10**9) else 0.0,
        possibles=tuple(priced),
        without_parts=tuple(one.name for one in kept if one.parts is None),
    )


def _joined(checks: Sequence[Todo], work: Sequence[Todo]) -> tuple[Todo, ...]:
    return (*checks, *(one for one in work if one.id not in {check.id for check in checks}))


def _between(priced: Sequence[PricedPossible], whole: Fraction) -> tuple[Decimal, Decimal]:
    """The smallest sum with more than a tenth of the weight at or below it, the largest with more than a tenth at or
    above it."""
    rising = sorted(priced, key=lambda one: one.amount)
    return _first(rising, whole), _first(rising[::-1], whole)


def _first(ordered: Sequence[PricedPossible], whole: Fraction) -> Decimal:
    so_far = Fraction(0)
    for one in ordered:
        so_far += written(one.possible.probability)
        if so_far > whole * _TAIL:
            break
    return one.amount
