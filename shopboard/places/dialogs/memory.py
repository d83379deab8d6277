"""The memory in the Office: a list of what the closed jobs teach, and the page behind each line."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any, ClassVar

from textual import on
from textual.app import ComposeResult
from textual.binding import Binding, BindingType

from shopboard.places import memory_cells as cells
from shopboard.places.lines import Line, wrapped
from shopboard.places.widgets.line_list import LineList

from .base import Dialog
from .page import PageDialog, Reader

if TYPE_CHECKING:
    from shopboard.places.app import Board
    from shopboard.places.knowledge import Knowledge


def _names(board: Board) -> dict[str, str]:
    names = {id: cause.name for id, cause in board.book.causes.items()}
    return names | {id: model.name for id, model in board.state.models.items()}


class MemoryDialog(Dialog[None]):
    """Everything the memory has a page for; Enter opens the page over it, and Esc there leads back to the line."""

    BINDINGS: ClassVar[list[BindingType]] = [Binding("backspace", "leave", "back", show=False)]
    gives_way = True

    def __init__(self, board: Board) -> None:
        super().__init__("what this shop remembers", "Enter opens, Esc goes back")
        self._board = board
        self._list = LineList(self._lines, id="choices")

    def compose_body(self) -> ComposeResult:
        """The list."""
        yield self._list

    def on_mount(self) -> None:
        self._list.focus()

    def _lines(self, width: int) -> list[Line]:
        board = self._board
        if board.knowledge is None:
            return wrapped(f"closed jobs: {board.unknown}", width, "soft")
        return cells.list_lines(board.knowledge, _names(board), board.state, width)

    def learned(self) -> None:
        """Closed jobs were gone through anew: the list again, the cursor where it was."""
        self._list.show(self._lines)

    @on(LineList.Chosen)
    def _chosen(self, event: LineList.Chosen) -> None:
        event.stop()
        cell = cells.of_key(event.key)
        self.app.push_screen(CellDialog(self._board, *cell) if cell else _whole_page(self._board, event.key))


class CellDialog(PageDialog):
    """The page of one component on one model ("": on all), shown as soon as it is worked out."""

    def __init__(self, board: Board, component: str, model: str) -> None:
        names = _names(board)
        on_model = f" on {names.get(model, model)}" if model else ", all models"
        super().__init__(names.get(component, component.replace("-", " ")) + on_model, self._lines)
        self._board, self._cell = board, (component, model)

    def on_mount(self) -> None:
        super().on_mount()
        self._board.ask_cell(*self._cell)

    def _lines(self, width: int) -> list[Line]:
        page = self._board.cell_pages.get(self._cell)
        return cells.cell_lines(page, width) if page else wrapped("being reckoned …", width, "soft")

    def learned(self) -> None:
        """Something new is known: ask for a newer page, and show what there is."""
        self._board.ask_cell(*self._cell)
        for page in self.query("#page").results(Reader):
            page.show(self._lines)


class WholePageDialog(PageDialog):
    """A page of the whole shop, drawn anew when closed jobs were gone through."""

    def __init__(self, board: Board, title: str, build: Callable[[Knowledge, int], list[Line]]) -> None:
        super().__init__(title, self._lines)
        self._board, self._of = board, build

    def _lines(self, width: int) -> list[Line]:
        known = self._board.knowledge
        return self._of(known, width) if known else wrapped(self._board.unknown, width, "soft")

    def learned(self) -> None:
        """Something new is known: the page again."""
        for page in self.query("#page").results(Reader):
            page.show(self._lines)


def _whole_page(board: Board, key: str) -> WholePageDialog:
    if key == cells.HELD:
        return WholePageDialog(board, "how our words held", cells.held_page)
    if key == cells.LEADS:
        return WholePageDialog(board, "lead times", cells.leads_page)

    def service(known: Any, width: int) -> list[Line]:
        return cells.service_page(known, _names(board), board.state, width)

    return WholePageDialog(board, "service due", service)
