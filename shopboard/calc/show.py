"""A result as text: one line a figure, the verdict first, then rows, what is assumed and the source."""

from __future__ import annotations

from textwrap import fill
from typing import Any

from shopboard.mechanics.results import Result, figure_words


def text(result: Result, units: str) -> str:
    """The whole result as text."""
    data = result.as_json(units)
    names = [name.replace("_", " ") for name in data["results"]]
    width = max((len(name) for name in names), default=0)
    lines = [
        f"{name.ljust(width)}  {figure_words(shown)}"
        for name, shown in zip(names, data["results"].values(), strict=True)
    ]
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
    cells += [[figure_words(row[head]) if head in row else "" for head in heads] for row in rows]
    widths = [max(len(line[i]) for line in cells) for i in range(len(heads))]
    return ["", *("  ".join(c.ljust(w) for c, w in zip(line, widths, strict=True)).rstrip() for line in cells), ""]
