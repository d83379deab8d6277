"""Form fields as data: what is asked, which options there are, what is wrong with an answer."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal, InvalidOperation
from typing import Literal, NamedTuple
from zoneinfo import ZoneInfo

from .lines import Line, Role

#: What a form holds: text per field, a tuple of option keys for fields where several may be ticked.
Values = Mapping[str, str | tuple[str, ...]]


class Option(NamedTuple):
    """One thing to choose: `key` is kept, `label` shown, `note` explains. One that `waits` is never taken by Enter
    alone: somebody must have walked to it."""

    key: str
    label: str
    note: str = ""
    role: Role = ""
    waits: bool = False


Options = Callable[[Values, str], Sequence[Option]]
Check = Callable[[str, Values], str]


def no_options(_values: Values, _typed: str) -> Sequence[Option]:
    """A field of plain text has nothing to choose."""
    return ()


def no_check(_typed: str, _values: Values) -> str:
    """Anything is right."""
    return ""


def tells_nothing(_values: Values, _width: int) -> Sequence[Line]:
    """Nothing is said under the question."""
    return ()


def always(_values: Values) -> bool:
    """The field is always asked."""
    return True


@dataclass(frozen=True)
class Field:
    """One question of a form.

    `kind`: "text" keeps what was typed (or an option's key when one is taken); "choice" keeps the key of one option;
    "many" keeps the keys ticked. `check` gives a line when the answer is wrong, else "". `asked` says whether the
    question applies, given the answers so far. `start` is the answer it begins with. `tells` are lines shown under
    the question while it is open; `hint` stands where nothing is typed yet; `eager` puts the cursor on the first
    option at once.
    """

    id: str
    label: str
    kind: Literal["text", "choice", "many"] = "text"
    hint: str | Callable[[Values], str] = ""
    options: Options = no_options
    check: Check = no_check
    asked: Callable[[Values], bool] = always
    start: str | tuple[str, ...] = ""
    tells: Callable[[Values, int], Sequence[Line]] = tells_nothing
    eager: bool = True


def text_of(values: Values, id: str) -> str:
    """The answer of a one-answer field, blanks trimmed; "" when not given."""
    value = values.get(id, "")
    return value.strip() if isinstance(value, str) else ""


def many_of(values: Values, id: str) -> tuple[str, ...]:
    """The ticked keys of a many-answer field."""
    value = values.get(id, ())
    return value if isinstance(value, tuple) else ()


def needed(message: str) -> Check:
    """A check that something was answered."""
    return lambda typed, _values: "" if typed.strip() else message


# -- what people type, read strictly --------------------------------------------------------------------------------

#: Nothing in a shop has more digits before the point.
_LONGEST = 20


def read_number(text: str, what: str, unit: str = "") -> float:
    """A plain number such as 1412, 1,412 or 12.5, with the unit it may carry; ValueError says what would be right.

    >>> read_number("1,412 h", "hour meter", "h")
    1412.0
    """
    found = re.fullmatch(rf"\s*(\d{{1,3}}(?:,\d{{3}})+|\d+)(\.\d+)?\s*(?:{re.escape(unit)})?\s*", text, re.ASCII)
    if not found or len(found[1]) > _LONGEST:
        raise ValueError(f"{what}: “{text.strip()}” is not a number; type one such as 1412 or 12.5")
    return float(found[1].replace(",", "") + (found[2] or ""))


def read_money(text: str, what: str, decimals: int) -> Decimal:
    """A sum of money with at most the shop's decimals; ValueError says what would be right.

    >>> read_money("1,250.50", "estimate", 2)
    Decimal('1250.50')
    """
    try:
        if not re.fullmatch(r"\s*(\d{1,3}(,\d{3})+|\d+)(\.\d+)?\s*", text, re.ASCII):
            raise InvalidOperation
        sum_ = Decimal(text.strip().replace(",", ""))
    except InvalidOperation:
        raise ValueError(f"{what}: “{text.strip()}” is not a sum; type one such as 120 or 89.50") from None
    exponent = sum_.as_tuple().exponent
    if isinstance(exponent, int) and -exponent > decimals:
        raise ValueError(f"{what}: “{text.strip()}” has more than {decimals} decimals")
    return sum_


_DAY_NAMES = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")


def read_day(text: str, what: str, today: date) -> date:
    """A day: 2026-11-27, today, tomorrow, +3 (days from now) or a weekday such as fri (the next one).

    >>> read_day("fri", "promise", date(2026, 11, 24))
    datetime.date(2026, 11, 27)
    """
    word = text.strip().lower()
    if word in ("today", "tomorrow"):
        return today + timedelta(days=word == "tomorrow")
    if re.fullmatch(r"\+\d{1,3}", word):
        return today + timedelta(days=int(word))
    named = [n for n, name in enumerate(_DAY_NAMES) if len(word) >= 3 and name.startswith(word)]
    if named:
        return today + timedelta(days=(named[0] - today.weekday() - 1) % 7 + 1)
    try:
        return date.fromisoformat(word)
    except ValueError:
        raise ValueError(f"{what}: “{text.strip()}” is not a day; type fri, tomorrow, +3 or 2026-11-27") from None


def read_moment(text: str, what: str, today: date, zone: ZoneInfo, *, end: bool = False) -> datetime:
    """A day as `read_day` reads it, with an hour or without ("fri", "fri 14:00"), or an hour of today ("14:00"), as a
    UTC moment: the beginning of a day that has no hour, with `end` its end.

    >>> read_moment("fri 14:30", "until", date(2026, 11, 24), ZoneInfo("UTC"))
    datetime.datetime(2026, 11, 27, 14, 30, tzinfo=datetime.timezone.utc)
    """
    found = re.fullmatch(r"(.*?)\s*\b((?:[01]?\d|2[0-3]):[0-5]\d)", text.strip())
    if not found:
        day = read_day(text, what, today)
        return moment_on(day + timedelta(days=end), zone, "00:00")
    return moment_on(read_day(found[1], what, today) if found[1] else today, zone, found[2])


def moment_on(day: date, zone: ZoneInfo, clock: str = "17:00") -> datetime:
    """The UTC moment of a local clock time on a day."""
    hour, minute = map(int, clock.split(":"))
    return datetime(day.year, day.month, day.day, hour, minute, tzinfo=zone).astimezone(UTC)


def reads(reader: Callable[[str], object], *, blank: bool = True) -> Check:
    """A check that `reader` accepts what was typed; `blank` whether nothing at all is fine."""

    def check(typed: str, _values: Values) -> str:
        if blank and not typed.strip():
            return ""
        try:
            reader(typed)
        except ValueError as error:
            return str(error)
        return ""

    return check
