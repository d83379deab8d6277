"""A result as text: one line a figure, the verdict first, then rows, what is assumed and the source."""

from __future__ import annotations

from textwrap import fill
from typing import Any

from shopboard.mechanics.results import Result


def plain(value: float) -> str:
    """A number with four figures and no exponent where a reader would want none.

    >>> plain(41.8449), plain(25000.0), plain(0.000123456), plain(9.0), plain(11390.4)
    ('41.84', '25000', '0.0001235', '9', '11390')
    """
    if value == 0:
        return "0"
    if abs(value) >= 1000:
        return f"{value:.0f}"
    text = f"{value:.4g}"
    return text if "e" not in text else f"{value:.4e}"


def one(shown: dict[str, Any]) -> str:
    """One figure: value, unit and band."""
    value = shown["value"]
    if not isinstance(value, float | int) or isinstance(value, bool):
        return "–" if value is None else str(value)
    unit = f" {shown['unit']}" if shown.get("unit") else ""
    band = f" ({plain(shown['low'])} to {plain(shown['high'])})" if "low" in shown else ""
    return f"{plain(value)}{unit}{band}"


def text(result: Result, units: str) -> str:
    """The whole result as text."""
    data = result.as_json(units)
    names = [name.replace("_", " ") for name in data["results"]]
    width = max((len(name) for name in names), default=0)
    lines = [f"{name.ljust(width)}  {one(shown)}" for name, shown in zip(names, data["results"].values(), strict=True)]
    if data.get("verdict"):
        lines.insert(0, _wrapped(data["verdict"]))
    lines += _rows(data.get("rows", []))
    lines += [_wrapped(f"assumes: {sentence}") for sentence in data["assumes"]]
    return "\n".join([*lines, _wrapped(f"source: {data['source']}")])


def _wrapped(line: str) -> str:
    return fill(line, 100, subsequent_indent="  ", break_long_words=False, break_on_hyphens=False)


def _rows(rows: list[dict[str, dict[str, Any]]]) -> list[str]:
    """The rows as a table; the heads are the names in the first row."""
    if not rows:
        return []
    heads = list(rows[0])
    cells = [[head.replace("_", " ") for head in heads]]
    cells += [[one(row[head]) if head in row else "" for head in heads] for row in rows]
    widths = [max(len(line[i]) for line in cells) for i in range(len(heads))]
    return ["", *("  ".join(c.ljust(w) for c, w in zip(line, widths, strict=True)).rstrip() for line in cells), ""]
