"""Workbooks: the cells of one sheet with what their formulas gave last, merged names filled down, dates as dates."""

from __future__ import annotations

import html
import io
import re
import zipfile
import zlib
from collections.abc import Sequence
from datetime import date, datetime, time, timedelta
from typing import Any

from shopboard.records import Refused

from .sheet import NEVER_COMPUTED, Cell, letters

#: A sheet may span so many cells, and a workbook unpack to so many bytes: more is a trap or a slip far below the data.
MOST_CELLS, MOST_UNPACKED = 4_000_000, 300_000_000
_PLACE = re.compile(rb"""\br=["']([A-Za-z]{0,4})(\d+)["']""")
_FAULTY = re.compile(
    rb"""<(?:\w+:)?c\b(?P<head>[^>]*[^>/])>(?P<body>(?:(?!</(?:\w+:)?c>).)*?)</(?:\w+:)?c>""", re.DOTALL
)
_ERROR = re.compile(rb"""\bt=["']e["']""")
_VALUE = re.compile(rb"<(?:\w+:)?v\b[^>]*>([^<]*)</")
_SHEET = re.compile(rb"""<(?:\w+:)?sheet\b[^>]*>""")
_LINK = re.compile(rb"""<(?:\w+:)?Relationship\b[^>]*>""")

#: What stands in cells whose formula failed or was never computed, by sheet and place: the reader leaves both blank.
Faulty = dict[str, dict[tuple[int, int], str]]


def rows_in(data: bytes, name: str, wanted: str = "") -> tuple[list[list[Cell]], list[str]]:
    """The rows of one sheet of a workbook (the first with anything in it, or the one `wanted`) and sentences on how it
    was read. Raises Refused where it is no workbook, damaged, locked, or there is no such sheet."""
    faulty = _looked_over(data, name)
    try:
        return _read(data, name, wanted, faulty)
    except Refused:
        raise
    except MemoryError:
        raise Refused(f"{name} needs more memory than there is", "copy the list alone into a new workbook") from None
    except BaseException as error:  # the reader is not Python: what it throws is not always an Exception
        if isinstance(error, KeyboardInterrupt | SystemExit):
            raise
        why = f"cannot be read as a workbook ({_first(error)})"
        raise Refused(f"{name} {why}", "save it anew as .xlsx, or as .csv") from None


def _first(error: BaseException) -> str:
    return " ".join(str(error).split())[:120] or type(error).__name__


def _looked_over(data: bytes, name: str) -> Faulty:
    """The cells that the reader would leave blank though something is wrong. Refuses what would only eat memory."""
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as packed:
            if sum(part.file_size for part in packed.infolist()) > MOST_UNPACKED:
                raise Refused(f"{name} unpacks to more than {MOST_UNPACKED // 1_000_000} MB", "copy the list alone")
            titles = _titles(packed)
            faulty: Faulty = {}
            for part in packed.namelist():
                if part.lower().startswith("xl/worksheets/") and part.lower().endswith(".xml"):
                    cells = packed.read(part)
                    _within(cells, name)
                    faulty[titles.get(part.lower(), "")] = _faulty(cells)
            return faulty
    except (zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, RuntimeError, ValueError, OSError) as error:
        raise Refused(f"{name} cannot be unpacked ({_first(error)})", "save it anew as .xlsx, or as .csv") from None


def _titles(packed: zipfile.ZipFile) -> dict[str, str]:
    """The title of each sheet by the part it stands in."""
    try:
        book, links = packed.read("xl/workbook.xml"), packed.read("xl/_rels/workbook.xml.rels")
    except KeyError:
        return {}
    parts = {_attribute(tag, "Id"): _attribute(tag, "Target") for tag in _LINK.findall(links)}
    found = {}
    for tag in _SHEET.findall(book):
        target = parts.get(_attribute(tag, r"\w+:id"), "").lstrip("/")
        found[(target if target.startswith("xl/") else f"xl/{target}").lower()] = _attribute(tag, "name")
    return found


def _attribute(tag: bytes, name: str) -> str:
    found = re.search(rf"""\s{name}=(?:"([^"]*)"|'([^']*)')""".encode(), tag)
    return html.unescape((found[1] or found[2] or b"").decode("utf-8", "replace")) if found else ""


def _faulty(cells: bytes) -> dict[tuple[int, int], str]:
    found: dict[tuple[int, int], str] = {}
    for cell in _FAULTY.finditer(cells):
        value, place = _VALUE.search(cell["body"]), _PLACE.search(b" " + cell["head"])
        if not place or not place[1]:
            continue
        at = int(place[2]) - 1, _column(place[1]) - 1
        if _ERROR.search(cell["head"]):
            found[at] = html.unescape(value[1].decode("utf-8", "replace")) if value else NEVER_COMPUTED
        elif b"<f" in cell["body"] and b"<v" not in cell["body"]:
            found[at] = NEVER_COMPUTED
    return found


def _column(letters_: bytes) -> int:
    column = 0
    for letter in letters_.upper():
        column = column * 26 + letter - 64
    return column


def _within(cells: bytes, name: str) -> None:
    last, width = 1, 1
    for place in _PLACE.finditer(cells):
        last, width = max(last, int(place[2][:12])), max(width, _column(place[1]))
    if last * width > MOST_CELLS:
        where = f"row {last}, column {letters(min(width, 20_000) - 1)}"
        raise Refused(f"{name} has a sheet that reaches to {where}", "copy the list alone into a new workbook")


def _read(data: bytes, name: str, wanted: str, faulty: Faulty) -> tuple[list[list[Cell]], list[str]]:
    from python_calamine import CalamineWorkbook

    book = CalamineWorkbook.from_filelike(io.BytesIO(data))
    names = list(book.sheet_names)
    if wanted and wanted not in names:
        raise Refused(f"{name} has no sheet “{wanted}”", f"it has {', '.join(names)}")
    filled = []
    for title in [wanted] if wanted else names:
        rows = _cells(book.get_sheet_by_name(title), faulty.get(title, {}))
        if rows or wanted:
            filled.append((title, rows))
    if not filled:
        raise Refused(f"{name} holds no cell with anything in it", "see whether it is the right file")
    title, rows = filled[0]
    others = [other for other, _ in filled[1:]]
    more = f"; not read: {', '.join(others)} (choose with --sheet)" if others else ""
    return rows, [f"{name}: sheet “{title}”{more}"]


def _cells(sheet: Any, faulty: dict[tuple[int, int], str]) -> list[list[Cell]]:
    if not sheet.height:
        return []
    rows = [[_cell(cell) for cell in row] for row in sheet.to_python(skip_empty_area=False)]
    for (row, column), text in faulty.items():
        if row < len(rows) and column < len(rows[row]) and rows[row][column] == "":
            rows[row][column] = text
    for (top, left), (bottom, right) in sheet.merged_cell_ranges or ():
        # A name merged over the rows of all its machines stands in each of them; a title over many columns in one only
        if left == right and top < len(rows) and left < len(rows[top]):
            _fill(rows, top, min(bottom, len(rows) - 1), left)
    return rows


def _fill(rows: Sequence[list[Cell]], top: int, bottom: int, column: int) -> None:
    for number in range(top + 1, bottom + 1):
        if rows[number][column] == "":
            rows[number][column] = rows[top][column]


def _cell(cell: Any) -> Cell:
    if isinstance(cell, datetime) and (cell.hour, cell.minute, cell.second) == (0, 0, 0):
        return cell.date()
    if isinstance(cell, str | float | int | bool | date):
        return cell
    return str(cell) if isinstance(cell, time | timedelta) else ""
