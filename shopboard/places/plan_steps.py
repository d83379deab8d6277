"""What people do with the plan: take their next job or say why not, move a job, say who is away or what is down."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from shopboard.planning.closed_days import until_words
from shopboard.records import Closure, Job, Role
from shopboard.shop import choices, closures, take

from . import steps
from .dialogs import ChooseDialog
from .fields import Check, Field, Option, Values, needed, read_moment, text_of
from .form_parts import Ready, choose
from .job_words import machine_words, work_words
from .lines import cell, line, wrapped
from .widgets.line_list import Builder

if TYPE_CHECKING:
    from shopboard.planning.next_job import NextJob

    from .app import Board

#: Why an offered job is not taken, to choose from; anything else may be typed.
WHY_NOT = (
    "the machine is not at hand",
    "a part is missing after all",
    "somebody else knows it better",
    "no time for all of it",
)


# -- my next job ----------------------------------------------------------------------------------------------------


def next_of(board: Board) -> NextJob | None:
    """The next job of who signs here; None where there is no plan yet."""
    from shopboard.planning.next_job import next_job, skipped_by

    planned = board.planned
    if planned is None:
        return None
    state, now, who = board.state, board.now(), board.who
    return next_job(
        state, planned.plan, who, now, board.zone,
        lambda job, person, bay: take.can_start(state, now, job, person, bay),
        skipped_by(state, who, now, board.zone),
    )  # fmt: skip


def take_next(board: Board) -> None:
    """Offer the next job of who signs here, to take, to leave with a reason, or to look at."""
    person = board.state.settings.person(board.who)
    if person is None or Role.TECHNICIAN not in person.roles:
        board.tell("jobs are planned for technicians: press i and say who you are", "wait")
        return
    found = next_of(board)
    if found is None and board.plan_comes:
        board.tell("your next job opens as soon as the plan is there", "wait")
        board.when_planned(lambda: take_next(board))
        return
    if found is None:
        board.tell(f"no next job to tell: {board.unplanned}", "wait")
        return
    job = board.state.jobs.get(found.job or 0)
    if job is None:
        board.tell(found.why, "wait")
        return

    def chosen(choice: str | None) -> None:
        if choice == "take":
            _take(board, job.id, found)
        elif choice == "not":
            _not_this(board, job)
        elif choice == "open":
            board.open_job(job.id)

    board.push_screen(
        ChooseDialog(
            f"next for {person.name}: {job.tag}", _offer_lines(board, job, found), above=_why(board, job, found)
        ),
        chosen,
    )


def _why(board: Board, job: Job, found: NextJob) -> Builder:
    whose = machine_words(board.state, job)
    return lambda width: [*wrapped(f"{whose}: {work_words(job)}", width, "strong"), *wrapped(f"{found.why}.", width)]


def _offer_lines(board: Board, job: Job, found: NextJob) -> Builder:
    bay = board.state.settings.bay(found.bay)
    going_on = job.person == board.who and found.bay == job.bay and "already" in found.why
    where = f" into {bay.name}" if bay and job.bay != bay.id else ""
    rows = [("open", f"go on with {job.tag} on the Bench")] if going_on else [("take", f"take {job.tag}{where}")]
    rows += [("not", "not this one: say why, and see the next")]
    rows += [] if going_on else [("open", f"look at {job.tag} on the Bench")]
    return lambda width: [line(key, cell(words, width)) for key, words in rows]


def _take(board: Board, job_id: int, found: NextJob) -> None:
    who, bay = board.who, found.bay
    change = board.commit(lambda state, now: take.take(state, now, who, job_id, "", bay))
    if change is not None:
        board.open_job(job_id)
        board.tell(f"Saved: {change.why}", "good")


def _not_this(board: Board, job: Job) -> None:
    options = choose([Option(word, word) for word in WHY_NOT])
    ask = Field("why", "why not now", options=options, check=needed("say why in a word or two"))

    def ready(values: Values) -> Ready:
        why = text_of(values, "why")
        return lambda state, now: choices.not_this(state, now, board.who, job.id, why)

    steps.ask(board, f"{job.tag}: why not this one?", (ask,), ready, after=lambda: take_next(board))


# -- moving a job ---------------------------------------------------------------------------------------------------


def move(board: Board, job: Job | None) -> None:
    """Move a job in the plan, seeing first what that does."""
    from .dialogs.move import MoveDialog

    if job is None:
        board.tell("put the cursor on a job first", "wait")
        return
    if board.planned is None or not board.plans:
        board.tell(f"nothing to move yet: {board.unplanned}", "wait")
        return
    placed = board.planned.next_of(job.id)
    if placed is None:
        wrong = next((one.why for one in board.planned.plan.unplaceable if one.task.job == job.id), "")
        board.tell(f"{job.tag} has no place in the plan{f': {wrong}' if wrong else ''}", "wait")
        return

    def chosen(pin: object) -> None:
        from shopboard.records import Pin

        if isinstance(pin, Pin):
            board.commit(
                lambda state, now: choices.choose(
                    state, now, board.who, job.id, pin.person, pin.bay, pin.start, pin.why
                )
            )
        elif pin == "let go":
            board.commit(lambda state, now: choices.let_go(state, now, board.who, job.id))

    board.push_screen(MoveDialog(board, job, placed), chosen)


# -- away, down, closed -----------------------------------------------------------------------------------------------


def closure(board: Board) -> None:
    """Ask who is away, which bay is down or whether the shop is closed, and until when."""
    fields = closure_fields(board)
    steps.ask(board, "away, down or closed", fields, lambda values: closure_ready(board, values))


def closure_fields(board: Board) -> Sequence[Field]:
    """The questions."""
    settings, now = board.state.settings, board.now()
    options = [
        Option(f"person {p.id}", p.name, _now(board, board.state.away(p.id, now), "away"))
        for p in settings.people
        if Role.TECHNICIAN in p.roles
    ]
    options += [Option(f"bay {b.id}", b.name, _now(board, board.state.down(b.id, now), "down")) for b in settings.bays]
    options += [Option("shop ", "the whole shop", _now(board, _shop_closed(board), "closed"))]
    needs = needed("choose a person, a bay or the shop")
    return (
        Field("what", "who or which bay", "choice", options=choose(options), check=needs),
        Field(
            "until",
            "until",
            hint="today, fri, fri 14:00, +3; back: over",
            check=_read_until(board, end=True),
        ),
        Field("start", "from", hint="blank: now; or a day, or fri 14:00", check=_read_until(board)),
        Field("why", "why", hint="ill, a course, lift broken; blank is fine"),
    )


def _shop_closed(board: Board) -> Closure | None:
    now = board.now()
    return next((c for c in board.state.closures.values() if c.whole_shop and c.start <= now < c.until), None)


def _now(board: Board, kept: Closure | None, word: str) -> str:
    return f"{word} {until_words(kept.until, board.zone)}" if kept else ""


def _is_over(typed: str) -> bool:
    return typed.strip().lower() in ("back", "over", "now")


def _read_until(board: Board, *, end: bool = False) -> Check:
    def check(typed: str, _values: Values) -> str:
        if (not end and not typed.strip()) or (end and _is_over(typed)):
            return ""
        try:
            read_moment(typed, "the day", board.local_now().date(), board.zone, end=end)
        except ValueError as error:
            return str(error)
        return ""

    return check


def closure_ready(board: Board, values: Values) -> Ready:
    """The rule that the answers make."""
    kind, _, id = text_of(values, "what").partition(" ")
    until, begins, why, who = text_of(values, "until"), text_of(values, "start"), text_of(values, "why"), board.who
    if _is_over(until):
        named = {kind: id} if id else {}
        return lambda state, now: closures.end(state, now, who, **named)
    today = board.local_now().date()
    end = read_moment(until, "the day", today, board.zone, end=True)
    begin = read_moment(begins, "the day", today, board.zone) if begins.lower() not in ("", "today", "now") else None
    if not id:
        return lambda state, now: closures.closed(state, now, who, end, begin, why)
    rule = closures.away if kind == "person" else closures.down
    return lambda state, now: rule(state, now, who, id, end, begin, why)
