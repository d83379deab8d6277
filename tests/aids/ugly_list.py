"""A deliberately ugly list of machines, as a workbook and as its CSV twin, and what must come of every row.

What must come of a row is decided here while the row is made up, never asked of the program.
"""

from __future__ import annotations

import csv
import io
import random
from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta
from pathlib import Path
from typing import Any

import xlsxwriter

HEADINGS = ("Owner", "Tel.", "Make and model", "S/N", "Hour meter", "Last seen", "Remarks")
#: As people write the models of `aids.shops.MODELS`.
MODELS = {"in-line-1": "test IN-LINE", "split-1": "split-1", "transaxle-1": "Test transaxle", "gear-1": " Test  gear "}
_NAMES = (
    "Müller & Söhne",
    "Ågren Golf",
    "O'Neil, Pat",
    'The "Green" Co',
    "Señor Cañón",
    "Hill Vineyard",
    "=HILL()",
    "Groß",
)

#: A row's end by name: how it counts.
ADDED, FILLED, KNOWN, REJECTED = "added", "filled", "known", "rejected"


@dataclass
class Ugly:
    """The list: cells by row (None: blank row), the merged spans of the owner's column, each row's end with the reason
    it is rejected for, in the workbook and in the CSV twin; and what the machines are in the end, by serial."""

    rows: list[list[Any] | None] = field(default_factory=list)
    merged: list[tuple[int, int]] = field(default_factory=list)
    ends: dict[int, tuple[str, str]] = field(default_factory=dict)
    twin_ends: dict[int, tuple[str, str]] = field(default_factory=dict)
    machines: dict[str, tuple[str, str, list[tuple[float, date]]]] = field(default_factory=dict)
    twin_lost: set[str] = field(default_factory=set)
    twin_only: dict[str, tuple[str, str, list[tuple[float, date]]]] = field(default_factory=dict)
    owners: dict[str, str] = field(default_factory=dict)
    blank: int = 0


@dataclass(frozen=True)
class Formula:
    """A formula and what it gave when it was last computed."""

    text: str
    value: Any


class Maker:
    """Makes up the list, row by row, by a seed; `rows` counts title, blanks and headings too."""

    def __init__(self, seed: int, rows: int) -> None:
        self._draw, self._wanted = random.Random(seed), rows
        self.list = Ugly(rows=[["Machines we look after – printed 3/4/2021"], None, None, list(HEADINGS)])
        self.list.blank = 2
        self._serial = 0

    def make(self) -> Ugly:
        """The list."""
        # A decimal and a date that can only be the one or the other stand somewhere in every such list
        self._machine(*self._owner(), hours="612.5", seen=("25/03/2021", date(2021, 3, 25)))
        while len(self.list.rows) < self._wanted - 3:
            draw = self._draw.random()
            if draw < 0.05:
                self._blank()
            elif draw < 0.30:
                self._merged()
            elif draw < 0.40:
                self._again()
            elif draw < 0.60:
                self._wrong()
            else:
                self._machine(*self._owner())
        while len(self.list.rows) < self._wanted:
            self._machine(*self._owner())
        return self.list

    # -- rows -----------------------------------------------------------------------------------------------------

    def _add(self, cells: list[Any], end: str, why: str = "", *, twin: tuple[str, str] | None = None) -> int:
        self.list.rows.append(cells)
        if end in (ADDED, REJECTED) and cells[0] != HEADINGS[0].upper():
            self.list.owners[cells[0]] = cells[1]
        number = len(self.list.rows)
        self.list.ends[number] = end, why
        self.list.twin_ends[number] = twin or (end, why)
        return number

    def _blank(self) -> None:
        self.list.rows.append(None)
        self.list.blank += 1

    def _owner(self) -> tuple[str, str]:
        number = self._draw.randrange(400)
        name = f"{_NAMES[number % len(_NAMES)]} {number}"
        return name, f"+43 660 {number:06d}"

    def _machine(self, name: str, phone: str, *, hours: Any = None, seen: Any = None, twin_owner: bool = True) -> None:
        self._serial += 1
        serial = f"{self._draw.choice('ABF')}{self._serial:05d}-{self._draw.randrange(10)}"
        model = self._draw.choice(list(MODELS))
        value = self._draw.randrange(100, 3000)
        shown = hours if hours is not None else self._hours(value)
        value = float(hours) if hours is not None else value
        text, day = seen or self._seen()
        cells = [name, phone, MODELS[model], serial, shown, text, "see file"]
        lost = (REJECTED, "the customer's name is blank")
        self._add(cells, ADDED, twin=None if twin_owner else lost)
        if not twin_owner:
            self.list.twin_lost.add(serial)
        self.list.machines[serial] = name, model, [(float(value), day)]

    def _hours(self, value: int) -> Any:
        ways = (value, str(value), f"{value} h", Formula(f"={value}-10+10", value), f" {value}", f"{value:,}.0 hrs")
        return self._draw.choice(ways)

    def _seen(self) -> tuple[Any, date]:
        """A date of the last years as a date, or as text: day first, or year first, or one that could be either."""
        day = date(2019, 1, 1) + timedelta(days=self._draw.randrange(2000))
        typed = [f"{day:{form}}" for form in ("%d/%m/%Y", "%d.%m.%Y", "%Y-%m-%d", "%d/%m/%y", "%-d %b %Y")]
        return self._draw.choice((day, datetime.combine(day, time(9, 30)), *typed)), day

    def _merged(self) -> None:
        """Two or three machines of one owner, whose name is merged over their rows; the CSV twin has it once."""
        name, phone = self._owner()
        many = self._draw.choice((2, 3))
        if len(self.list.rows) + many > self._wanted - 3:
            return
        first = len(self.list.rows) + 1
        for n in range(many):
            self._machine(name, phone, twin_owner=n == 0)
        self.list.merged.append((first, first + many - 1))

    def _known(self, model: str = "") -> str:
        """The serial of a machine that both the workbook and the twin have by now, "" while there is none."""
        have = [s for s, (_, m, _) in self.list.machines.items() if s not in self.list.twin_lost and model in ("", m)]
        return self._draw.choice(have) if have else ""

    def _again(self) -> None:
        """A machine that stands there already: the same row, or a later reading."""
        serial = self._known()
        name, model, readings = self.list.machines[serial]
        hours, day = readings[-1]
        cells = [name.upper(), self.list.owners[name], MODELS[model], serial.lower(), hours, day, ""]
        if self._draw.random() < 0.5 or day > date(2026, 1, 1):
            self._add(cells, KNOWN)
            return
        later = day + timedelta(days=100)
        cells[4], cells[5] = hours + 50, f"{later:%Y/%m/%d}"
        self._add(cells, FILLED)
        readings.append((hours + 50, later))

    def _wrong(self) -> None:
        ways = (self._month_first, self._no_model, self._failed, self._spoiled, self._stolen, self._back, self._head)
        self._draw.choice(ways)()

    def _cells(self, **other: Any) -> list[Any]:
        """A row that is right but for what is `other`."""
        name, phone = self._owner()
        self._serial += 1
        right = {"name": name, "phone": phone, "model": "split-1", "serial": f"X{self._serial}", "hours": 100}
        return [*(right | {"seen": date(2021, 5, 6)} | other).values(), ""]

    def _month_first(self) -> None:
        day = date(2020, self._draw.randrange(1, 13), self._draw.randrange(13, 29))
        why = f"Last seen: “{day:%m/%d/%Y}” is no date with the day first"
        self._add(self._cells(seen=f"{day:%m/%d/%Y}"), REJECTED, why)

    def _no_model(self) -> None:
        self._add(self._cells(model="Zephyr 9000"), REJECTED, "there is no model “Zephyr 9000” in models.toml")

    def _failed(self) -> None:
        failed = Formula("=#REF!*2", "#REF!")
        self._add(self._cells(hours=failed), REJECTED, "Hour meter: the formula there gives #REF!")

    def _spoiled(self) -> None:
        """A serial such as 3-4 that a spreadsheet program made a date of; in the twin it is text like any other."""
        self._serial += 1
        day = date(2000, 1, 1) + timedelta(days=self._serial)
        cells = self._cells(serial=day)
        why = f"S/N: a spreadsheet program made the date {day} of it"
        self._add(cells, REJECTED, why, twin=(ADDED, ""))
        self.list.twin_only[str(day)] = cells[0], "split-1", [(100.0, date(2021, 5, 6))]

    def _stolen(self) -> None:
        """Somebody else's serial number."""
        serial, cells = self._known("split-1"), self._cells()
        if serial and self.list.machines[serial][0] != cells[0]:
            cells[3] = serial
            self._add(cells, REJECTED, f"serial {serial} is a machine of customer ")

    def _back(self) -> None:
        """A meter that ran backwards."""
        serial = self._known()
        name, model, readings = self.list.machines[serial]
        hours, day = readings[-1]
        cells = [name, self.list.owners[name], MODELS[model], serial, hours - 60, day + timedelta(days=5), ""]
        self._add(cells, REJECTED, f"{hours - 60:g} h cannot be: the meter showed {hours:g} h on")

    def _head(self) -> None:
        cells = [heading.upper() for heading in HEADINGS]
        self._add(cells, REJECTED, "the headings once more")


def make(seed: int, rows: int) -> Ugly:
    """The ugly list."""
    return Maker(seed, rows).make()


# -- files ------------------------------------------------------------------------------------------------------------


def write_xlsx(ugly: Ugly, path: Path) -> None:
    """The list as a workbook: an empty sheet first, dates as dates, formulas with what they gave, names merged."""
    book = xlsxwriter.Workbook(str(path))
    book.add_worksheet("Cover")
    sheet = book.add_worksheet("Machines")
    day, moment = book.add_format({"num_format": "dd.mm.yyyy"}), book.add_format({"num_format": "yyyy-mm-dd hh:mm"})
    inside = {number for first, last in ugly.merged for number in range(first + 1, last + 1)}
    for number, row in enumerate(ugly.rows, 1):
        for column, cell in enumerate(row or ()):
            if column == 0 and number in inside:
                continue
            if isinstance(cell, Formula):
                sheet.write_formula(number - 1, column, cell.text, None, cell.value)
            elif isinstance(cell, datetime):
                sheet.write_datetime(number - 1, column, cell, moment)
            elif isinstance(cell, date):
                sheet.write_datetime(number - 1, column, cell, day)
            elif isinstance(cell, str):
                sheet.write_string(number - 1, column, cell)
            else:
                sheet.write_number(number - 1, column, cell)
    for first, last in ugly.merged:
        owner = (ugly.rows[first - 1] or [""])[0]
        sheet.merge_range(first - 1, 0, last - 1, 0, "")
        sheet.write_string(first - 1, 0, owner)
    book.close()


def write_csv(ugly: Ugly, path: Path) -> None:
    """The CSV twin: semicolons, UTF-8 with every seventh line in Windows-1252, merged names once."""
    inside = {number for first, last in ugly.merged for number in range(first + 1, last + 1)}
    lines: list[bytes] = []
    for number, row in enumerate(ugly.rows, 1):
        text = io.StringIO()
        cells = [_as_text(cell) for cell in row or ()]
        if number in inside:
            cells[0] = ""
        csv.writer(text, delimiter=";", lineterminator="\r\n").writerow(cells)
        lines.append(text.getvalue().encode("cp1252" if number % 7 == 0 else "utf-8"))
    path.write_bytes(b"".join(lines))


def _as_text(cell: Any) -> str:
    if isinstance(cell, Formula):
        return str(cell.value)
    if isinstance(cell, datetime):
        return f"{cell:%d.%m.%Y %H:%M}"
    return f"{cell:%Y-%m-%d}" if isinstance(cell, date) else str(cell)
