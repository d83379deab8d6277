"""Choose one line of a list."""

from __future__ import annotations

from typing import ClassVar

from textual import on
from textual.app import ComposeResult
from textual.binding import Binding, BindingType

from shopboard.places.widgets.line_list import Builder, LineList, LineView

from .base import Dialog


class ChooseDialog(Dialog[str]):
    """A list; returns the key of the line chosen. `above` may say something before the list (a caution, a how)."""

    BINDINGS: ClassVar[list[BindingType]] = [Binding("backspace", "leave", "back", show=False)]

    def __init__(self, title: str, build: Builder, *, above: Builder | None = None, start: str = "") -> None:
        super().__init__(title, "Enter chooses, Esc goes back")
        self._build_list, self._above, self._start = build, above, start

    def compose_body(self) -> ComposeResult:
        """What is said first, then the list."""
        if self._above is not None:
            yield LineView(self._above, classes="fit above")
        yield LineList(self._build_list, id="choices")

    def on_mount(self) -> None:
        choices = self.query_one("#choices", LineList)
        if self._start:
            choices.go_to(self._start)
        choices.focus()

    @on(LineList.Chosen)
    def _chosen(self, event: LineList.Chosen) -> None:
        event.stop()
        self.dismiss(event.key)
