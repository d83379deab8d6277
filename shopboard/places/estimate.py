"""The estimate of the job on the Bench, and what one does from it: ask for it, add work to it, say who pays."""

from __future__ import annotations

from typing import TYPE_CHECKING

from shopboard.records import Job, Payer, visible
from shopboard.shop import terms, while_open
from shopboard.store import StoreError

from . import estimate_lines, steps
from .dialogs import ChooseDialog
from .dialogs.acting import Act, ActingDialog
from .fields import Values, text_of
from .form_parts import Ready, money, sum_of
from .lines import Line, cell, line, wrapped

if TYPE_CHECKING:
    from .app import Board


class EstimatePanel:
    """The panel over one job; reckoned again whenever the shop changed."""

    def __init__(self, board: Board, job_id: int) -> None:
        self.board, self.job_id = board, job_id
        self._page: tuple[int, estimate_lines.Page] | None = None
        self._unread = ""

    def open(self) -> None:
        """Show it."""
        acts = (
            Act("enter", "adds", self._take),
            Act("a", "asks", lambda _: self._ask()),
            Act("p", "payer", lambda _: self._pays()),
            Act("y", "copies", lambda _: self._copy()),
            Act("b", "", lambda _: self._bundle()),
            Act("v", "", lambda _: self._worth()),
        )
        job = self.board.state.jobs[self.job_id]
        self.board.push_screen(ActingDialog(f"{job.tag}: estimate", self._lines, acts))

    def page(self) -> estimate_lines.Page | None:
        """The page as the shop is now; None once the job is gone, or while an earlier visit cannot be read."""
        state, self._unread = self.board.state, ""
        job = state.jobs.get(self.job_id)
        if job is None or job.stage.closed:
            return None
        if self._page is None or self._page[0] != state.seq:
            try:
                page = estimate_lines.look(state, self.board.book_for(job), job, self.board.now())
            except StoreError as error:
                self._unread = str(error)
                return None
            self._page = state.seq, page
        return self._page[1]

    def _lines(self, width: int) -> list[Line]:
        page = self.page()
        if page is None and self._unread:
            return wrapped(self._unread, width, "late")
        if page is None:
            return [line(None, ("this job is closed now", "soft"))]
        return estimate_lines.page_lines(page, width)

    # -- what keys do -------------------------------------------------------------------------------------------------

    def _take(self, key: str | None) -> None:
        if key == estimate_lines.ASK:
            self._ask()
        elif key is not None:
            self._add((key.removeprefix(estimate_lines.ADD),))

    def _ask(self) -> None:
        steps.do_step(self.board, self.job_id, "approval.ask")

    def _add(self, ids: tuple[str, ...]) -> None:
        board, job_id = self.board, self.job_id
        board.commit(lambda s, now: while_open.add(s, now, board.who, job_id, ids, book=board.book))

    def _bundle(self) -> None:
        page = self.page()
        bundle = page.open.found.bundle if page else ()
        if bundle:
            self._add(tuple(offer.extra.work.id for offer in bundle))
        else:
            self.board.tell("nothing here is worth adding as a set", "wait")

    def _pays(self) -> None:
        board, job_id = self.board, self.job_id

        def chosen(payer: str | None) -> None:
            if payer is not None:
                board.commit(lambda s, now: terms.pays(s, now, board.who, job_id, Payer(payer)))

        def build(width: int) -> list[Line]:
            return [line(payer.value, cell(estimate_lines.payer_words(payer), width)) for payer in Payer]

        job = board.state.jobs[job_id]
        board.push_screen(ChooseDialog(f"{job.tag}: who pays?", build, start=job.payer.value), chosen)

    def _copy(self) -> None:
        page = self.page()
        if page is not None:
            self.board.copy_to_clipboard(visible(page.words))
            self.board.tell("the words are handed to the terminal to copy; where it cannot, mark them here", "good")

    def _worth(self) -> None:
        board, job_id = self.board, self.job_id
        job = board.state.jobs[job_id]
        fields = (
            money(board, "mended", "worth once mended"),
            money(board, "standing", "worth as it stands", blank=True),
        )

        def ready(v: Values) -> Ready:
            mended = sum_of(board, v, "mended", "worth once mended")
            standing = sum_of(board, v, "standing", "worth as it stands") if text_of(v, "standing") else None
            return lambda s, now: terms.worth(s, now, board.who, job_id, mended, standing)

        steps.ask(board, f"{job.tag}: what is the machine worth?", fields, ready)


def show_estimate(board: Board, job: Job | None) -> None:
    """Show what a job comes to; a closed one says where it is told."""
    if job is None:
        return
    if job.stage.closed:
        board.tell(f"{job.tag} is {job.stage}: `shopboard paper estimate {job.tag}` says what it came to", "wait")
        return
    EstimatePanel(board, job.id).open()


def proposed_sum(board: Board, job: Job) -> str:
    """The sum the estimate proposes to ask for, "" where none can be said."""
    page = EstimatePanel(board, job.id).page()
    amount = estimate_lines.proposed(page.found) if page else None
    return "" if not amount else str(amount)
