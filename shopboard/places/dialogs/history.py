"""The shop's whole history: type to filter it, Enter opens what a change was about or takes it back."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, ClassVar

from textual import on
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.timer import Timer
from textual.widgets import Input

from shopboard.places.history_search import HOW, read_wanted, told_lines
from shopboard.places.lines import Line, line, wrapped
from shopboard.places.widgets.form import FieldInput
from shopboard.places.widgets.line_list import LineList, LineView
from shopboard.records import Refused, tag
from shopboard.store import StoreError
from shopboard.store.story import Told, story

from .base import Dialog
from .choose import ChooseDialog

if TYPE_CHECKING:
    from shopboard.places.app import Board

#: So many changes are looked for at first, and again at each end of the list.
_PAGE = 100


class HistoryDialog(Dialog[int]):
    """Every change, newest first; returns the number of a job to open."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("pagedown", "page(1)", show=False),
        Binding("pageup", "page(-1)", show=False),
    ]
    gives_way = True

    def __init__(self, board: Board) -> None:
        super().__init__("The shop's history", "Enter opens, Esc goes back")
        self._board = board
        self._found: list[Told] = []
        self._walk: Iterator[Told | None] = iter(())
        self._ticking: Timer | None = None
        self._why = ""
        self._most = _PAGE
        self.looking = False  # whether older segments are still being looked through

    def compose_body(self) -> ComposeResult:
        """The filter, what it leaves, and the whole sentence of the one under the cursor."""
        yield FieldInput(placeholder=HOW)
        changes = LineList(self._lines, id="hits")
        changes.can_focus = False
        yield changes
        yield LineView(self._detail, id="hit-detail", classes="fit")

    def on_mount(self) -> None:
        self.query_one(FieldInput).focus()
        self._ticking = self.set_interval(0.01, self._look, pause=True)
        self._begin("")

    def _begin(self, typed: str) -> None:
        self._found, self._why, self._most = [], "", _PAGE
        try:
            wanted = read_wanted(typed, self._board.state.settings, self._board.local_now().date())
            self._walk = story(self._board.store, wanted)
            self._go_on()
        except ValueError as error:
            self._walk, self._why = iter(()), str(error)
            self._stop()
        self._show()

    def _go_on(self) -> None:
        self.looking = True
        if self._ticking is not None:
            self._ticking.resume()

    def _look(self) -> None:
        """A piece of the way back, so that no key waits for ten years of changes."""
        for _ in range(_PAGE):
            if len(self._found) >= self._most:
                break
            try:
                told = next(self._walk)
            except StopIteration:
                self._stop()
                break
            except StoreError as error:
                self._why = str(error)
                self._stop()
                break
            if told is None:
                break
            self._found.append(told)
        if len(self._found) >= self._most:
            self._stop()
        self._show()

    def _stop(self) -> None:
        self.looking = False
        if self._ticking is not None:
            self._ticking.pause()

    def _show(self) -> None:
        if self.is_mounted:
            self.query_one("#hits", LineList).show(self._lines)
            self.query_one("#hit-detail", LineView).show(self._detail)

    def _lines(self, width: int) -> list[Line]:
        rows = told_lines(self._found, self._board.zone, width)
        if self._why:
            return [*rows, *wrapped(self._why, width, "late")]
        if self.looking:
            return [*rows, line(None, ("looking further back …", "soft"))]
        if len(self._found) >= self._most:
            return [*rows, line(None, ("PageDown at the end looks further back", "soft"))]
        return rows or [line(None, ("no change has all of this", "wait"))]

    def _under(self) -> Told | None:
        key = self.query_one("#hits", LineList).key
        return next((told for told in self._found if str(told.seq) == key), None)

    def _detail(self, width: int) -> list[Line]:
        told = self._under()
        if told is None:
            return []
        about = f", {tag(told.subject)}" if told.subject is not None else ""
        takes_back = f", takes back change {told.undoes}" if told.undoes is not None else ""
        head = line(None, (f"change {told.seq}{about}{takes_back}", "soft"))
        return [head, *wrapped(told.why, width)[:4]]

    @on(LineList.Moved)
    def _moved(self, event: LineList.Moved) -> None:
        event.stop()
        self.query_one("#hit-detail", LineView).show(self._detail)

    @on(Input.Changed)
    def _changed(self, event: Input.Changed) -> None:
        event.stop()
        self._begin(event.value)

    @on(FieldInput.Option)
    def _step(self, event: FieldInput.Option) -> None:
        event.stop()
        self.query_one("#hits", LineList).action_move(event.step)

    def action_page(self, way: int) -> None:
        """Walk the changes by a screenful; at the end of what was found look further back."""
        hits = self.query_one("#hits", LineList)
        if way > 0 and self._found and hits.key == str(self._found[-1].seq) and not self.looking:
            self._most += _PAGE
            self._go_on()
        hits.action_page(way)

    @on(FieldInput.Entered)
    def _entered(self, event: FieldInput.Entered) -> None:
        event.stop()
        told = self._under()
        if told is None:
            return
        rows = [line("undo", f"take change {told.seq} back, if nothing came after it")]
        if told.subject is not None:
            rows.insert(0, line("open", f"open {tag(told.subject)}"))
        self.app.push_screen(
            ChooseDialog(f"change {told.seq}", lambda _: rows, above=lambda width: wrapped(told.why, width)),
            lambda what: self._do(what, told),
        )

    def _do(self, what: str | None, told: Told) -> None:
        if what == "open":
            self.dismiss(told.subject)
        elif what == "undo":
            try:
                change = self._board.store.undo(self._board.who, told.seq)
            except (Refused, StoreError) as error:
                self.tell(f"Not undone: {error}", "late")
                return
            self._board.shop_changed()
            self._begin(self.query_one(FieldInput).value)
            self.tell(f"Undone: {change.why}", "good")
