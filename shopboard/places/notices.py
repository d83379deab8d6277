"""The notice at the foot of a place or a dialog: what one was told, what another terminal did, and the guided walk."""

from __future__ import annotations

from typing import TYPE_CHECKING, ClassVar

from .lines import Line, Role, notice_lines
from .widgets.line_list import LineView

if TYPE_CHECKING:
    from textual.widget import Widget as _Screen
else:  # mixed into screens of two kinds; a second widget base would lose one its styles
    _Screen = object


class Notices(_Screen):
    """A screen with a notice; `NOTICE` names the view it stands in."""

    NOTICE: ClassVar[str] = "#notice"
    _told: tuple[str, Role] = ("", "")
    _news: str = ""

    def tell(self, text: str, role: Role = "") -> None:
        """Show a notice; news of other terminals before it is forgotten."""
        self._told, self._news = (text, role), ""
        self.show_notice()

    def tell_news(self, text: str) -> None:
        """Show what another terminal did, under the notice."""
        self._news = text
        self.show_notice()

    def show_notice(self) -> None:
        """Draw the notice anew."""
        if self.is_mounted:
            self.query_one(self.NOTICE, LineView).show(self._notice)

    def _notice(self, width: int) -> list[Line]:
        walk: str = getattr(self.app, "walk_words", "")
        rows = notice_lines(*self._told, width, self._news, most=2 if walk else 3)
        return [*rows, *notice_lines(walk, "mark", width, most=2)] if walk else rows
