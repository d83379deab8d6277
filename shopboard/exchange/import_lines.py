"""What an import says: the columns as taken, the first rows, what came of it; as lines and as JSON."""

from __future__ import annotations

from pathlib import Path

from .fields import NAMES
from .mapping import Mapping
from .outcome import Outcome
from .sheet import cell_text, many

#: So many rows are shown before anything is kept, and so many rejects and notes are told one by one.
FIRST, SOME = 3, 10
_WIDE = 40


def mapping_lines(mapping: Mapping) -> list[str]:
    """Each column and what it is taken for, and the first rows read so."""
    said = [f"headings in row {mapping.head}:" if mapping.head else "no row of headings:"]
    for column in mapping.columns:
        if column.field is None and not column.heading and not any(row.cell(column.index) for row in mapping.rows):
            continue
        if column.field is None:
            said.append(f"  {column.name} – left out")
        else:
            how = "as told" if column.told else "guessed"
            said.append(f"  {column.name} → {column.field.id} ({column.field.label}), {how}")
    for row in mapping.rows[:FIRST]:
        cells = [
            f"{column.field.id}: {_short(cell_text(row.cell(column.index)))}"
            for column in mapping.columns
            if column.field and cell_text(row.cell(column.index))
        ]
        said.append(f"row {row.number}: {'; '.join(cells) or 'nothing of these'}")
    return said


def _short(text: str) -> str:
    plain = " ".join(text.split())
    return plain if len(plain) <= _WIDE else f"{plain[: _WIDE - 1]}…"


def outcome_lines(outcome: Outcome, kind: str) -> list[str]:
    """The numbers, then the first notes and rejects."""
    said = [f"{many(outcome.rows, 'row')}: {outcome.words(*NAMES[kind])}"]
    for row, words in outcome.notes[:SOME]:
        said.append(f"  row {row}: {words}" if row else f"  {words}")
    said += [f"  … and {len(outcome.notes) - SOME} more to be told"] if len(outcome.notes) > SOME else []
    for one in outcome.rejected[:SOME]:
        said.append(f"  row {one.row.number} rejected: {one.why}")
    said += [f"  … and {len(outcome.rejected) - SOME} more rejected"] if len(outcome.rejected) > SOME else []
    return said


def outcome_data(outcome: Outcome, kind: str, seq: int, rejects: Path | None) -> dict[str, object]:
    """What `import --json` prints:

    - `list` (text), `rows`, `added`, `filled`, `known`, `rejected` (numbers), `change` (number, 0: nothing was kept)
    - `rejects`: the file with the rejected rows (text or null)
    - `notes`, `reasons`: lists of `row` (number, 0: the whole file) and `text`
    """
    return {
        "list": kind,
        "rows": outcome.rows,
        "added": outcome.added,
        "filled": outcome.filled,
        "known": outcome.known,
        "rejected": len(outcome.rejected),
        "change": seq,
        "rejects": str(rejects) if rejects else None,
        "notes": [{"row": row, "text": text} for row, text in outcome.notes],
        "reasons": [{"row": one.row.number, "text": one.why} for one in outcome.rejected],
    }
