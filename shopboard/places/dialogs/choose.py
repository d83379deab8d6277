"""Choose one line of a list."""

from __future__ import annotations

from typing import ClassVar

from textual import on
from textual.app import ComposeResult
from textual.binding import Binding, BindingType

from shopboard.places.widgets.line_list import Builder, LineList, LineView

from .base import Dialog

#: Rows of the list that are never given up to what is said above it.
_LIST_ROWS = 9


class ChooseDialog(Dialog[str]):
    """A list; returns the key of the line chosen. `above` may say something before the list (a caution, a how); where
    it is longer than the screen, PageDown reads on in it first."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("backspace", "leave", "back", show=False),
        Binding("pagedown", "read(1)", show=False, priority=True),
        Binding("pageup", "read(-1)", show=False, priority=True),
    ]

    def __init__(self, title: str, build: Builder, *, above: Builder | None = None, start: str = "") -> None:
        super().__init__(title, "Enter chooses, Esc goes back")
        self._above = LineView(above, classes="above") if above is not None else None
        self._choices = LineList(build, id="choices")
        self._start = start

    def compose_body(self) -> ComposeResult:
        """What is said first, then the list."""
        if self._above is not None:
            yield self._above
        yield self._choices

    def on_mount(self) -> None:
        if self._start:
            self._choices.go_to(self._start)
        self._choices.focus()
        self.call_after_refresh(self._share_rows)

    def on_resize(self) -> None:
        self.call_after_refresh(self._share_rows)

    def _share_rows(self) -> None:
        """Give what stands above all rows that the list can spare."""
        if self._above is None:
            return
        frame = 7  # border, title, the blanks under title and text, and a line of notice
        rows = self.size.height * 9 // 10 - frame - min(_LIST_ROWS, len(self._choices.lines))
        self._above.styles.max_height = max(3, rows)
        longer = len(self._above.lines) > max(3, rows)
        self.say_keys("PgDn reads on, Enter chooses" if longer else "Enter chooses, Esc goes back")

    @on(LineList.Chosen)
    def _chosen(self, event: LineList.Chosen) -> None:
        event.stop()
        self.dismiss(event.key)

    def action_read(self, way: int) -> None:
        """Read on above the list; where that is at its end, walk the list."""
        above = self._above
        if above is not None and (above.scroll_y < above.max_scroll_y if way > 0 else above.scroll_y > 0):
            above.scroll_relative(y=way * max(1, above.size.height - 1), animate=False)
        else:
            self._choices.action_page(way)
