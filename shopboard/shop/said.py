"""What people typed, as the rules take it: words that say something, sums of money, numbers that can be.

Text is kept as typed and never interpreted; only whether it says anything at all is asked.
"""

from __future__ import annotations

import math
import unicodedata
from decimal import Decimal

from shopboard.records import Refused, Settings

#: No sum of a shop reaches this.
LARGEST_SUM = Decimal(10) ** 9


def blank(text: str) -> bool:
    """Whether the text shows nothing: only spaces, control and invisible characters.

    >>> blank(" \\u200b\\n"), blank(".")
    (True, False)
    """
    return not any(char.isprintable() and not char.isspace() for char in text)


def words(text: str, what: str, would_do: str = "type it in") -> str:
    """The text as typed; refused if it is blank."""
    if blank(text):
        raise Refused(f"{what} is blank", would_do)
    return text


def same(text: str) -> str:
    """The text for comparing names and serials: case, spaces and ways to write a letter do not count.

    >>> same(" Sn 40-A") == same("SN40-a")
    True
    """
    return "".join(unicodedata.normalize("NFKC", text).casefold().split())


def digits(text: str) -> str:
    """The digits of a telephone number, for comparing."""
    return "".join(char for char in text if char.isdigit())


def money(amount: Decimal, what: str, settings: Settings) -> Decimal:
    """The sum in the shop's minor units; refused if negative, not a number or finer than the shop's money.

    Raises TypeError for anything but a Decimal: a float is never money.
    """
    if not isinstance(amount, Decimal):
        raise TypeError(f"{what} must be a Decimal, not {type(amount).__name__}")
    if not amount.is_finite() or abs(amount) >= LARGEST_SUM:
        raise Refused(f"{what} is not a sum of money", "type a sum such as 120 or 89.50")
    if amount < 0:
        raise Refused(f"{what} is negative ({amount})", "type a sum of nought or more")
    exact = amount.quantize(Decimal(1).scaleb(-settings.decimals))
    if exact != amount:
        raise Refused(
            f"{what} ({amount}) is finer than the shop's money",
            f"round it to {settings.decimals} decimals" if settings.decimals else "round it to whole units",
        )
    return abs(exact)


def sum_words(amount: Decimal, settings: Settings) -> str:
    """A sum with its currency."""
    return f"{amount} {settings.currency}"


def number(value: float, what: str, *, least: float = -math.inf, most: float = math.inf) -> float:
    """The number, if it is one and from `least` to `most`; refused otherwise. A yes or no is no number."""
    if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
        raise Refused(f"{what} is not a number", "read it again and type a plain number")
    if not least <= value <= most:
        bounds = f"at least {plain(least)}" if most == math.inf else f"{plain(least)} to {plain(most)}"
        raise Refused(f"{what} cannot be {plain(value)}", f"read it again: {bounds} can be")
    return float(value)


def count(value: int, what: str) -> int:
    """The number of pieces, 1 or more; refused otherwise."""
    if isinstance(value, bool) or not isinstance(value, int) or value < 1:
        raise Refused(f"{what} cannot be {value}", "type a whole number, 1 or more")
    return value


def plain(value: float) -> str:
    """A number without needless decimals.

    >>> plain(1412.0), plain(12.5)
    ('1412', '12.5')
    """
    return f"{value:.10g}"
