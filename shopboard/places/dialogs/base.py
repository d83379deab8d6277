"""What every dialog has: a title, a notice line, Esc to leave."""

from __future__ import annotations

from typing import Any, ClassVar, Generic, TypeVar

from textual.app import ComposeResult
from textual.await_complete import AwaitComplete
from textual.binding import Binding, BindingType
from textual.containers import Vertical
from textual.screen import ModalScreen

from shopboard.places.lines import Line, cell, line
from shopboard.places.notices import Notices
from shopboard.places.widgets.line_list import LineView

Result = TypeVar("Result")


class Dialog(Notices, ModalScreen[Result | None], Generic[Result]):
    """A modal screen with a title and a line for notices."""

    NOTICE = "#dialog-notice"
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("escape", "leave", "back", show=False),
        Binding("ctrl+l", "app.lock", "lock", show=False),
    ]
    AUTO_FOCUS = ""  # each dialog says itself what has the focus
    #: Whether a scan may close it and open what it names: nothing in it can be lost.
    gives_way: ClassVar[bool] = False

    def __init__(self, title: str, keys: str = "Esc goes back") -> None:
        super().__init__()
        self.title_text = title
        self.keys_text = keys

    def compose(self) -> ComposeResult:
        """Title, body, notice."""
        with Vertical(classes="dialog"):
            yield LineView(self._title_lines, classes="fit title")
            yield from self.compose_body()
            yield LineView(self._notice, id="dialog-notice", classes="fit")

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

    def dismiss(self, result: Result | None = None) -> AwaitComplete:
        """Close with this result; under a locked screen only once that is off, since it is the topmost that closes."""
        board: Any = self.app
        if self.app.screen is not self and getattr(board, "locked", False):
            board.when_unlocked(lambda: self.dismiss(result))
            return AwaitComplete()
        return super().dismiss(result)

    def action_leave(self) -> None:
        """Go back without a result."""
        self.dismiss(None)
