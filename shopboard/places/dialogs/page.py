"""Read a page."""

from __future__ import annotations

from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType

from shopboard.places.widgets.line_list import Builder, LineView

from .base import Dialog


class Reader(LineView, can_focus=True):
    """Lines one scrolls through."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("down,j", "scroll_down", show=False),
        Binding("up,k", "scroll_up", show=False),
        Binding("pagedown,space", "page_down", show=False),
        Binding("pageup", "page_up", show=False),
        Binding("home", "scroll_home", show=False),
        Binding("end", "scroll_end", show=False),
    ]


class PageDialog(Dialog[None]):
    """A page of lines, with the arrows to scroll."""

    BINDINGS: ClassVar[list[BindingType]] = [Binding("enter,backspace,q", "leave", "back", show=False)]
    gives_way = True

    def __init__(self, title: str, build: Builder) -> None:
        super().__init__(title, "arrows scroll, Esc goes back")
        self._build_page = build

    def compose_body(self) -> ComposeResult:
        """The page."""
        yield Reader(self._build_page, id="page")

    def on_mount(self) -> None:
        self.query_one("#page", Reader).focus()
