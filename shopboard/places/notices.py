"""The notice at the foot of a place or a dialog: what one was told, what another terminal did, and the guided walk."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, ClassVar

from textual import events

from .lines import Line, Role, notice_lines
from .widgets.line_list import LineView

if TYPE_CHECKING:
    from textual.screen import Screen
    from textual.widget import Widget

    _Screen = Screen[Any]
else:  # mixed into screens of two kinds; a second widget base would lose one its styles
    _Screen = object


class Notices(_Screen):
    """A screen with a notice; `NOTICE` names the view it stands in."""

    NOTICE: ClassVar[str] = "#notice"
    _told: tuple[str, Role] = ("", "")
    _news: str = ""

    _had_focus: Widget | None = None

    def on_descendant_focus(self, event: events.DescendantFocus) -> None:
        """Remember where the keys go."""
        self._had_focus = event.widget

    def focus_again(self) -> None:
        """Let the keys go where they went, when a click beside everything or a window left took the focus away."""
        had = self._had_focus
        if self.focused is None and had is not None and had.is_attached and had.focusable:
            self.set_focus(had, scroll_visible=False)

    def tell(self, text: str, role: Role = "") -> None:
        """Show a notice; news of other terminals before it is forgotten."""
        self._told, self._news = (text, role), ""
        self.show_notice()

    def tell_news(self, text: str) -> None:
        """Show what another terminal did, under the notice."""
        self._news = text
        self.show_notice()

    def show_notice(self) -> None:
        """Draw the notice anew where it stands: news can come while a screen is being built or torn down."""
        for view in self.query(self.NOTICE).results(LineView):
            view.show(self._notice)

    def _notice(self, width: int) -> list[Line]:
        walk: str = getattr(self.app, "walk_words", "")
        rows = notice_lines(*self._told, width, self._news, most=2 if walk else 3)
        return [*rows, *notice_lines(walk, "mark", width, most=2)] if walk else rows
