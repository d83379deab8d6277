"""Money on an estimate: lines, tax, totals, and the one rounding rule. Decimal and exact fractions only, never a float.

**Rounding.** Every line is rounded by itself to the currency's smallest unit, halves away from nought, and totals are
sums of the lines as they are printed, so that whoever adds them up gets the same. Tax is reckoned once, on the sum
of the lines it falls on, and rounded the same way. Prices that hold their tax already (`tax_included`) are summed
first; the tax in them is that sum times rate / (100 + rate).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from typing import Literal

from shopboard.records import Payer

Kind = Literal["labour", "access", "part", "core", "supplies", "fee", "credit"]

_SIXTY, _HUNDRED = Fraction(60), Fraction(100)


@dataclass(frozen=True)
class MoneyRules:
    """How the shop reckons money: currency, decimals of its smallest unit, tax in per cent, and whether prices hold
    it already. Raises TypeError for a rate that is no Decimal, ValueError for one below nought."""

    currency: str = "EUR"
    decimals: int = 2
    tax_percent: Decimal = Decimal(0)
    tax_included: bool = False

    def __post_init__(self) -> None:
        if exact(self.tax_percent, "the tax rate") < 0:
            raise ValueError("a tax rate is nought or more")

    def rounded(self, amount: Decimal | Fraction | int) -> Decimal:
        """The amount in the smallest unit, halves away from nought.

        >>> MoneyRules().rounded(Fraction(1, 8)), MoneyRules().rounded(Decimal("-2.345"))
        (Decimal('0.13'), Decimal('-2.35'))
        """
        units = abs(exact(amount, "an amount")) * 10**self.decimals
        whole = int(units + Fraction(1, 2))  # int() cuts, and nothing here is below nought
        sign = -1 if amount < 0 else 1
        return Decimal(sign * whole).scaleb(-self.decimals) if whole else Decimal(0).scaleb(-self.decimals)

    def words(self, amount: Decimal) -> str:
        """The amount with its currency, as printed."""
        return f"{amount} {self.currency}"


def exact(amount: Decimal | Fraction | int, what: str) -> Fraction:
    """The amount as an exact fraction. Raises TypeError for a float or a yes or no, ValueError for no number."""
    if isinstance(amount, bool) or not isinstance(amount, Decimal | Fraction | int):
        raise TypeError(f"{what} must be a Decimal, not {type(amount).__name__}")
    if isinstance(amount, Decimal) and not amount.is_finite():
        raise ValueError(f"{what} is not a number")
    return Fraction(amount)


@dataclass(frozen=True)
class MoneyLine:
    """One line: what it is, its rounded amount, and how that came about (`quantity` of `unit` at `price`). `payer` is
    who pays it, `taxed` whether tax falls on it."""

    kind: Kind
    text: str
    amount: Decimal
    quantity: Decimal = Decimal(1)
    unit: str = ""
    price: Decimal | None = None
    payer: Payer = Payer.CUSTOMER
    taxed: bool = True


@dataclass(frozen=True)
class Bill:
    """What one payer pays: net, tax and gross; with `tax_included` the net is what is left of the prices."""

    payer: Payer
    net: Decimal
    tax: Decimal
    gross: Decimal


def labour_amount(minutes: float | Decimal, rate: Decimal, rules: MoneyRules) -> Decimal:
    """What billed minutes cost at a rate an hour. The book's minutes count as they are written (7.5, not its nearest
    binary number).

    >>> labour_amount(53, Decimal(112), MoneyRules())
    Decimal('98.93')
    """
    return rules.rounded(written(minutes) * exact(rate, "the labour rate") / _SIXTY)


def written(number: float | Decimal) -> Fraction:
    """The number as it is written, exactly."""
    return Fraction(str(number))


def labour_line(kind: Kind, text: str, minutes: float, rate: Decimal, rules: MoneyRules, payer: Payer) -> MoneyLine:
    """A line of labour."""
    amount = labour_amount(minutes, rate, rules)
    return MoneyLine(kind, text, amount, Decimal(str(minutes)), "min", rate, payer)


def priced_line(
    kind: Kind, text: str, quantity: int | Decimal, price: Decimal, rules: MoneyRules, payer: Payer = Payer.CUSTOMER
) -> MoneyLine:
    """A line of `quantity` pieces at `price` each."""
    amount = rules.rounded(exact(quantity, "the quantity") * exact(price, "the price"))
    return MoneyLine(kind, text, amount, Decimal(quantity), "", price, payer)


def supplies_amount(labour: Decimal, percent: Decimal, most: Decimal | None, rules: MoneyRules) -> Decimal:
    """What rags, cleaner and the like come to: a share of the labour, at most `most`.

    >>> supplies_amount(Decimal(400), Decimal(5), Decimal(15), MoneyRules())
    Decimal('15.00')
    """
    amount = exact(labour, "the labour") * exact(percent, "the share") / _HUNDRED
    return rules.rounded(amount if most is None else min(amount, exact(most, "the most")))


def bills(lines: Iterable[MoneyLine], rules: MoneyRules) -> tuple[Bill, ...]:
    """One bill for each payer that has a line, in the order they first come.

    >>> [bill] = bills([MoneyLine("part", "seal", Decimal("19.99"))], MoneyRules(tax_percent=Decimal(20)))
    >>> bill.net, bill.tax, bill.gross
    (Decimal('19.99'), Decimal('4.00'), Decimal('23.99'))
    """
    by_payer: dict[Payer, list[MoneyLine]] = {}
    for line in lines:
        by_payer.setdefault(line.payer, []).append(line)
    return tuple(_bill(payer, found, rules) for payer, found in by_payer.items())


def _bill(payer: Payer, lines: Sequence[MoneyLine], rules: MoneyRules) -> Bill:
    zero = rules.rounded(0)
    total = sum((line.amount for line in lines), zero)
    taxed = exact(sum((line.amount for line in lines if line.taxed), zero), "the sum")
    rate = exact(rules.tax_percent, "the tax rate")
    if rules.tax_included:
        tax = rules.rounded(taxed * rate / (_HUNDRED + rate))
        return Bill(payer, total - tax, tax, total)
    tax = rules.rounded(taxed * rate / _HUNDRED)
    return Bill(payer, total, tax, total + tax)


def split(total: Decimal, weights: Mapping[str, Fraction], rules: MoneyRules) -> dict[str, Decimal]:
    """The total shared out by weight in whole smallest units: each gets its part cut, and the units left over go to
    the largest remainders. The parts always add up to the total.

    >>> split(Decimal("10.00"), {"a": Fraction(1), "b": Fraction(1), "c": Fraction(1)}, MoneyRules())
    {'a': Decimal('3.34'), 'b': Decimal('3.33'), 'c': Decimal('3.33')}
    """
    if not weights:
        return {}
    whole = sum(weights.values(), Fraction(0))
    units = int(exact(total, "the total") * 10**rules.decimals)
    if whole <= 0 or any(weight < 0 for weight in weights.values()) or units < 0:
        raise ValueError("shares are nought or more, and one is more than nought")
    parts = {id: units * weight / whole for id, weight in weights.items()}
    cut = {id: int(part) for id, part in parts.items()}
    by_remainder = sorted(parts, key=lambda id: cut[id] - parts[id])
    for id in by_remainder[: units - sum(cut.values())]:
        cut[id] += 1
    return {id: Decimal(count).scaleb(-rules.decimals) for id, count in cut.items()}
