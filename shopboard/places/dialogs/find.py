"""Type and choose: the list narrows as one types. Jobs of the shop, or the actions of a place."""

from __future__ import annotations

from abc import abstractmethod
from datetime import datetime
from typing import ClassVar
from zoneinfo import ZoneInfo

from textual import on
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.widgets import Input

from shopboard.places.actions import Action, actions_at, key_words, keys_at
from shopboard.places.find_lines import find_lines, hit_detail
from shopboard.places.finding import Finder, hit_of
from shopboard.places.lines import Line, cell, line
from shopboard.places.widgets.form import FieldInput
from shopboard.places.widgets.line_list import LineList, LineView
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
    """Returns the key of the job or customer chosen."""

    def __init__(self, finder: Finder, state: ShopState, now: datetime, zone: ZoneInfo, typed: str = "") -> None:
        super().__init__("Find by tag, name, phone, serial, model, part or complaint", typed)
        self._finder, self._state, self._now, self._zone = finder, state, now, zone

    def compose_body(self) -> ComposeResult:
        """What to look for, what was found, and more on the one under the cursor."""
        yield from super().compose_body()
        yield LineView(self._detail, id="hit-detail", classes="fit")

    def found(self, typed: str, width: int) -> list[Line]:
        """What has every word typed."""
        found = self._finder.find(typed)
        if not typed.strip() and not found.hits:
            return [line(None, ("no open job: type to look among closed ones", "wait"))]
        return find_lines(self._state, found, self._now, self._zone, width)

    @on(LineList.Moved)
    def _moved(self, event: LineList.Moved) -> None:
        event.stop()
        self.query_one("#hit-detail", LineView).show(self._detail)

    def _detail(self, width: int) -> list[Line]:
        key = self.query_one("#hits", LineList).key
        return hit_detail(self._state, hit_of(key) if key else None, width)


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
