"""A label as PDF: the tag large, its QR code beside it, Code 128 along the foot, and as much said as fits.

What does not fit ends in "…": the codes keep the size that a scanner needs.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from .blocks import Label
from .codes import BARS_QUIET, QR_QUIET, bar_modules, qr_modules
from .pdf import fitting, lines_of, set_look, shown

if TYPE_CHECKING:
    from fpdf import FPDF

_EDGE = 2.5
_LEAST, _MOST = 6.0, 11.0  # points of the lines
_LONGEST = 1500  # characters of one line that are looked at


def draw_label(pdf: FPDF, label: Label, size: tuple[float, float]) -> None:
    """Draw the label on a page of `size` (width and height in millimetres)."""
    width, height = size
    pdf.add_page()
    bars = min(14.0, max(8.0, height * 0.2))
    below = height - _EDGE - bars - 3.0
    square = min(below - _EDGE, width * 0.34, 34.0)
    _draw_qr(pdf, label.code, width - square - 1.0, 1.0, square)
    _draw_bars(pdf, label.code, _EDGE, height - _EDGE - bars - 2.6, width - 2 * _EDGE, bars)
    _draw_words(pdf, label, width - square - 1.0 - _EDGE, below - 1.0)


def _draw_qr(pdf: FPDF, digits: str, x: float, y: float, side: float) -> None:
    modules = qr_modules(digits)
    step = side / (len(modules) + 2 * QR_QUIET)
    for row, line in enumerate(modules):
        for column, dark in enumerate(line):
            if dark:
                _dark(pdf, x + (column + QR_QUIET) * step, y + (row + QR_QUIET) * step, step, step)


def _draw_bars(pdf: FPDF, digits: str, x: float, y: float, width: float, height: float) -> None:
    modules = bar_modules(digits)
    step = min(0.5, width / (len(modules) + 2 * BARS_QUIET))
    left = x + (width - step * len(modules)) / 2
    for number, dark in enumerate(modules):
        if dark:
            _dark(pdf, left + number * step, y, step, height)
    set_look(pdf, 7)
    room = pdf.get_string_width(digits)
    pdf.text(x + (width - room) / 2, y + height + 2.6, digits)


def _dark(pdf: FPDF, x: float, y: float, width: float, height: float) -> None:
    pdf.set_fill_color(0)
    pdf.rect(x, y, width, height, style="F")


def _draw_words(pdf: FPDF, label: Label, width: float, bottom: float) -> None:
    y = _EDGE
    high = set_look(pdf, 7)
    pdf.text(_EDGE, y + high * 0.78, _one_line(pdf, label.head, width - _EDGE))
    y += high
    points = 30.0
    while points > 12 and (
        set_look(pdf, points, bold=True) > (bottom - _EDGE) * 0.34
        or pdf.get_string_width(shown(pdf, label.title)) > width - _EDGE
    ):
        points -= 1
    high = set_look(pdf, points, bold=True)
    pdf.text(_EDGE, y + high * 0.74, _one_line(pdf, label.title, width - _EDGE))
    _draw_lines(pdf, label, y + high, width - _EDGE, bottom)


def _draw_lines(pdf: FPDF, label: Label, top: float, width: float, bottom: float) -> None:
    """The lines in the largest type in which all of them fit; in the smallest, what is too much is left away."""
    texts = [text if len(text) <= _LONGEST else f"{text[:_LONGEST]}…" for _, text in label.lines if text.strip()]
    points = _MOST
    while points > _LEAST and _height(pdf, texts, points, width) > bottom - top:
        points -= 0.5
    high = set_look(pdf, points)
    rows = [row for text in texts for row in lines_of(pdf, text, width)]
    room = int((bottom - top) / high + 1e-9)
    if len(rows) > room:
        rows = _cut(pdf, texts, room, width)
    for number, row in enumerate(rows):
        pdf.text(_EDGE, top + number * high + high * 0.78, row)


def _height(pdf: FPDF, texts: list[str], points: float, width: float) -> float:
    high = set_look(pdf, points)
    return sum(len(lines_of(pdf, text, width)) for text in texts) * high


def _cut(pdf: FPDF, texts: list[str], room: int, width: float) -> list[str]:
    """One row for each text in turn while there is room, what is left over to the last of them."""
    kept = texts[:room]
    spare = room - len(kept)
    rows = []
    for text in kept:
        lines = lines_of(pdf, text, width)
        take = min(len(lines), 1 + spare)
        spare -= take - 1
        rows += lines[: take - 1]
        rows.append(lines[take - 1] if take == len(lines) else _one_line(pdf, " ".join(lines[take - 1 :]), width))
    if rows and len(kept) < len(texts) and not rows[-1].endswith("…"):
        rows[-1] = _one_line(pdf, f"{rows[-1]} …", width)
    return rows


def _one_line(pdf: FPDF, text: str, width: float) -> str:
    """The text on one line, cut with an ellipsis where it is too long."""
    line = shown(pdf, text).replace("\n", " ")
    if pdf.get_string_width(line) <= width:
        return line
    return line[: fitting(pdf, line, width - pdf.get_string_width("…"))].rstrip(" …") + "…"
