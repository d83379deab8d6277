"""A list one acts on: it stays, and is drawn anew, while keys do things with the line under the cursor."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import ClassVar, NamedTuple

from textual import events, on
from textual.app import ComposeResult
from textual.binding import Binding, BindingType

from shopboard.places.widgets.line_list import Builder, LineList

from .base import Dialog


class Act(NamedTuple):
    """Something a key does with the line under the cursor (its key, None on none). `word` names it in the title; the
    key "enter" is Enter."""

    key: str
    word: str
    do: Callable[[str | None], None]


class ActingDialog(Dialog[None]):
    """A list with keys. Nothing in it can be lost, so a scan may close it."""

    BINDINGS: ClassVar[list[BindingType]] = [Binding("backspace", "leave", "back", show=False)]
    gives_way = True

    def __init__(self, title: str, build: Builder, acts: Sequence[Act], *, start: str = "") -> None:
        words = [f"{'Enter' if act.key == 'enter' else act.key} {act.word}" for act in acts if act.word]
        super().__init__(title, ", ".join([*words, "Esc goes back"]))
        self._start = start
        self._build_list, self._acts = build, {act.key: act for act in acts}

    def compose_body(self) -> ComposeResult:
        """The list."""
        yield LineList(self._build_list, id="acted-on")

    def on_mount(self) -> None:
        found = self.query_one("#acted-on", LineList)
        if self._start:
            found.go_to(self._start)
        found.focus()

    def on_screen_resume(self) -> None:
        self.redraw()

    def redraw(self) -> None:
        """Draw the list anew; the cursor stays on its line."""
        if self.is_mounted:
            self.query_one("#acted-on", LineList).show(self._build_list)

    def action_leave(self) -> None:
        """Go back; what was told last stands on the place too."""
        text, role = self._told
        self.dismiss(None)
        if text:
            self.app.call_later(self.app.tell, text, role)  # type: ignore[attr-defined]

    def on_key(self, event: events.Key) -> None:
        act = self._acts.get(event.key)
        if act is not None:
            event.stop()
            act.do(self.query_one("#acted-on", LineList).key)
            self.redraw()

    @on(LineList.Chosen)
    def _chosen(self, event: LineList.Chosen) -> None:
        event.stop()
        if "enter" in self._acts:
            self._acts["enter"].do(event.key)
            self.redraw()
