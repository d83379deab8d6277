"""Read a page."""

from __future__ import annotations

from collections.abc import Callable
from threading import Thread
from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.message import Message

from shopboard.places.lines import Line, wrapped
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


class LatePageDialog(PageDialog):
    """A page that takes a while to work out: `work` runs in a thread of its own, and until it is done the page says
    what is being done."""

    class Ready(Message):
        """The page is worked out, or this is the line that says why it cannot be."""

        def __init__(self, page: Builder | str) -> None:
            super().__init__()
            self.page = page

    def __init__(self, title: str, doing: str, work: Callable[[], Builder]) -> None:
        super().__init__(title, lambda width: wrapped(f"{doing} …", width, "soft"))
        self._work = work
        self.ready = False

    def on_mount(self) -> None:
        super().on_mount()
        Thread(target=self._work_out, daemon=True).start()

    def _work_out(self) -> None:
        try:
            page: Builder | str = self._work()
        except ValueError as error:
            page = str(error)
        self.post_message(self.Ready(page))

    def on_late_page_dialog_ready(self, event: LatePageDialog.Ready) -> None:
        """Show it."""
        self.ready = True
        self.query_one("#page", Reader).show(_refusal(event.page) if isinstance(event.page, str) else event.page)


def _refusal(why: str) -> Callable[[int], list[Line]]:
    return lambda width: wrapped(why, width, "late")
