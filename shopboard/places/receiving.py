"""Scanned part lines and bins, one form after the other: two scans are two lines."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from typing import TYPE_CHECKING

from shopboard.records import PartLine, Table, tag
from shopboard.shop import parts

from . import part_forms, steps
from .fields import Field, Values, reads, text_of
from .form_parts import Ready

if TYPE_CHECKING:
    from .app import Board


def ask_received(board: Board, line: PartLine, after: Callable[[], None] | None = None) -> None:
    """Ask how many pieces of this line came; nothing typed takes all that was missing."""
    count = Field(
        "quantity", "how many came", start=str(line.missing), hint=f"blank: all {line.missing}",
        check=reads(lambda t: part_forms.whole(t, "how many came")),
    )  # fmt: skip

    def ready(values: Values) -> Ready:
        typed = text_of(values, "quantity")
        number = part_forms.whole(typed, "how many came") if typed else line.missing
        return lambda s, now: parts.receive(s, now, board.who, line.id, number)

    whose = f" for {tag(line.job)}" if line.job is not None else ""
    steps.ask(board, f"receive {line.name} {line.number}{whose}", (count,), ready, after=after)


class Receiving:
    """What was scanned and is still to be asked about."""

    def __init__(self, board: Board) -> None:
        self.board = board
        self._asked: int | None = None
        self._waiting: list[int] = []

    def scanned(self, table: Table, number: int) -> bool:
        """A code of ours was scanned; says whether it named a line on order, or a bin, and was dealt with."""
        line = self._line(table, number)
        if line is None and (table is not Table.STOCK or number not in self.board.state.stock):
            return False
        if line is not None and self._asked is not None:
            self._waiting.append(line.id)
            self.board.tell(f"{line.name} scanned too: it is asked about next", "mark")
        elif self._in_the_way():
            self.board.tell("a part was scanned: finish or leave this first (Esc)", "wait")
        elif line is not None:
            self._ask(line)
        else:
            from .bins import show_bins

            show_bins(self.board, number)
        return True

    def _line(self, table: Table, number: int) -> PartLine | None:
        """The line on order that a code names: its own, or the soonest due that waits for what lies in a bin."""
        parts, taken = self.board.state.parts, {self._asked, *self._waiting}
        if table is Table.PARTS:
            line = parts.get(number)
            return line if line is not None and line.state in part_forms.OWED else None
        entry = self.board.state.stock.get(number) if table is Table.STOCK else None
        if entry is None:
            return None
        owed = [p for p in parts.values() if p.number == entry.number and p.state in part_forms.OWED]
        open_ = [p for p in owed if p.id not in taken]
        return min(open_, key=lambda p: (p.expected or date.max, p.id), default=None)

    def _in_the_way(self) -> bool:
        """Whether something stays in front that a scan may not close."""
        board = self.board
        while len(board.screen_stack) > 2 and getattr(board.screen, "gives_way", False):
            board.pop_screen()
        return len(board.screen_stack) > 2

    def _ask(self, line: PartLine) -> None:
        self._asked = line.id
        ask_received(self.board, line, self._done)

    def _done(self) -> None:
        self._asked = None
        while self._waiting:
            line = self.board.state.parts.get(self._waiting.pop(0))
            if line is not None and line.state in part_forms.OWED:
                self._ask(line)
                return
            if line is not None:
                self.board.tell(f"{line.name} is {line.state}: nothing more of it is to come", "wait")
