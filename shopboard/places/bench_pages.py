"""Pages that the Bench opens on its job: the triage tree, and what book and shop say of a cause."""

from __future__ import annotations

from typing import TYPE_CHECKING

from shopboard.records import Job

from .book_says import Says, brief, says, says_lines
from .dialogs import LatePageDialog, PageDialog
from .lines import Line

if TYPE_CHECKING:
    from shopboard.trouble import Learned

    from .app import Board


def open_tree(board: Board, job: Job) -> None:
    """The triage tree for the complaint, the path so far lit; its reckoning holds up no key."""
    from .tree_lines import tree_page

    if not job.symptoms:
        board.tell("tick what the machine does first (y): the tree starts from a symptom", "wait")
        return
    machine, book, symptom = board.state.machines[job.machine], board.book_for(job), job.symptoms[0]
    model, instruments = board.state.models.get(machine.model), board.state.settings.instruments or None
    answers = {a.check: a.outcome for a in job.answers}
    known = book.symptoms.get(symptom)
    board.push_screen(
        LatePageDialog(
            f"{known.name if known else symptom}: the path so far is marked",
            "reckoning the tree",
            lambda: tree_page(
                book,
                machine.layout.value,
                symptom,
                answers,
                lacks=model.lacks if model else (),
                instruments=instruments,
            ),
        )
    )


def _learned(board: Board, job: Job) -> Learned | None:
    return board.shelf.learned_for(board.state, board.knowledge, board.state.machines[job.machine])


def brief_of(board: Board, job: Job, cause: str | None) -> str:
    """How common the cause is by book and shop, in a line; "" for none and while no job teaches."""
    return brief(_learned(board, job), cause or "")


def behind(board: Board, job: Job) -> str:
    """What the ranking of a job is reckoned from besides the book: "" for nothing."""
    learned = _learned(board, job)
    own = learned.jobs[1] if learned else 0
    return f"book + {own} job{'' if own == 1 else 's'}" if own else ""


def said_of(board: Board, job: Job, cause: str) -> Says | None:
    """What book and shop say of a cause on the job's machine; None for what is no cause of its layout."""
    machine = board.state.machines[job.machine]
    entry, layout = board.book.causes.get(cause), machine.layout.value
    if entry is None or layout not in entry.layouts:
        return None
    return says(board.book, _learned(board, job), layout, cause)


def open_says(board: Board, job: Job, cause: str | None) -> None:
    """What the book says of the cause and what this shop's own jobs say."""
    told = said_of(board, job, cause or "")
    if told is None:
        board.tell("put the cursor on a cause of the book first (Tab): x says what book and shop say of it", "wait")
        return
    machine, days = board.state.machines[job.machine], board.state.settings.comeback_days
    factor = board.shelf.factors(board.state, board.knowledge, machine).get(told.cause, 1.0)
    meter = machine.age()
    age = ""
    if meter is not None and abs(factor - 1) >= 0.05:
        age = f"At {meter:,.0f} h this shop saw it {factor:.1f} times as often as at all ages: the ranking counts that."
    unknown = board.unknown or "not reckoned yet"

    def page(width: int) -> list[Line]:
        return says_lines(told, days, age, unknown, width)

    board.push_screen(PageDialog(f"{job.tag}: book says, this shop says", page))
