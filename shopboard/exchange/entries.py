"""Rows as typed entries: each field read once, every doubt about how a column is read decided aloud before."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from collections.abc import Mapping as ByName
from dataclasses import dataclass, field
from datetime import date, datetime, time
from decimal import Decimal
from zoneinfo import ZoneInfo

from shopboard.records import Refused

from .fields import FIELDS, Field
from .formulas import as_typed
from .mapping import Column, Mapping
from .outcome import NotTaken, Rejected
from .readings import MARKS, ORDERS, Undecided, Ways, dates, decide, figures
from .sheet import FORMULA_FAULTS, Cell, Row, cell_text

_CURRENCY = "$€£¥"
_YES = frozenset({"yes", "y", "x", "true", "1", "ja", "used", "severe", "✓"})
_NO = frozenset({"no", "n", "false", "0", "nein", "new", "normal"})
#: Before this year nothing a shop keeps was written down.
_FIRST_YEAR = 1950


@dataclass(frozen=True)
class Reader:
    """How this file is read: the shop's zone, day and currency, and the way of each column that has a choice."""

    today: date
    zone: ZoneInfo
    currency: str = ""
    ways: ByName[int, str] = field(default_factory=dict)


@dataclass(frozen=True)
class Entry:
    """One row, read: text, datetime, Decimal or bool by field id; a field that is blank is not there."""

    row: Row
    values: ByName[str, object]

    def text(self, id: str) -> str:
        """A text field, "" where it is blank."""
        found = self.values.get(id, "")
        return found if isinstance(found, str) else ""

    def moment(self, id: str) -> datetime | None:
        """A date field at its own time, without a zone yet."""
        found = self.values.get(id)
        return found if isinstance(found, datetime) else None

    def figure(self, id: str) -> Decimal | None:
        """A figure or a sum."""
        found = self.values.get(id)
        return found if isinstance(found, Decimal) else None

    def yes(self, id: str) -> bool:
        """Whether a yes stands there."""
        return self.values.get(id) is True


# -- ways to read -----------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Doubt:
    """A column that can be read in more ways than one: `what` to ask, and the ways with what the text would mean."""

    column: Column
    row: int
    text: str
    mixed: bool
    meanings: ByName[str, str]

    @property
    def is_date(self) -> bool:
        """Whether it is about dates; else about the mark before decimals."""
        return not set(self.meanings) & set(MARKS)

    @property
    def words(self) -> str:
        """The doubt as a sentence."""
        could = " or ".join(f"{meaning} ({way})" for way, meaning in self.meanings.items())
        mixed = (
            ", and the column holds dates that can only be the one and only the other"
            if self.mixed and self.is_date
            else ""
        )
        return f"column {self.column.name}, row {self.row}: “{self.text}” can be {could}{mixed}"


def find_ways(
    mapping: Mapping, reader: Reader, order: str = "", mark: str = ""
) -> tuple[dict[int, str], list[str], list[Doubt]]:
    """How each column of dates and figures is read, what must be said about it, and the columns in doubt. `order`
    ("dmy" …) and `mark` ("point", "comma") are what the person said."""
    ways: dict[int, str] = {}
    said: list[str] = []
    doubts: list[Doubt] = []
    for column in mapping.columns:
        if column.field is None or column.field.reads not in ("date", "figure", "money"):
            continue
        given = order if column.field.reads == "date" else mark
        if given:
            ways[column.index] = given
            continue
        try:
            found = decide(_texts(mapping, column, reader), lambda text, column=column: _ways(text, column, reader))  # type: ignore[misc]
        except Undecided as doubt:
            meanings = {way: _meaning(value) for way, value in doubt.ways.by_way.items()}
            doubts.append(Doubt(column, doubt.row, doubt.text, doubt.mixed, meanings))
            continue
        ways[column.index] = found.way
        if found.way:
            words = (ORDERS | MARKS)[found.way]
            said.append(f"column {column.name}: {words}, since “{found.since}” can only be so")
    return ways, said, doubts


def _meaning(value: object) -> str:
    return f"{value:%-d %B %Y}" if isinstance(value, datetime) else f"{value:f}"


def _texts(mapping: Mapping, column: Column, reader: Reader) -> Iterator[tuple[int, str]]:
    assert column.field is not None
    for row in mapping.rows:
        cell = row.cell(column.index)
        if isinstance(cell, str) and cell.strip():
            yield row.number, _bare(cell, column.field, reader)


def _ways(text: str, column: Column, reader: Reader) -> Ways[datetime] | Ways[Decimal]:
    assert column.field is not None
    return dates(text, reader.today) if column.field.reads == "date" else figures(text)


def _bare(text: str, field: Field, reader: Reader) -> str:
    """A figure without its unit or currency."""
    text = as_typed(text.strip())
    if field.reads == "date":
        return text
    text = text.strip(_CURRENCY + " \u00a0")
    for unit in (*field.units, *filter(None, (reader.currency,))):
        found = re.fullmatch(rf"(?:{re.escape(unit)})?\s*(.*?\d)\s*(?:{re.escape(unit)})?\.?", text, re.IGNORECASE)
        if found and found[1] != text:
            return found[1]
    return text


# -- rows -------------------------------------------------------------------------------------------------------------


def read_rows(
    mapping: Mapping, reader: Reader, tick: Callable[[], None] = lambda: None
) -> tuple[list[Entry], list[Rejected]]:
    """The rows as entries, and those that cannot be read, each with all that is wrong with it."""
    entries: list[Entry] = []
    rejected: list[Rejected] = []
    fields = [(field, mapping.of(field.id)) for field in FIELDS[mapping.kind]]
    for row in mapping.rows:
        tick()
        values: dict[str, object] = {}
        wrong: list[str] = []
        for one, columns in fields:
            try:
                value = _value(one, columns, row, reader)
            except NotTaken as fault:
                wrong.append(str(fault))
                continue
            if value not in ("", None):
                values[one.id] = value
            elif one.needed:
                wrong.append(f"{one.label} is blank")
        if _is_head(mapping, row):
            rejected.append(Rejected(row, "the headings once more"))
        elif wrong:
            rejected.append(Rejected(row, "; ".join(wrong)))
        else:
            entries.append(Entry(row, values))
    return entries, rejected


def _is_head(mapping: Mapping, row: Row) -> bool:
    named = [column for column in mapping.columns if column.field and column.heading]
    return len(named) > 1 and all(cell_text(row.cell(c.index)).casefold() == c.heading.casefold() for c in named)


def _value(one: Field, columns: tuple[Column, ...], row: Row, reader: Reader) -> object:
    if not columns:
        return None
    if one.joins:
        pieces = (_text(one, column, row.cell(column.index)) for column in columns)
        return one.joins.join(piece for piece in pieces if piece)
    column = columns[0]
    cell = row.cell(column.index)
    if isinstance(cell, str) and not cell.strip():
        return None
    if one.reads == "date":
        return _date(column, cell, reader)
    if one.reads in ("figure", "money"):
        return _figure(one, column, cell, reader)
    return _yes(column, cell) if one.reads == "yes" else _text(one, column, cell)


def _text(one: Field, column: Column, cell: Cell) -> str:
    text = as_typed(cell_text(cell))
    if text in FORMULA_FAULTS:
        raise NotTaken(f"{column.name}: the formula there gives {text}")
    if one.reads == "exact" and isinstance(cell, date):
        raise NotTaken(f"{column.name}: a spreadsheet program made the date {text} of it; type it again as text")
    if one.reads == "exact" and isinstance(cell, float) and not isinstance(cell, bool) and abs(cell) >= 1e15:
        raise NotTaken(
            f"{column.name}: {text} has more digits than a spreadsheet's number keeps; type it again as text"
        )
    if "\ufffd" in text:
        raise NotTaken(f"{column.name}: “{text}” has lost letters; type it again")
    lines = (" ".join(line.split()) for line in text.splitlines())
    return ("\n" if one.joins == "\n" else " ").join(line for line in lines if line)


def _date(column: Column, cell: Cell, reader: Reader) -> datetime:
    if isinstance(cell, datetime):
        found: datetime | None = cell.replace(tzinfo=None)
    elif isinstance(cell, date):
        found = datetime.combine(cell, time())
    elif not isinstance(cell, str):
        raise NotTaken(f"{column.name}: {cell_text(cell)} is a number and no date")
    else:
        found = _typed_date(column, cell, reader)
    assert found is not None
    if found.date() > reader.today:
        raise NotTaken(f"{column.name}: {found:%-d %B %Y} is still to come")
    if found.year < _FIRST_YEAR:
        raise NotTaken(f"{column.name}: {found:%-d %B %Y} is too long ago")
    return found


def _typed_date(column: Column, cell: str, reader: Reader) -> datetime:
    text = as_typed(cell.strip())
    if text in FORMULA_FAULTS:
        raise NotTaken(f"{column.name}: the formula there gives {text}")
    way = reader.ways.get(column.index, "")
    ways = dates(text, reader.today)
    found = ways.read(way)
    if found is None:
        how = f" with the {ORDERS[way]}" if way and ways.by_way else ""
        raise NotTaken(f"{column.name}: “{text}” is no date{how}")
    return found


def _figure(one: Field, column: Column, cell: Cell, reader: Reader) -> Decimal:
    if isinstance(cell, bool | date):
        raise NotTaken(f"{column.name}: {cell_text(cell)} is no number")
    if isinstance(cell, str):
        text = as_typed(cell.strip())
        if text in FORMULA_FAULTS:
            raise NotTaken(f"{column.name}: the formula there gives {text}")
        way = reader.ways.get(column.index, "")
        ways = figures(_bare(cell, one, reader))
        found = ways.read(way)
        if found is None:
            how = f" with {MARKS[way]}" if way and ways.by_way else ""
            raise NotTaken(f"{column.name}: “{text}” is no number{how}")
        return found
    number = Decimal(repr(cell))
    if not number.is_finite() or number < 0:
        raise NotTaken(f"{column.name}: {cell_text(cell)} cannot be")
    return number


def _yes(column: Column, cell: Cell) -> bool:
    word = cell_text(cell).casefold()
    if word in _YES or word in _NO:
        return word in _YES
    raise NotTaken(f"{column.name}: “{cell_text(cell)}” is neither yes nor no")


def check_way(name: str, given: str, known: ByName[str, str]) -> str:
    """A way as given on the command line. Raises Refused for one that is not known."""
    if given and given not in known:
        raise Refused(f"{name}: “{given}” is not known", f"write {' or '.join(known)}")
    return given
