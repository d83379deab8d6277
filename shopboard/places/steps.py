"""The next-step menu of a job, and the way any step is asked for and committed."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

from shopboard.records import Job, Stage
from shopboard.shop.moves import Move, moves

from .dialogs import ChooseDialog, FormDialog
from .fields import Field, Values
from .form_parts import Ready
from .lines import BLANK, Line, cell, line, wrapped
from .step_forms import STEP_FORMS
from .widgets.line_list import Builder

if TYPE_CHECKING:
    from .app import Board


#: What usually comes next at a stage, the likeliest first; so that s and Enter do it.
_USUAL: dict[Stage, tuple[str, ...]] = {
    Stage.ARRIVED: ("bays.put", "stages.diagnose", "evidence.answer"),
    Stage.DIAGNOSED: ("evidence.answer", "evidence.find", "kits.ask", "approval.ask", "bays.put"),
    Stage.APPROVAL: ("approval.give", "approval.called", "approval.decline"),
    Stage.PARTS: ("parts.receive", "stock.take", "parts.order", "parts.back_order"),
    Stage.READY: ("stages.start_repair", "bays.put"),
    Stage.REPAIR: (
        "stages.finish_repair", "parts.fit", "stages.work_done", "evidence.confirm", "stages.cover_on",
        "stages.cover_off", "stages.spend",
    ),
    Stage.ROAD_TEST: ("stages.road_test",),
    Stage.COLLECT: ("closing.collect", "bays.leave"),
    Stage.DECLINED: ("closing.machine_left", "stages.cover_on", "bays.leave"),
}  # fmt: skip


def ask_step(board: Board, job: Job | None) -> None:
    """Show what may happen next with this job, and do what is chosen."""
    if job is None:
        board.tell("put the cursor on a job first", "wait")
        return
    offered = [move for move in moves(board.state, job, board.now(), board.who) if move.name in STEP_FORMS]

    def chosen(name: str | None) -> None:
        if name is not None:
            do_step(board, job.id, name)

    board.push_screen(ChooseDialog(f"{job.tag}, {job.stage}: what next?", step_lines(offered, job.stage)), chosen)


def step_lines(offered: Sequence[Move], stage: Stage) -> Builder:
    """The steps that may be taken, the usual ones of the stage first, then those that may not yet, with the reason."""

    def build(width: int) -> list[Line]:
        usual = {name: rank for rank, name in enumerate(_USUAL.get(stage, ()))}
        may = [move for move in offered if not move.why_not]
        first = sorted((move for move in may if move.name in usual), key=lambda move: usual[move.name])
        others = [move for move in may if move.name not in usual]
        rows = [line(move.name, cell(move.title, width)) for move in first]
        rows += [BLANK, line(None, ("also", "strong"))] if first and others else []
        rows += [line(move.name, cell(move.title, width)) for move in others]
        later = [move for move in offered if move.why_not]
        if later:
            rows += [BLANK, line(None, ("not now", "strong"))]
        for move in later:
            line_one, *rest = wrapped(move.why_not, max(20, width - 26))
            rows.append(line(None, (cell(move.title, 25), "soft"), " ", (line_one.text, "soft")))
            rows += [line(None, " " * 26, (row.text, "soft")) for row in rest]
        return rows

    return build


def do_step(board: Board, job_id: int, name: str) -> None:
    """Ask what the step needs to know, then commit it."""
    job = board.state.jobs.get(job_id)
    if job is None:
        board.tell("this job is closed now", "late")
        return
    form = STEP_FORMS[name]
    fields = form.fields(board, job)
    title = f"{job.tag}: {next(m.title for m in moves(board.state, job, board.now()) if m.name == name)}"
    if not fields:
        board.commit(form.ready(board, job, {}))
    else:
        ask(board, title, fields, lambda values: form.ready(board, job, values), caution=form.caution)


def ask(
    board: Board,
    title: str,
    fields: Sequence[Field],
    ready: Callable[[Values], Ready],
    *,
    caution: str = "",
    above: Builder | None = None,
    after: Callable[[], None] | None = None,
) -> None:
    """Ask `fields` in a dialog that stays until the rule made from the answers is committed; `after` is called once it
    is gone, committed or left."""
    done: list[str] = []

    def attempt(values: Values) -> str:
        try:
            rule = ready(values)
        except ValueError as error:
            return str(error)
        change, refusal = board.attempt(rule)
        if change is None:
            return refusal
        done.append(change.why)
        return ""

    def told(_result: object) -> None:
        if done:
            board.tell(f"Saved: {done[0]}", "good")
        if after is not None:
            after()

    warn: Builder | None = (lambda width: wrapped(f"CAUTION  {caution}", width, "late")) if caution else above
    board.push_screen(FormDialog(title, fields, above=warn, attempt=attempt, keep=board.kept), told)
