"""Type and choose: the list narrows as one types. Jobs of the shop, or the actions of a place."""

from __future__ import annotations

from abc import abstractmethod
from typing import ClassVar

from textual import on
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.widgets import Input

from shopboard.places.actions import Action, actions_at, key_words, keys_at
from shopboard.places.finding import find
from shopboard.places.lines import Line, cell, line
from shopboard.places.widgets.form import FieldInput
from shopboard.places.widgets.line_list import LineList
from shopboard.records import ShopState, visible

from .base import Dialog


class SearchDialog(Dialog[str]):
    """Returns the key of the line chosen. Subclasses give `found`, the lines for what is typed."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("pagedown", "page(1)", show=False),
        Binding("pageup", "page(-1)", show=False),
    ]
    gives_way = True

    def __init__(self, title: str, typed: str = "") -> None:
        super().__init__(title, "Enter opens")
        self._typed = typed

    @abstractmethod
    def found(self, typed: str, width: int) -> list[Line]:
        """The lines that what is typed leaves."""

    def compose_body(self) -> ComposeResult:
        """What to look for, then what was found."""
        yield FieldInput(visible(self._typed), placeholder="type here")
        hits = LineList(self._lines, id="hits")
        hits.can_focus = False
        yield hits

    def on_mount(self) -> None:
        self.query_one(FieldInput).focus()

    def _lines(self, width: int) -> list[Line]:
        return self.found(self._typed, width)

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


class FindDialog(SearchDialog):
    """Returns the id of the job chosen, as text."""

    def __init__(self, state: ShopState, typed: str = "") -> None:
        super().__init__("Find a job by tag, name, phone, serial, model, complaint", typed)
        self._state = state

    def found(self, typed: str, width: int) -> list[Line]:
        """The jobs in which every word typed occurs."""
        rows = [
            line(str(hit.job), cell(hit.words, width - 8), (cell("open" if hit.open else "closed", 7, ">"), "soft"))
            for hit in find(self._state, typed)
        ]
        nothing = (
            "nothing here has all of these words" if typed.strip() else "no open job: type to look among closed ones"
        )
        return rows or [line(None, (nothing, "wait"))]


class PaletteDialog(SearchDialog):
    """Every action of a place by name; returns the id of the action chosen."""

    def __init__(self, place: str, title: str) -> None:
        super().__init__(f"Actions at {title}")
        self._place = place

    def found(self, typed: str, width: int) -> list[Line]:
        """The actions whose name or help has every word typed."""
        wanted = typed.lower().split()
        actions = [a for a in actions_at(self._place) if all(w in f"{a.label} {a.help}".lower() for w in wanted)]
        rows = [self._row(action, width) for action in actions]
        return rows or [line(None, ("no action has all of these words", "wait"))]

    def _row(self, action: Action, width: int) -> Line:
        keys = key_words(",".join(keys_at(self._place, action)[:1]))
        help = cell(action.help, width - 25)
        return line(action.id, cell(action.label, 17), (help, "soft"), (cell(keys, 8, ">"), "mark"))
