"""A spectrum drawn with block characters, its peaks lettered and named below: it reads without colour."""

from __future__ import annotations

from collections.abc import Sequence
from string import ascii_uppercase

from .lines import Line, Role, Span, line

_EIGHTHS = " ▁▂▃▄▅▆▇█"
Point = tuple[float, float]
#: A peak: place along the axis, amplitude, the source's name.
Label = tuple[float, float, str]


def columns(points: Sequence[Point], width: int) -> tuple[list[float], float]:
    """The greatest amplitude in each of `width` columns, and where the axis ends."""
    end = max((x for x, _ in points), default=0.0) or 1.0
    heights = [0.0] * width
    for x, y in points:
        at = min(width - 1, max(0, int(x / end * width)))
        heights[at] = max(heights[at], y)
    return heights, end


def spectrum_lines(
    points: Sequence[Point], labels: Sequence[Label], axis: str, width: int, height: int = 6
) -> list[Line]:
    """The picture, `height` rows high, with a letter over each labelled peak and the axis in `axis` units under it."""
    if not points or width < 20:
        return []
    heights, end = columns(points, width)
    top = max(heights) or 1.0
    letters = _letters(labels, end, width)
    rows = [_bar_row(heights, top, height, row, letters) for row in range(height, -1, -1)]
    return [*rows, *axis_lines(end, axis, width)]


def _letters(labels: Sequence[Label], end: float, width: int) -> dict[int, str]:
    """Which letter stands over which column; the strongest peak of a column keeps it."""
    found: dict[int, str] = {}
    for letter, (x, _, _) in zip(ascii_uppercase, labels, strict=False):
        found.setdefault(min(width - 1, int(x / end * width)), letter)
    return found


def _row_of(amplitude: float, top: float, height: int) -> int:
    """The row right above a bar, 0 the lowest."""
    return min(height, -(-round(amplitude / top * height * 8) // 8))


def _bar_row(heights: list[float], top: float, height: int, row: int, letters: dict[int, str]) -> Line:
    text = "".join(
        letters[at]
        if at in letters and _row_of(y, top, height) == row
        else _EIGHTHS[min(8, max(0, round(y / top * height * 8) - 8 * row))]
        for at, y in enumerate(heights)
    )
    spans: list[Span] = []
    for char in text:
        role: Role = "mark" if char in ascii_uppercase else "bar"
        if spans and spans[-1].role == role:
            spans[-1] = Span(spans[-1].text + char, role)
        else:
            spans.append(Span(char, role))
    return Line(None, tuple(spans))


def axis_lines(end: float, axis: str, width: int) -> list[Line]:
    """A rule with ticks and the numbers under them."""
    step = next(s for s in _steps() if end / s <= max(2, width // 12))
    rule, numbers = ["─"] * width, [" "] * (width + 8)
    tick = 0
    while tick * step <= end:
        at = min(width - 1, round(tick * step / end * width))
        rule[at] = "┴"
        words = f"{tick * step:g}"
        start = max(0, min(at - len(words) // 2, width - len(words)))
        numbers[start : start + len(words)] = words
        tick += 1
    text = "".join(numbers)[:width].rstrip()
    unit = f" {axis}"
    if len(text) + len(unit) > width:
        # A number that would be cut is left out whole: "12" must not stand where 1200 is
        kept = text[: width - len(unit)]
        text = kept.rstrip() if text[len(kept)] == " " else kept.rpartition(" ")[0].rstrip()
    text += unit
    return [line(None, ("".join(rule), "soft")), line(None, (text, "soft"))]


def _steps() -> list[float]:
    return [base * 10.0**power for power in range(-3, 8) for base in (1, 2, 5)]
