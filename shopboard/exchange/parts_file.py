"""Prices written into parts.toml as a careful person would: only the lines that change, remarks left where they are."""

from __future__ import annotations

import itertools
import re
import tomllib
from collections.abc import Iterable, Mapping
from typing import Any

from shopboard.records import Refused
from shopboard.shop.said import same

from .take_prices import Price

_NUMBER = re.compile(r"^[ \t]*number[ \t]*=.*$", re.MULTILINE)
_PART = re.compile(r"^[ \t]*\[\[[ \t]*part[ \t]*\]\]", re.MULTILINE)


def with_prices(text: str, prices: Mapping[str, Price]) -> str:
    """parts.toml with these prices (by number without case and blanks) in it; new numbers come last.

    Raises Refused where the file is written in a way that this cannot change without changing more.
    """
    starts = [found.start() for found in _PART.finditer(text)]
    pieces = [text[: starts[0]] if starts else text]
    pieces += [text[start:end] for start, end in itertools.pairwise([*starts, len(text)])]
    found: set[str] = set()
    for place, piece in enumerate(pieces[1:], 1):
        key = same(str(_one(piece).get("number", "")))
        if key in prices:
            found.add(key)
            pieces[place] = _changed(piece, prices[key])
    new = "".join(pieces)
    fresh = [prices[key] for key in prices if key not in found]
    if fresh:
        new = new.rstrip("\n") + "\n" + "".join(map(_table, fresh))
    wanted = _wanted(_data(text), prices, fresh)
    try:
        as_wanted = tomllib.loads(new)["part"] == wanted
    except (tomllib.TOMLDecodeError, KeyError):
        as_wanted = False
    if not as_wanted:
        raise Refused("parts.toml is written in a way that only a person can change", "write the prices by hand")
    return new


def _one(piece: str) -> dict[str, Any]:
    try:
        table: dict[str, Any] = tomllib.loads(piece)["part"][0]
    except (tomllib.TOMLDecodeError, KeyError, IndexError, TypeError):
        return {}
    return table


def _changed(piece: str, price: Price) -> str:
    piece = _line(piece, "price", f"{price.price:f}")
    return piece if price.core is None else _line(piece, "core_charge", f"{price.core:f}")


def _line(piece: str, key: str, value: str) -> str:
    """The table with `key` set: in its line, the remark behind it kept, or in a new line behind the number's."""
    line = re.compile(rf"^([ \t]*{key}[ \t]*=[ \t]*)(?:\"[^\"\n]*\"|'[^'\n]*'|[0-9._+-]+)", re.MULTILINE)
    if line.search(piece):
        return line.sub(lambda found: f'{found[1]}"{value}"', piece, count=1)
    return re.sub(
        r"^([ \t]*number[ \t]*=.*)$", lambda found: f'{found[1]}\n{key} = "{value}"', piece, count=1, flags=re.MULTILINE
    )


def _table(price: Price) -> str:
    rows = {"number": price.number, "name": price.name, "supplier": price.supplier, "price": f"{price.price:f}"}
    rows |= {"core_charge": f"{price.core:f}"} if price.core is not None else {}
    return "\n[[part]]\n" + "".join(f"{key} = {_text(value)}\n" for key, value in rows.items() if value)


def _text(value: str) -> str:
    """The text as a TOML basic string."""
    plain = (char if char.isprintable() and char not in '"\\' else f"\\U{ord(char):08X}" for char in value)
    return f'"{"".join(plain)}"'


def _data(text: str) -> list[dict[str, Any]]:
    try:
        found: list[dict[str, Any]] = tomllib.loads(text).get("part", [])
    except tomllib.TOMLDecodeError as error:
        raise Refused(f"parts.toml cannot be read: {error}", "look at that line") from None
    return found


def _wanted(before: list[dict[str, Any]], prices: Mapping[str, Price], fresh: Iterable[Price]) -> list[dict[str, Any]]:
    """What the file must say afterwards, reckoned from its data and not from its text."""
    after = []
    for part in before:
        price = prices.get(same(str(part.get("number", ""))))
        new = {} if price is None else {"price": f"{price.price:f}"}
        if price is not None and price.core is not None:
            new["core_charge"] = f"{price.core:f}"
        after.append(part | new)
    return after + [_one(_table(price)) for price in fresh]
