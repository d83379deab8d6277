"""The find dialog: type anything, the jobs it occurs in are listed as one types."""

from __future__ import annotations

from typing import ClassVar

from textual import on
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.widgets import Input

from shopboard.places.finding import find
from shopboard.places.lines import Line, cell, line
from shopboard.places.widgets.form import FieldInput
from shopboard.places.widgets.line_list import LineList
from shopboard.records import ShopState
from shopboard.trouble import Book

from .base import Dialog


class FindDialog(Dialog[str]):
    """Returns the id of the job chosen, as text."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("pagedown", "page(1)", show=False),
        Binding("pageup", "page(-1)", show=False),
    ]

    def __init__(self, state: ShopState, book: Book, typed: str = "") -> None:
        super().__init__("Find a job: tag, customer, phone, serial, model, words of the complaint", "Enter opens")
        self._state, self._book, self._typed = state, book, typed

    def compose_body(self) -> ComposeResult:
        """What to look for, then what was found."""
        yield FieldInput(self._typed, placeholder="type here", compact=True, select_on_focus=False)
        hits = LineList(self._lines, id="hits")
        hits.can_focus = False
        yield hits

    def on_mount(self) -> None:
        self.query_one(FieldInput).focus()

    def _lines(self, width: int) -> list[Line]:
        hits = find(self._state, self._typed)
        rows = [
            line(
                str(hit.job), (cell(hit.words, width - 8), ""), (cell("open" if hit.open else "closed", 8, ">"), "soft")
            )
            for hit in hits
        ]
        return rows or [line(None, ("nothing here has all of these words", "wait"))]

    @on(Input.Changed)
    def _changed(self, event: Input.Changed) -> None:
        event.stop()
        self._typed = event.value
        self.query_one("#hits", LineList).show(self._lines)

    @on(FieldInput.Option)
    def _walk(self, event: FieldInput.Option) -> None:
        event.stop()
        self.query_one("#hits", LineList).action_move(event.step)

    @on(FieldInput.Entered)
    def _enter(self, event: FieldInput.Entered) -> None:
        event.stop()
        key = self.query_one("#hits", LineList).key
        if key is not None:
            self.dismiss(key)

    def action_page(self, way: int) -> None:
        """Walk the hits by a screenful."""
        self.query_one("#hits", LineList).action_page(way)
