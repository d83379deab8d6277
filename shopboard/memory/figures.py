"""How the memory speaks: a figure with its band and the sentence that says it, and numbers in plain words."""

from __future__ import annotations

import math

import msgspec

#: Every band holds this share of what could be true, unless it says otherwise.
LEVEL = 0.90


class Figure(msgspec.Struct, frozen=True, kw_only=True):
    """A number in `unit` with its band (`low` to `high`, at `level`) and the sentence that says it.

    `value`, `low` and `high` are None where nothing can be said; `high` alone is None where it has no upper end yet.
    """

    said: str
    value: float | None = None
    low: float | None = None
    high: float | None = None
    unit: str = ""
    level: float = LEVEL


def count(number: int, one: str, many: str = "") -> str:
    """A count in words: "no failure", "1 failure", "3 failures".

    >>> count(0, "failure"), count(1, "failure"), count(2, "seal"), count(2, "lorry", "lorries")
    ('no failure', '1 failure', '2 seals', '2 lorries')
    """
    if number == 0:
        return f"no {one}"
    return f"1 {one}" if number == 1 else f"{number:,} {many or one + 's'}"


def hours(value: float) -> str:
    """Hours as people read them: two significant figures below 100, three above.

    >>> hours(4.26), hours(58.2), hours(1834.0), hours(12345)
    ('4.3 h', '58 h', '1,830 h', '12,300 h')
    """
    return f"{rounded(value)} h"


def rounded(value: float, figures: int = 0) -> str:
    """A number in two significant figures below 100 and three above, or in as many `figures` as are asked for.

    >>> rounded(0.634), rounded(4.96), rounded(0), rounded(99.96), rounded(0.0123, 1), rounded(1.0)
    ('0.63', '5', '0', '100', '0.01', '1')
    """
    if value == 0 or not math.isfinite(value):
        return "0" if value == 0 else "no end"
    size = figures or (2 if abs(value) < 99.5 else 3)
    places = size - 1 - math.floor(math.log10(abs(value)))
    near = round(value, places)
    return f"{near:,.{max(places, 0)}f}".rstrip("0").rstrip(".") if places > 0 else f"{near:,.0f}"


def per_cent(share: float) -> str:
    """A share from 0 to 1 as per cent, never rounded to what it is not.

    >>> per_cent(0.123), per_cent(0.002), per_cent(0.999), per_cent(1)
    ('12 %', 'under 1 %', 'over 99 %', '100 %')
    """
    if 0 < share < 0.005:
        return "under 1 %"
    if 0.995 < share < 1:
        return "over 99 %"
    return f"{share:.0%}".replace("%", " %")
