"""A spreadsheet as read: rows with the numbers a spreadsheet program shows, and what is to be told about it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path

from shopboard.records import Refused

#: What stands in a cell; "" where nothing does. A CSV file has only text.
Cell = str | float | bool | date

#: A larger file, or one with more rows, is refused: it is none of a shop's lists.
MOST_BYTES, MOST_ROWS = 100_000_000, 100_000

#: Stands for a formula without a result.
NEVER_COMPUTED = "#never computed"
#: What a spreadsheet program leaves in a cell whose formula failed.
FORMULA_FAULTS = frozenset(
    {"#REF!", "#N/A", "#VALUE!", "#DIV/0!", "#NAME?", "#NUM!", "#NULL!", "#GETTING_DATA", "#SPILL!", NEVER_COMPUTED}
)


@dataclass(frozen=True)
class Row:
    """One row that is not blank: `number` as a spreadsheet program counts it, from 1."""

    number: int
    cells: tuple[Cell, ...]

    def cell(self, column: int) -> Cell:
        """The cell in a column counted from 0, "" behind the last."""
        return self.cells[column] if column < len(self.cells) else ""


@dataclass(frozen=True)
class Sheet:
    """The rows that are not blank, how many are, and sentences on how the file was read."""

    rows: tuple[Row, ...]
    blank: int = 0
    said: tuple[str, ...] = ()


def read_sheet(path: Path, *, sheet: str = "", encoding: str = "") -> Sheet:
    """The spreadsheet in a CSV or XLSX file, told apart by what is in it, not by its name.

    `sheet` names one of a workbook's, `encoding` a CSV file's letters. Raises Refused, in one line, for what is none,
    OSError where the file cannot be read.
    """
    if path.is_dir():
        raise Refused(f"{path} is a folder", "name a file in it")
    if path.stat().st_size > MOST_BYTES:
        raise Refused(f"{path} is larger than {MOST_BYTES // 1_000_000} MB", "split it")
    return sheet_in(path.read_bytes(), path.name, sheet=sheet, encoding=encoding)


def sheet_in(data: bytes, name: str, *, sheet: str = "", encoding: str = "") -> Sheet:
    """The spreadsheet in the bytes of the file `name`. Raises Refused as `read_sheet`."""
    found, said = _cells_in(data, name, sheet, encoding)
    rows = tuple(Row(number, tuple(cells)) for number, cells in enumerate(found, 1) if any(map(_something, cells)))
    if not rows:
        raise Refused(f"{name} holds no row with anything in it", "see whether it is the right file")
    if len(rows) > MOST_ROWS:
        raise Refused(f"{name} holds {len(rows)} rows; {MOST_ROWS} are the most at once", "split it")
    # Blank rows below the last one with anything in it are the paper, not a gap
    return Sheet(rows, rows[-1].number - len(rows), tuple(said))


def _cells_in(data: bytes, name: str, sheet: str, encoding: str) -> tuple[Sequence[Sequence[Cell]], list[str]]:
    if data.startswith(b"PK\x03\x04"):
        from .xlsx_file import rows_in

        return rows_in(data, name, sheet)
    if data.startswith(b"\xd0\xcf\x11\xe0"):
        what = "is a workbook of the old kind (.xls) or locked with a password"
        raise Refused(f"{name} {what}", "save it as .xlsx or .csv")
    if sheet:
        raise Refused(f"{name} is a text file and has no sheets", "leave --sheet away")
    from .csv_file import rows_of

    return rows_of(data, name, encoding)


def _something(cell: Cell) -> bool:
    return not isinstance(cell, str) or bool(cell.strip())


def cell_text(cell: Cell) -> str:
    """What stands in a cell, as text without blanks around it; whole numbers without a point.

    >>> cell_text(5550123.0), cell_text(" 12 "), cell_text(date(2021, 3, 4))
    ('5550123', '12', '2021-03-04')
    """
    if isinstance(cell, bool):
        return "yes" if cell else "no"
    if isinstance(cell, float | int):
        return str(int(cell)) if math.isfinite(cell) and cell == int(cell) else repr(cell)
    if isinstance(cell, datetime):
        return cell.isoformat(" ", "minutes") if (cell.hour or cell.minute or cell.second) else cell.date().isoformat()
    if isinstance(cell, date):
        return cell.isoformat()
    return cell.strip()


def many(number: int, one: str, more: str = "") -> str:
    """A number of things.

    >>> many(1, "blank row"), many(3, "blank row"), many(2, "entry", "entries")
    ('1 blank row', '3 blank rows', '2 entries')
    """
    return f"{number} {one if number == 1 else more or one + 's'}"


def letters(column: int) -> str:
    """A column counted from 0 as a spreadsheet program names it.

    >>> letters(0), letters(25), letters(26)
    ('A', 'Z', 'AA')
    """
    name = ""
    column += 1
    while column:
        column, rest = divmod(column - 1, 26)
        name = chr(65 + rest) + name
    return name


def texts(row: Row) -> Sequence[str]:
    """The row's cells as text."""
    return [cell_text(cell) for cell in row.cells]
