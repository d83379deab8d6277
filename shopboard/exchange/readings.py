"""Dates and figures that can be read in more than one way: every way is kept until one is decided aloud."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime, time
from decimal import Decimal
from typing import Generic, TypeVar

V = TypeVar("V")

#: The orders a date may be written in, and the marks before a figure's decimals, in words.
ORDERS = {"dmy": "day first", "mdy": "month first", "ymd": "year first"}
MARKS = {"point": "a point before the decimals", "comma": "a comma before the decimals"}

_DATE = re.compile(r"(\d{1,4})([./-])(\d{1,2})\2(\d{1,4})")
_CLOCK = re.compile(r"(.*?)[ T,]+(\d{1,2}):(\d{2})(?::\d{2}(?:\.\d+)?)?\s*(am|pm)?", re.IGNORECASE | re.ASCII)
_NAMED = re.compile(
    r"(\d{1,2})\.?[ -]([a-z]{3,9})\.?[ ,-]+(\d{4})|([a-z]{3,9})\.? (\d{1,2}),? (\d{4})", re.IGNORECASE | re.ASCII
)
_MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")
_FULL = (
    "january",
    "february",
    "march",
    "april",
    "may",
    "june",
    "july",
    "august",
    "september",
    "october",
    "november",
    "december",
)
_FIGURE = re.compile(r"\d{1,15}(?:[.,' \u00a0\u202f]\d{1,15}){0,6}", re.ASCII)


@dataclass(frozen=True)
class Ways(Generic[V]):
    """What a text can mean, by the way of reading it; a text that means the same in every way has one meaning."""

    by_way: Mapping[str, V]

    @property
    def sure(self) -> bool:
        """Whether there is no choice."""
        return len(set(self.by_way.values())) == 1

    def read(self, way: str) -> V | None:
        """What it means when read this way; a text without a choice says so itself when no way is decided."""
        if not way:
            return next(iter(self.by_way.values())) if self.sure else None
        return self.by_way.get(way)


def dates(text: str, today: date) -> Ways[datetime]:
    """What a date as people write it can mean, with the time it may carry; empty where it is none.

    >>> sorted(dates("03/04/2021", date(2026, 1, 1)).by_way)
    ['dmy', 'mdy']
    >>> dates("2021-04-03", date(2026, 1, 1)).sure
    True
    """
    clock = _CLOCK.fullmatch(text.strip())
    day = (clock[1] if clock else text).strip().rstrip(",")
    try:
        at = _clock(int(clock[2]), int(clock[3]), (clock[4] or "").lower()) if clock else time()
    except ValueError:
        return Ways({})
    found = _DATE.fullmatch(day) if day.isascii() else None
    by_way = _numbered(found[1], found[3], found[4], today) if found else _worded(day)
    return Ways({way: datetime.combine(one, at) for way, one in by_way.items()})


def _clock(hour: int, minute: int, half: str) -> time:
    if half:
        if not 1 <= hour <= 12:
            raise ValueError
        hour = hour % 12 + 12 * (half == "pm")
    return time(hour, minute)


def _numbered(first: str, second: str, third: str, today: date) -> dict[str, date]:
    tries = {"dmy": (third, second, first), "mdy": (third, first, second), "ymd": (first, second, third)}
    found: dict[str, date] = {}
    for way, (year, month, day) in tries.items():
        if len(year) in (2, 4) and len(month) <= 2 and len(day) <= 2:
            try:
                found[way] = date(_year(year, today), int(month), int(day))
            except ValueError:
                continue
    # Four digits first are year, month, day everywhere: whatever order the others are in
    return dict.fromkeys(ORDERS, found["ymd"]) if len(first) == 4 and "ymd" in found else found


def _year(digits: str, today: date) -> int:
    """Two digits are the last such year that is not to come."""
    if len(digits) == 4:
        return int(digits)
    year = today.year - today.year % 100 + int(digits)
    return year if year <= today.year else year - 100


def _worded(text: str) -> dict[str, date]:
    found = _NAMED.fullmatch(text)
    if not found:
        return {}
    day, month, year = (found[1], found[2], found[3]) if found[1] else (found[5], found[4], found[6])
    word = month.lower()
    number = next(
        (n for n, (short, full) in enumerate(zip(_MONTHS, _FULL, strict=True), 1) if word in (short, full, full[:4])), 0
    )
    try:
        return dict.fromkeys(ORDERS, date(int(year), number, int(day)))
    except ValueError:
        return {}


def figures(text: str) -> Ways[Decimal]:
    """What a number as people write it can mean; empty where it is none. Units and currency are taken off before.

    >>> figures("1,412").by_way == {"point": Decimal(1412), "comma": Decimal("1.412")}
    True
    >>> figures("12.5").sure, figures("1.412,50").sure
    (True, True)
    """
    text = text.strip()
    if not _FIGURE.fullmatch(text):
        return Ways({})
    found: dict[str, Decimal] = {}
    for way, mark, group in (("point", ".", ","), ("comma", ",", ".")):
        spaced = rf"(?:{re.escape(group)}|[' \u00a0\u202f])"
        whole = rf"(?:\d+|\d{{1,3}}(?P<g>{spaced})\d{{3}}(?:(?P=g)\d{{3}})*)"
        if re.fullmatch(rf"{whole}(?:{re.escape(mark)}\d+)?", text, re.ASCII):
            plain = re.sub(r"[' \u00a0\u202f]", "", text).replace(group, "")
            found[way] = Decimal(plain.replace(mark, "."))
    return Ways(found)


class Undecided(ValueError):
    """Texts can be read in more than one way and nothing in the column says which: `row` is one, `text` what stands
    there, `ways` its meanings."""

    def __init__(self, row: int, text: str, ways: Ways[V], mixed: bool) -> None:
        self.row, self.text, self.ways, self.mixed = row, text, ways, mixed
        super().__init__(text)


@dataclass(frozen=True)
class Decided:
    """The way a column is read, "" where no text leaves a choice, and the text that could only be so."""

    way: str = ""
    since: str = ""


def decide(texts: Iterable[tuple[int, str]], ways_of: Callable[[str], Ways[V]]) -> Decided:
    """How to read a column's texts (each with its row), from those that can be read in one way only.

    Raises Undecided where some leave a choice and the others do not settle it.
    """
    open_: tuple[int, str, Ways[V]] | None = None
    proof: dict[str, str] = {}
    for row, text in texts:
        ways = ways_of(text)
        if len(ways.by_way) > 1 and not ways.sure:
            open_ = open_ or (row, text, ways)
        elif len(ways.by_way) == 1:
            proof.setdefault(next(iter(ways.by_way)), text)
    if open_ is None:
        return Decided()
    if len(proof) == 1:
        ((way, since),) = proof.items()
        if way in open_[2].by_way:
            return Decided(way, since)
    raise Undecided(*open_, mixed=len(proof) > 1)
