"""Parts: what is late, what arrives, what must be ordered."""

from __future__ import annotations

from typing import ClassVar

from textual import on
from textual.app import ComposeResult
from textual.binding import BindingType

from shopboard.records import Job, PartLine, PartState
from shopboard.shop import parts as rules
from shopboard.shop import stock

from . import part_forms, parts_lines, steps
from .actions import bindings_at
from .bins import show_bins, show_returns
from .dialogs import PageDialog
from .history_lines import story_page
from .lines import Line
from .place import Place
from .receiving import ask_received
from .widgets.line_list import LineList, LineView


class Parts(Place):
    """Part lines, late and arriving first."""

    place = "parts"
    BINDINGS: ClassVar[list[BindingType]] = [*bindings_at("parts")]

    def compose_body(self) -> ComposeResult:
        """The list, and the line under the cursor in full."""
        yield LineList(self._lines, id="lines")
        yield LineView(self._detail, id="part-detail")

    def on_mount(self) -> None:
        super().on_mount()
        self.the_list("lines").focus()

    def heading_facts(self) -> str:
        """Late, on order, to order."""
        return parts_lines.facts(self.board.state, self.board.local_now().date())

    def redraw(self) -> None:
        """Draw the list anew; the cursor stays on its line."""
        self.the_list("lines").show(self._lines)
        self.query_one("#part-detail", LineView).show(self._detail)

    def _lines(self, width: int) -> list[Line]:
        board = self.board
        return parts_lines.parts_lines(board.state, board.now(), board.zone, width)

    def _detail(self, width: int) -> list[Line]:
        board = self.board
        return parts_lines.part_detail(board.state, self.part_here(), board.now(), board.zone, width)

    @on(LineList.Moved)
    def _moved(self, event: LineList.Moved) -> None:
        event.stop()
        self.query_one("#part-detail", LineView).show(self._detail)

    def part_here(self) -> PartLine | None:
        """The part line under the cursor."""
        key = self.the_list("lines").key
        return self.board.state.parts.get(int(key)) if key else None

    def job_here(self) -> Job | None:
        """The job that the line under the cursor is for."""
        part = self.part_here()
        return self.board.state.jobs.get(part.job) if part and part.job is not None else None

    @on(LineList.Chosen)
    def _chosen(self, event: LineList.Chosen) -> None:
        event.stop()
        self.action_part_next()

    def action_part_next(self) -> None:
        """Take a line from its bin or order it, receive one on order, fit one that is here or put it away."""
        part = self.part_here()
        if part is None:
            return
        if part.state is PartState.NEEDED and (part.reserved or stock.takable(self.board.state, part)):
            self.board.commit(lambda s, now: stock.take(s, now, self.board.who, part.id))
        elif part.state is PartState.NEEDED:
            self._order((part.id,), part.supplier, part.name)
        elif part.state is PartState.RECEIVED and part.job is None:
            self.board.commit(lambda s, now: stock.put_away(s, now, self.board.who, part.id))
        elif part.state in part_forms.OWED:
            self.action_receive()
        elif part.state is PartState.RECEIVED:
            self.board.commit(lambda s, now: rules.fit(s, now, self.board.who, part.id))

    def action_receive(self) -> None:
        """Ask how many came; Enter alone takes all that was missing."""
        part = self.part_here()
        if part is None or part.state not in part_forms.OWED:
            self.tell("only a line on order can be received", "wait")
            return
        ask_received(self.board, part)

    def action_bins(self) -> None:
        """What lies in the bins."""
        show_bins(self.board)

    def action_returns(self) -> None:
        """Cores and parts that go back to suppliers."""
        show_returns(self.board)

    def action_order_all(self) -> None:
        """Order every needed line of the supplier under the cursor."""
        part = self.part_here()
        if part is None or part.state is not PartState.NEEDED:
            self.tell("put the cursor on a line that is to be ordered", "wait")
            return
        mine = [
            p
            for p in self.board.state.parts.values()
            if p.state is PartState.NEEDED and p.supplier == part.supplier and not p.reserved
        ]
        self._order(tuple(p.id for p in mine), part.supplier, f"{len(mine)} lines")

    def _order(self, ids: tuple[int, ...], supplier: str, what: str) -> None:
        fields = part_forms.order_fields(self.board, supplier)
        steps.ask(self.board, f"order {what}", fields, lambda values: part_forms.order(self.board, ids, values))

    def action_back_order(self) -> None:
        """The supplier put the line off; ask for the new date."""
        part = self.part_here()
        if part is None or part.state not in part_forms.OWED:
            self.tell("only a line on order can be back-ordered", "wait")
            return
        fields = part_forms.put_off_fields(self.board, part)
        title = f"{part.name} is back-ordered"
        steps.ask(self.board, title, fields, lambda values: part_forms.put_off(self.board, part.id, values))

    def action_part_job(self) -> None:
        """What may happen next with the job this part is for."""
        steps.ask_step(self.board, self.job_here())

    def action_story(self) -> None:
        """The history of the job this part is for."""
        job = self.job_here()
        if job is not None:
            page = story_page(self.board.store.changes(subject=job.id), self.board.zone)
            self.board.push_screen(PageDialog(f"{job.tag}, its history", page))
