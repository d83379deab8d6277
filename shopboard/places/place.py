"""What every place has: a heading line, its body, a notice line and a footer of keys."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Container
from textual.screen import Screen

from shopboard.records import Job

from .actions import PLACES, footer_at
from .lines import Line, Span, cell, line
from .notices import Notices
from .widgets.line_list import LineList, LineView

if TYPE_CHECKING:
    from .app import Board


class Place(Notices, Screen[None]):
    """A screen of the board. Subclasses give `place`, `compose_body`, `heading_facts` and `redraw`."""

    place: ClassVar[str]
    AUTO_FOCUS = ""  # each place says itself what has the focus
    BINDINGS: ClassVar[list[BindingType]] = [Binding("tab", "nothing", show=False)]

    def __init__(self) -> None:
        super().__init__()
        self.drawn_at = -1

    @property
    def board(self) -> Board:
        """The app."""
        app: Any = self.app
        return app  # type: ignore[no-any-return]

    def compose(self) -> ComposeResult:
        """Heading, body, notice, footer."""
        yield LineView(self._heading, id="heading", classes="fit")
        with Container(id="body"):
            yield from self.compose_body()
        yield LineView(self._notice, id="notice", classes="fit")
        yield LineView(self._footer, id="footer", classes="fit")

    def compose_body(self) -> ComposeResult:
        """The widgets of this place."""
        raise NotImplementedError

    def heading_facts(self) -> str:
        """What the heading says behind the place's name and the time."""
        return ""

    def redraw(self) -> None:
        """Draw everything anew from the shop's state, moving no cursor."""
        raise NotImplementedError

    def job_here(self) -> Job | None:
        """The open job the cursor or the place stands for."""
        return None

    def on_mount(self) -> None:
        self.refresh_place()

    def on_screen_resume(self) -> None:
        self.refresh_place()

    def go_back(self) -> bool:
        """Leave what one is in here; says whether there was anything to leave."""
        return False

    def has_matter(self) -> bool:
        """Whether there is anything that this place's own keys could be about."""
        return True

    def keep_draft(self) -> None:
        """Remember what is half typed here, if anything is."""

    def refresh_place(self) -> None:
        """Draw heading, body and footer from the state as it is now; once they are there."""
        if not self.query("#footer"):
            return  # a change of the shop can come in between: what is mounted last draws itself then
        self.drawn_at = self.board.store.state.seq
        self.query_one("#heading", LineView).show(self._heading)
        self.query_one("#footer", LineView).show(self._footer)
        self.redraw()

    def _heading(self, width: int) -> list[Line]:
        name = f" {PLACES[self.place][1].upper()}  "
        now = self.board.local_now()
        clock = f"{now:%a %d %b %H:%M}   "
        who = self.board.person_name()
        facts = self.heading_facts()
        room = width - len(name) - len(clock)
        right = f"{who} "
        if len(facts) + len(right) + 2 > room:
            return [line(None, (name, "strong"), clock, cell(facts, max(0, room)))]
        return [line(None, (name, "strong"), clock, cell(facts, room - len(right)), (right, "soft"))]

    def _footer(self, width: int) -> list[Line]:
        pairs = footer_at(self.place, own=self.has_matter())
        while len(pairs) > 1 and sum(len(key) + len(label) + 4 for key, label in pairs) - 2 > width:
            del pairs[-2]
        spans = [[Span(f" {key}", "strong"), Span(f" {label}  ", "soft")] for key, label in pairs]
        return [Line(None, tuple(span for pair in spans for span in pair))]

    def the_list(self, id: str) -> LineList:
        """One of the place's lists."""
        return self.query_one(f"#{id}", LineList)

    def action_nothing(self) -> None:
        """Tab stays in the list."""
