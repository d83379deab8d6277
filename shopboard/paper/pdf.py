"""A paper as PDF: blocks flow over as many pages as they need, nothing is cut.

Printed in a font that a package carries (Latin, Greek, Cyrillic); a character it lacks stands as <U+XXXX>.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import TYPE_CHECKING, Any

from shopboard.records import visible

from .blocks import Block, Facts, Heading, Label, Labels, Look, Paper, Row, Sheet, Sign, Table, Words

if TYPE_CHECKING:
    from fpdf import FPDF

FONT = "sheet"
_MARGIN = 16.0
_HEAD, _FOOT = 11.0, 9.0
_LINE = 1.28  # line height over font size
_SIZES: dict[Look, float] = {"plain": 10, "strong": 10, "small": 8.5, "caution": 10}
_POINT = 25.4 / 72
_WHOLE = 5  # a paragraph of so many lines is not parted over pages


def as_pdf(paper: Paper, size: tuple[float, float], made: datetime) -> bytes:
    """The paper as the bytes of a PDF on pages of `size` (width and height in millimetres)."""
    from .pdf_label import draw_label

    pdf = new_pdf(size, paper.title, made)
    if isinstance(paper, Label | Labels):
        for label in paper.labels if isinstance(paper, Labels) else (paper,):
            draw_label(pdf, label, size)
    else:
        _Flow(pdf, paper, size).draw()
    return bytes(pdf.output())


def new_pdf(size: tuple[float, float], title: str, made: datetime) -> FPDF:
    """An empty PDF with the font loaded; no page yet."""
    from fontpkg_fira_sans import ROOT
    from fpdf import FPDF

    pdf = FPDF(unit="mm", format=size)
    pdf.add_font(FONT, "", ROOT / "files" / "FiraSans-Regular.ttf")
    pdf.add_font(FONT, "B", ROOT / "files" / "FiraSans-Bold.ttf")
    pdf.set_font(FONT, "", 10)
    pdf.set_auto_page_break(False)
    pdf.set_margin(0)
    pdf.c_margin = 0
    pdf.set_creation_date(made)
    pdf.set_title(visible(title))
    pdf.set_producer("shopboard")
    return pdf


def shown(pdf: FPDF, text: str) -> str:
    """People's text as it can be printed: nothing acts, and what the font lacks stands as <U+XXXX>."""
    known: Any = pdf.fonts[FONT].cmap  # type: ignore[union-attr]
    return "".join(
        char if char == "\n" or ord(char) in known else f"<U+{ord(char):04X}>" for char in visible(text, lines=True)
    )


def set_look(pdf: FPDF, points: float, *, bold: bool = False) -> float:
    """Set the font; returns its line height in millimetres."""
    pdf.set_font(FONT, "B" if bold else "", points)
    return points * _POINT * _LINE


def lines_of(pdf: FPDF, text: str, width: float) -> list[str]:
    """The text over lines no wider than `width` in the font set, broken at blanks, and within words that are wider."""
    result = []
    for paragraph in shown(pdf, text).split("\n"):
        row = ""
        for word in paragraph.split(" "):
            joined = f"{row} {word}" if row else word
            if pdf.get_string_width(joined) <= width:
                row = joined
                continue
            if row:
                result.append(row)
            row = word
            while pdf.get_string_width(row) > width and len(row) > 1:
                fits = fitting(pdf, row, width)
                result.append(row[:fits])
                row = row[fits:]
        result.append(row)
    return result


def fitting(pdf: FPDF, text: str, width: float) -> int:
    """How many characters fit, one at least; a <U+XXXX> is not torn."""
    fits, too_many = 1, len(text)
    while too_many - fits > 1:
        middle = (fits + too_many) // 2
        if pdf.get_string_width(text[:middle]) <= width:
            fits = middle
        else:
            too_many = middle
    mark = text.rfind("<U+", 0, fits)
    torn = mark > 0 and ">" not in text[mark:fits]
    return mark if torn else fits


@dataclass(frozen=True)
class _Cell:
    x: float
    width: float
    lines: Sequence[str]
    right: bool = False
    bold: bool = False
    bar: bool = False


class _Flow:
    """Blocks set one below the other on as many pages as they take."""

    def __init__(self, pdf: FPDF, sheet: Sheet, size: tuple[float, float]) -> None:
        self.pdf, self.sheet, (self.page_width, self.page_height) = pdf, sheet, size
        self.width = self.page_width - 2 * _MARGIN
        self.y = 0.0

    @property
    def bottom(self) -> float:
        return self.page_height - _MARGIN - _FOOT

    def draw(self) -> None:
        self.page()
        blocks = self.sheet.blocks
        for number, block in enumerate(blocks):
            self.keep(self.together(blocks[number:]))
            self.block(block)
        self.feet()

    def together(self, blocks: Sequence[Block]) -> float:
        """The room that must be left for the first block: its own and that of what it may not be parted from."""
        room = 0.0
        for number, block in enumerate(blocks):
            following = blocks[number + 1] if number + 1 < len(blocks) else None
            kept = isinstance(block, Heading) or (isinstance(block, Words) and block.keep)
            if kept or (isinstance(block, Words) and isinstance(following, Sign)):
                room += self.height(block)
                continue
            return room + min(self.height(block), 24.0) if number or isinstance(block, Sign) else 0.0
        return room

    def height(self, block: Block) -> float:
        """The height of a block, for tables and facts that of their first rows."""
        if isinstance(block, Heading):
            return 3.0 + self.height(Words(block.text)) * 1.2 + 0.8
        if not isinstance(block, Words):
            return 20.0
        high = set_look(self.pdf, _SIZES[block.look], bold=block.look == "caution")
        return len(lines_of(self.pdf, block.text, self.width - 5.0 * block.indent - 4.0)) * high + 0.8

    def page(self) -> None:
        self.pdf.add_page()
        high = set_look(self.pdf, 9)
        self.y = _MARGIN - 4
        title = lines_of(self.pdf, self.sheet.title, self.width * 0.5)[:1]
        head = lines_of(self.pdf, self.sheet.head, self.width * 0.5)[:1]
        self.put(
            (_Cell(_MARGIN, self.width / 2, head), _Cell(_MARGIN + self.width / 2, self.width / 2, title, True)), high
        )
        self.rule(0.3)
        self.y = _MARGIN + _HEAD - 5

    def feet(self) -> None:
        """The foot of every page, now that it is known how many there are."""
        pages = self.pdf.pages_count
        for number in range(1, pages + 1):
            self.pdf.page = number
            set_look(self.pdf, 9)  # a change, so that the size is written on this page too
            high = set_look(self.pdf, 8)
            self.y = self.page_height - _MARGIN - high
            foot = lines_of(self.pdf, self.sheet.foot, self.width * 0.8)[:1]
            count = _Cell(_MARGIN + self.width * 0.8, self.width * 0.2, [f"page {number} of {pages}"], True)
            self.put((_Cell(_MARGIN, self.width * 0.8, foot), count), high)

    def keep(self, room: float) -> None:
        """Begin a page if less than this room is left."""
        if self.y + room > self.bottom:
            self.page()

    def rule(self, thick: float) -> None:
        self.pdf.set_line_width(thick)
        self.pdf.line(_MARGIN, self.y, _MARGIN + self.width, self.y)

    def put(self, cells: Sequence[_Cell], high: float) -> None:
        """One line of cells at the present height, and on to the next; the font's size is set already."""
        points = self.pdf.font_size_pt
        for cell in cells:
            if not cell.lines or not cell.lines[0]:
                continue
            set_look(self.pdf, points, bold=cell.bold)
            room = self.pdf.get_string_width(cell.lines[0])
            x = cell.x + cell.width - room if cell.right else cell.x
            self.pdf.text(x, self.y + high * 0.78, cell.lines[0])
            if cell.bar:
                self.pdf.rect(cell.x - 3.0, self.y, 1.2, high, style="F")
        self.y += high

    def rows(self, cells: Sequence[_Cell], points: float, *, again: Sequence[_Cell] = (), whole: bool = True) -> None:
        """Cells side by side, kept `whole` on one page if they fit on one, else line by line over pages; `again` are
        titles to repeat on each new page."""
        high = set_look(self.pdf, points)
        count = max((len(cell.lines) for cell in cells), default=0)
        if whole and count * high <= self.bottom - _MARGIN - 3 * _HEAD and self.y + count * high > self.bottom:
            self.turn(again, points)
        for number in range(count):
            if self.y + high > self.bottom:
                self.turn(again, points)
            set_look(self.pdf, points)
            self.put([replace(cell, lines=cell.lines[number : number + 1]) for cell in cells], high)

    def turn(self, again: Sequence[_Cell], points: float) -> None:
        self.page()
        if again:
            self.titles(again, points)

    def titles(self, cells: Sequence[_Cell], points: float) -> None:
        high = set_look(self.pdf, points, bold=True)
        for number in range(max(len(cell.lines) for cell in cells)):
            set_look(self.pdf, points)
            self.put([replace(cell, lines=cell.lines[number : number + 1]) for cell in cells], high)
        self.y += 0.6
        self.rule(0.2)
        self.y += 1.0

    def block(self, block: Block) -> None:
        if isinstance(block, Heading):
            self.y += 3.0
            self.words(Words(block.text, "strong"), points=12)
            self.y += 0.8
        elif isinstance(block, Words):
            self.words(block, points=_SIZES[block.look])
        elif isinstance(block, Facts):
            self.facts(block)
        elif isinstance(block, Table):
            self.table(block)
        else:
            self.sign(block)

    def words(self, words: Words, *, points: float) -> None:
        bold = words.look in ("strong", "caution")
        x = _MARGIN + 5.0 * words.indent
        if words.look == "caution":
            x += 4.0
        width = _MARGIN + self.width - x
        set_look(self.pdf, points, bold=bold)
        text = lines_of(self.pdf, words.text, width)
        self.rows([_Cell(x, width, text, bold=bold, bar=words.look == "caution")], points, whole=len(text) <= _WHOLE)
        self.y += 0.8

    def facts(self, facts: Facts) -> None:
        points, left = _SIZES["plain"], 38.0
        for what, text in facts.pairs:
            if text.strip():
                set_look(self.pdf, points)
                said = lines_of(self.pdf, text, self.width - left)
                set_look(self.pdf, points, bold=True)
                name = lines_of(self.pdf, what, left - 3)
                self.rows(
                    [_Cell(_MARGIN, left, name, bold=True), _Cell(_MARGIN + left, self.width - left, said)], points
                )
        self.y += 1.0

    def table(self, table: Table) -> None:
        points, gap = 9.0, 3.0
        whole = sum(column.share for column in table.columns)
        room = self.width - gap * (len(table.columns) - 1)
        widths = [room * column.share / whole for column in table.columns]
        titles = self.cells(Row(tuple(column.title for column in table.columns), strong=True), table, widths, gap)
        self.keep(20)
        self.titles(titles, points)
        for number, row in enumerate(table.rows):
            if row.strong and number and not table.rows[number - 1].strong:
                self.rule(0.1)
                self.y += 0.5
            self.rows(self.cells(row, table, widths, gap), points, again=titles)
            self.y += 0.5
        self.y += 1.0

    def cells(self, row: Row, table: Table, widths: Sequence[float], gap: float) -> list[_Cell]:
        set_look(self.pdf, 9.0, bold=row.strong)
        x, found = _MARGIN, []
        for text, column, width in zip(row.cells, table.columns, widths, strict=True):
            found.append(_Cell(x, width, lines_of(self.pdf, text, width), column.right, row.strong))
            x += width + gap
        return found

    def sign(self, sign: Sign) -> None:
        self.y += 12.0
        width = self.width / len(sign.places)
        for number in range(len(sign.places)):
            x = _MARGIN + number * width
            self.pdf.set_line_width(0.2)
            self.pdf.line(x, self.y, x + width - 6, self.y)
        self.y += 0.8
        set_look(self.pdf, 8.0)
        cells = [
            _Cell(_MARGIN + n * width, width, lines_of(self.pdf, what, width - 6)) for n, what in enumerate(sign.places)
        ]
        self.rows(cells, 8.0)
