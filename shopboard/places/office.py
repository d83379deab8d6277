"""The Office: the owner's minute."""

from __future__ import annotations

from typing import ClassVar

from textual.binding import BindingType

from shopboard.shop import approval

from . import office_lines
from .actions import bindings_at
from .floor import JobListPlace
from .lines import BLANK, Line
from .memory_office import memory_blocks


class Office(JobListPlace):
    """Late and why, calls to make with what to say, stuck longest, what came back, the week."""

    place = "office"
    BINDINGS: ClassVar[list[BindingType]] = [*bindings_at("office")]

    def _lines(self, width: int) -> list[Line]:
        board = self.board
        names = {id: cause.name for id, cause in board.book.causes.items()}
        names |= {id: model.name for id, model in board.state.models.items()}
        blocks = memory_blocks(board.knowledge, board.unknown, names, board.state, width)
        return [*office_lines.office_lines(self.floor(), width), BLANK, *blocks]

    def action_memory(self) -> None:
        """What this shop remembers."""
        from .dialogs.memory import MemoryDialog

        self.board.push_screen(MemoryDialog(self.board))

    def action_called(self) -> None:
        """Note that the customer was called."""
        job = self.job_here()
        if job is None:
            self.tell("put the cursor on a job first", "wait")
            return
        job_id = job.id
        self.board.commit(lambda state, now: approval.called(state, now, self.board.who, job_id))

    def action_history(self) -> None:
        """The shop's whole history."""
        from .dialogs.history import HistoryDialog

        def chosen(job: int | None) -> None:
            if job is not None:
                self.board.open_job(job)

        self.board.push_screen(HistoryDialog(self.board), chosen)

    def action_branches(self) -> None:
        """All branches of the database this shop is kept in, at once."""
        from shopboard.store import Address

        from .branches_page import builder
        from .dialogs.page import LatePageDialog

        kept_at, now = self.board.kept_at, self.board.now()
        if not isinstance(kept_at, Address):
            self.tell("branches are seen where a database keeps several; this shop is in a folder", "wait")
            return
        page = LatePageDialog("All branches", "looking at every branch", lambda: builder(kept_at, now))
        self.board.push_screen(page)

    def action_pin(self) -> None:
        """Set, change or take away the PIN of who is here."""
        self.board.action_pin()
