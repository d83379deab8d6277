"""What every dialog has: a title, a notice line, Esc to leave."""

from __future__ import annotations

from typing import ClassVar, Generic, TypeVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Vertical
from textual.screen import ModalScreen

from shopboard.places.lines import Line, Role, cell, line, notice_lines
from shopboard.places.widgets.line_list import LineView

Result = TypeVar("Result")


class Dialog(ModalScreen[Result | None], Generic[Result]):
    """A modal screen with a title and a line for notices."""

    BINDINGS: ClassVar[list[BindingType]] = [Binding("escape", "leave", "back", show=False)]
    AUTO_FOCUS = ""  # each dialog says itself what has the focus
    #: Whether a scan may close it and open what it names: nothing in it can be lost.
    gives_way: ClassVar[bool] = False

    def __init__(self, title: str, keys: str = "Esc goes back") -> None:
        super().__init__()
        self.title_text = title
        self.keys_text = keys
        self._told: tuple[str, Role] = ("", "")
        self._news = ""

    def compose(self) -> ComposeResult:
        """Title, body, notice."""
        with Vertical(classes="dialog"):
            yield LineView(self._title_lines, classes="fit title")
            yield from self.compose_body()
            yield LineView(self._notice_lines, id="dialog-notice", classes="fit")

    def compose_body(self) -> ComposeResult:
        """What the dialog is for."""
        raise NotImplementedError

    def _title_lines(self, width: int) -> list[Line]:
        room = max(0, width - len(self.keys_text) - 1)
        if room < 16:
            return [line(None, (cell(self.title_text, width), "strong"))]
        return [line(None, (cell(self.title_text, room), "strong"), " ", (self.keys_text, "soft"))]

    def say_keys(self, text: str) -> None:
        """Say in the title which keys work."""
        self.keys_text = text
        self.query_one(".title", LineView).show(self._title_lines)

    def tell(self, text: str, role: Role = "") -> None:
        """Show one line at the foot of the dialog."""
        self._told, self._news = (text, role), ""
        self._show_notice()

    def tell_news(self, text: str) -> None:
        """Show what another terminal did, under the notice."""
        self._news = text
        self._show_notice()

    def _show_notice(self) -> None:
        if self.is_mounted:
            self.query_one("#dialog-notice", LineView).show(self._notice_lines)

    def _notice_lines(self, width: int) -> list[Line]:
        return notice_lines(*self._told, width, self._news)

    def action_leave(self) -> None:
        """Go back without a result."""
        self.dismiss(None)
