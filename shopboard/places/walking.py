"""How the board leads through the guided walk: it looks now and then whether the present leg is done."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from textual.timer import Timer

from .notices import Notices
from .people import PeopleApp

if TYPE_CHECKING:
    from .walk import Walk

#: Seconds between looks whether a leg is done.
_LOOK = 0.2


class WalkingApp(PeopleApp):
    """An app that can show somebody round."""

    def __init__(self, *given: Any) -> None:
        super().__init__(*given)
        self._walk: Walk | None = None
        self._walk_timer: Timer | None = None

    @property
    def walk_words(self) -> str:
        """What the present leg of the walk asks for, "" when nobody is shown round."""
        return self._walk.words() if self._walk is not None else ""

    def offer_walk(self) -> None:
        """Ask whether to be shown round."""
        from .walk import offer

        self.push_screen(offer(), lambda choice: self.action_walk() if choice == "walk" else None)

    def action_walk(self) -> None:
        """Begin the walk, or leave it."""
        from .walk import Walk

        if self._walk is not None:
            self._leave_walk("The walk is over; Ctrl+G begins it again")
            return
        self._walk = Walk(self)  # type: ignore[arg-type]
        self._walk_timer = self.set_interval(_LOOK, self._look_at_walk)
        self._show_walk()

    def _look_at_walk(self) -> None:
        if self._walk is None or self.locked:
            return
        from .walk import OVER

        moved = self._walk.go_on()
        if not self._walk.words():
            self._leave_walk(OVER)
        elif moved:
            self._show_walk()

    def _leave_walk(self, words: str) -> None:
        self._walk = None
        if self._walk_timer is not None:
            self._walk_timer.stop()
        self._show_walk()
        if isinstance(self.screen, Notices):
            self.screen.tell(words, "good")

    def _show_walk(self) -> None:
        for screen in self.screen_stack:
            if isinstance(screen, Notices):
                screen.show_notice()
