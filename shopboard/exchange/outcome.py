"""What an import comes to: records to keep, rows that are known already, rows that cannot be taken and why."""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path

from shopboard.records import Record, Refused

from .formulas import defused
from .mapping import Mapping
from .sheet import Row, cell_text

#: The two columns that stand before a rejected row's own.
ROW, WHY = "row", "why"


class NotTaken(ValueError):
    """A row that cannot be taken; its text says why, and what would do."""


@dataclass(frozen=True)
class Rejected:
    """A row that is not taken, and why."""

    row: Row
    why: str


@dataclass
class Outcome:
    """Rows come to one of four ends: `added` a record, `filled` in what a known one lacked, `known` already as they
    are, or `rejected`. `puts` are the records to keep by table and id, `notes` what must be told (row and sentence)."""

    puts: dict[tuple[type[Record], int], Record] = field(default_factory=dict)
    added: int = 0
    filled: int = 0
    known: int = 0
    rejected: list[Rejected] = field(default_factory=list)
    notes: list[tuple[int, str]] = field(default_factory=list)

    @property
    def rows(self) -> int:
        """All rows, each counted once."""
        return self.added + self.filled + self.known + len(self.rejected)

    def keep(self, record: Record) -> None:
        """Keep a record, in place of what was kept under its id before."""
        self.puts[type(record), record.id] = record  # type: ignore[attr-defined]

    def words(self, one: str, many: str) -> str:
        """The four numbers as a sentence."""
        parts = [f"{self.added} {one if self.added == 1 else many} new"]
        parts += [f"{self.filled} filled in"] if self.filled else []
        parts += [f"{self.known} known already"] if self.known else []
        parts += [f"{len(self.rejected)} rejected"] if self.rejected else []
        return ", ".join(parts)


def rejects_file(mapping: Mapping, rejected: Sequence[Rejected]) -> bytes:
    """The rejected rows as CSV: row number, reason, and the row's own cells under their own headings, so that what is
    put right there can be imported from it."""
    text = io.StringIO(newline="")
    writer = csv.writer(text, lineterminator="\r\n")
    width = max([len(mapping.columns), *(len(one.row.cells) for one in rejected)])
    headings = [column.heading for column in mapping.columns] + [""] * (width - len(mapping.columns))
    writer.writerow([ROW, WHY, *map(defused, headings)])
    for one in sorted(rejected, key=lambda one: one.row.number):
        cells = [defused(cell_text(cell)) for cell in one.row.cells]
        writer.writerow([one.row.number, defused(one.why), *cells, *[""] * (width - len(cells))])
    return text.getvalue().encode("utf-8-sig")


def rejects_path(source: Path, data: bytes) -> Path:
    """Where the rejects of `source` go: beside it, and never over a file with other rejects in it. Raises Refused."""
    for copy in range(1, 1000):
        path = source.with_name(f"{source.name}.rejected{f'-{copy}' if copy > 1 else ''}.csv")
        if not path.exists() or (path.is_file() and path.read_bytes() == data):
            return path
    raise Refused(f"{source.parent} is full of rejects of {source.name}", "tidy up there")
