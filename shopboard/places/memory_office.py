"""What the closed jobs say in the owner's minute: models to watch, and customers to ring for service that is due."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

from shopboard.memory.figures import count, rounded
from shopboard.records import ShopState

from .lines import BLANK, Line, heading
from .memory_cells import call_lines, calls_of
from .memory_lines import said_lines

if TYPE_CHECKING:
    from .knowledge import Knowledge, Row

#: So many of each are shown; the rest stands behind the memory's key.
_MOST = 5


def memory_blocks(
    knowledge: Knowledge | None, unknown: str, names: Mapping[str, str], state: ShopState, width: int
) -> list[Line]:
    """Both blocks; while nothing is reckoned, or where it cannot be, why."""
    rows = [heading("models to watch", width)]
    if knowledge is None:
        return [*rows, *said_lines(f"closed jobs: {unknown}", width, "soft")]
    early = [row for row in knowledge.bulk.rows if row.word in ("act", "watch")]
    for row in early[:_MOST]:
        rows += said_lines(_row_words(row, names), width, "late" if row.word == "act" else "wait", f"{row.word:<7}")
    rows += _rest(len(early), width) if early else said_lines("none fails earlier than the others", width, "good")
    calls = calls_of(knowledge, state)
    rows += [BLANK, heading("service due, to ring", width)]
    for call in calls[:_MOST]:
        rows += call_lines(call, state, width)
    rows += _rest(len(calls), width) if calls else said_lines("nobody", width, "good")
    return rows


def _row_words(row: Row, names: Mapping[str, str]) -> str:
    what = names.get(row.component, row.component.replace("-", " "))
    seen = f"{count(row.failures, 'failure')} on {row.hit} of {count(row.machines, 'machine')}"
    return f"{names.get(row.model, row.model)}: {what}, {seen}, {rounded(row.expected)} expected"


def _rest(many: int, width: int) -> list[Line]:
    return said_lines(f"and {many - _MOST} more: m opens the memory", width, "soft") if many > _MOST else []
