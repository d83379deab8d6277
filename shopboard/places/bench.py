"""The Bench: one job, what was said and measured, likely causes, next checks."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, ClassVar

from textual import on
from textual.app import ComposeResult
from textual.binding import BindingType
from textual.containers import Horizontal, Vertical

from shopboard.records import Job, Operation
from shopboard.shop import evidence, stages
from shopboard.trouble import Book, Check

from . import bench_lines, bench_pages, step_forms, steps
from .actions import bindings_at
from .dialogs import ChooseDialog, PageDialog
from .fields import Field, Option, Values, many_of, needed, read_number, reads, text_of
from .form_parts import Ready, choose
from .history_lines import story_page
from .lines import Line, cell, line, wrapped
from .place import Place
from .widgets.line_list import LineList, LineView

if TYPE_CHECKING:  # they bring numpy, which nothing loads before the first paint
    from shopboard.trouble import Advice, NextCheck, Ranking

    from .knowledge import Knowledge
    from .measure import RunSet

NO_OUTCOME = ("unsure", "not tested")


class Bench(Place):
    """One job."""

    place = "bench"
    BINDINGS: ClassVar[list[BindingType]] = [*bindings_at("bench")]

    def __init__(self) -> None:
        super().__init__()
        self._ranking: Ranking | None = None
        self._advice: Advice | None = None
        self._checks: Sequence[NextCheck] = ()
        self._shown: tuple[int | None, int] = (None, -1)
        self._knowledge: Knowledge | None = None
        self.run_sets: dict[int, RunSet] = {}

    def compose_body(self) -> ComposeResult:
        """Head, three columns, the detail under them."""
        yield LineView(self._head, id="bench-head", classes="fit")
        with Horizontal(id="bench-columns"):
            with Vertical(id="said-column"):
                yield LineView(self._said_heading, id="said-heading", classes="fit")
                yield LineView(self._said, id="bench-said", classes="tail")
            yield LineList(self._causes, id="causes")
            yield LineList(self._next, id="checks")
        yield LineView(self._detail, id="bench-detail")

    def on_mount(self) -> None:
        super().on_mount()
        self.the_list("checks").focus()

    def job_here(self) -> Job | None:
        """The job on the Bench."""
        return self.board.state.jobs.get(self.board.job_id) if self.board.job_id is not None else None

    def has_matter(self) -> bool:
        """Whether a job is on the Bench."""
        return self.job_here() is not None

    def heading_facts(self) -> str:
        """The job's tag and stage."""
        job = self.job_here()
        return f"{job.tag}  {job.stage}" if job else ""

    def redraw(self) -> None:
        """Rank again when the job or the book's evidence changed; draw everything."""
        job = self.job_here()
        if job is not None and self._shown[0] != job.id:
            self.the_list("causes").to_top()
            self.the_list("checks").to_top()
        knowledge = self.board.knowledge
        shown = (job.id if job else None, self.board.state.seq)
        if job is not None and (self._shown != shown or self._knowledge is not knowledge):
            book = self.board.book_for(job)
            self._ranking = evidence.ranking(self.board.state, job, book)
            self._advice = evidence.advice(self.board.state, job, book, self._stands(job))
            self._checks = self._advice.checks
        self._shown, self._knowledge = shown, knowledge
        self.query_one("#bench-head", LineView).show(self._head)
        self.query_one("#said-heading", LineView).show(self._said_heading)
        self.query_one("#bench-said", LineView).show(self._said)
        self.the_list("causes").show(self._causes)
        self.the_list("checks").show(self._next)
        self.query_one("#bench-detail", LineView).show(self._detail)

    @staticmethod
    def _stands(job: Job) -> str | None:
        return "bay" if job.bay else None

    # -- columns --------------------------------------------------------------------------------------------------

    def _head(self, width: int) -> list[Line]:
        job, board = self.job_here(), self.board
        if job is None:
            return bench_lines.no_job_lines(width)
        return bench_lines.head_lines(board.state, job, board.now(), board.zone, width)

    def _said_heading(self, width: int) -> list[Line]:
        return bench_lines.said_heading(width) if self.job_here() is not None else []

    def _said(self, width: int) -> list[Line]:
        job, board = self.job_here(), self.board
        if job is None:
            return []
        rows = bench_lines.said_lines(board.state, board.book, job, width)
        rows += bench_lines.covers_note(board.book, job, width)
        return rows + bench_lines.parts_note(board.state, job, board.now(), board.zone, width)

    def _causes(self, width: int) -> list[Line]:
        job = self.job_here()
        if job is None or self._ranking is None:
            return []
        return bench_lines.cause_lines(self._ranking, width, bench_pages.behind(self.board, job))

    def _next(self, width: int) -> list[Line]:
        job = self.job_here()
        if job is None:
            return []
        to_do = bench_lines.to_do_lines(job, width)
        return [
            *to_do,
            *bench_lines.advice_lines(self._advice, width),
            *bench_lines.check_lines(self.board.book, self._checks, width),
        ]

    def _detail(self, width: int) -> list[Line]:
        job = self.job_here()
        if job is None or self._ranking is None:
            return []
        rows: list[Line] = []
        for text in self._ranking.contradictions:
            rows += wrapped(text, width, "wait")
        if self.focused is self.the_list("causes"):
            cause = self.the_list("causes").key
            brief = bench_pages.brief_of(self.board, job, cause)
            return rows + bench_lines.cause_detail(self.board.book, self._ranking, cause, width, brief)
        operation = self._operation_here()
        if operation is not None:
            return rows + bench_lines.operation_detail(self.board.book, operation, width)
        return rows + bench_lines.check_detail(self.board.book, self._check_here(), width)

    def _operation_here(self) -> Operation | None:
        job, key = self.job_here(), self.the_list("checks").key or ""
        wanted = key.removeprefix(bench_lines.OPERATION)
        return next((op for op in job.operations if op.id == wanted and key != wanted), None) if job else None

    def _check_here(self) -> NextCheck | None:
        key = self.the_list("checks").key
        return next((check for check in self._checks if check.check == key), None)

    @on(LineList.Moved)
    def _moved(self, event: LineList.Moved) -> None:
        event.stop()
        self.query_one("#bench-detail", LineView).show(self._detail)

    def action_side(self) -> None:
        """The other column."""
        causes, checks = self.the_list("causes"), self.the_list("checks")
        (checks if self.focused is causes else causes).focus()
        self.call_later(self.query_one("#bench-detail", LineView).show, self._detail)

    # -- answers --------------------------------------------------------------------------------------------------

    @on(LineList.Chosen)
    def _chosen(self, event: LineList.Chosen) -> None:
        event.stop()
        self.action_take()

    def action_take(self) -> None:
        """Answer the check, or record the cause, under the cursor."""
        if self.focused is self.the_list("causes"):
            key = self.the_list("causes").key
            self._find(key if key is not None and key in self.board.book.causes else "other")
        elif (operation := self._operation_here()) is not None:
            self._ask_done(operation)
        elif (check := self._check_here()) is not None:
            self._ask_outcome(check.check)

    def _ask_done(self, operation: Operation) -> None:
        board, job_id = self.board, self.board.job_id
        if operation.done or job_id is None:
            self.tell("this is done", "soft")
            return

        def chosen(answer: str | None) -> None:
            if answer == "done":
                board.commit(lambda s, now: stages.work_done(s, now, board.who, job_id, operation.id))

        choices = (("not yet", "not yet: back to the Bench"), ("done", "it is done"))
        board.push_screen(
            ChooseDialog(
                operation.name,
                lambda width: [line(key, cell(words, width)) for key, words in choices],
                above=lambda width: bench_lines.operation_detail(board.book, operation, width, whole=True),
            ),
            chosen,
        )

    def _ask_outcome(self, check_id: str) -> None:
        job, board = self.job_here(), self.board
        check = board.book.checks.get(check_id)
        if job is None or check is None:
            return
        job_id, book = job.id, board.book_for(job)

        def chosen(outcome: str | None) -> None:
            if outcome == "withdraw":
                board.commit(lambda s, now: evidence.withdraw(s, now, board.who, job_id, check_id, book=book))
            elif outcome is not None:
                board.commit(lambda s, now: evidence.answer(s, now, board.who, job_id, check_id, outcome, book=book))

        answered = next((a.outcome for a in job.answers if a.check == check_id), "")
        above = _check_page([board.book.cautions[c].text for c in check.cautions if c in board.book.cautions], check)
        board.push_screen(
            ChooseDialog(check.name, _outcome_lines(check, answered), above=above, start=answered), chosen
        )

    def action_answer_any(self) -> None:
        """Choose any check of the book for this layout."""
        job, board = self.job_here(), self.board
        if job is None:
            return
        machine = board.state.machines[job.machine]
        checks = [c for c in board.book.checks.values() if machine.layout.value in c.layouts]
        answered = {a.check: a.outcome for a in job.answers}

        def chosen(check_id: str | None) -> None:
            if check_id is not None:
                self._ask_outcome(check_id)

        board.push_screen(ChooseDialog("answer which check?", _check_list(checks, answered)), chosen)

    # -- everything else one records ------------------------------------------------------------------------------

    def _step(self, name: str) -> None:
        job = self.job_here()
        if job is not None:
            steps.do_step(self.board, job.id, name)

    def _find(self, cause: str) -> None:
        job, board = self.job_here(), self.board
        if job is None:
            return
        fields = step_forms.finding_fields(board, job, cause)
        steps.ask(board, f"{job.tag}: cause and correction", fields, lambda v: step_forms.found(board, job, v))

    def action_finding(self) -> None:
        """Record cause and correction."""
        self._find("")

    def action_estimate(self) -> None:
        """What the job comes to, and what is worth doing while it is open."""
        from .estimate import show_estimate

        show_estimate(self.board, self.job_here())

    def action_part(self) -> None:
        """Request a part."""
        self._step("parts.need")

    def action_remark(self) -> None:
        """Write a remark."""
        self._step("evidence.remark")

    def action_minutes(self) -> None:
        """Book time."""
        self._step("stages.spend")

    def action_step(self) -> None:
        """What may happen next."""
        steps.ask_step(self.board, self.job_here())

    def action_cover(self) -> None:
        """Covers off, or on again."""
        job = self.job_here()
        if job is None:
            return
        if not job.covers_off:
            self._step("stages.cover_off")
            return
        choices = (("stages.cover_off", "a cover came off"), ("stages.cover_on", "a cover is back on"))
        self.board.push_screen(
            ChooseDialog("covers", lambda width: [line(key, cell(words, width)) for key, words in choices]),
            lambda name: self._step(name) if name else None,
        )

    def action_symptoms(self) -> None:
        """Tick or untick symptoms."""
        job, board = self.job_here(), self.board
        if job is None:
            return
        layout = board.state.machines[job.machine].layout.value
        known = [Option(s.id, s.name) for s in board.book.symptoms.values() if layout in s.layouts]

        def options(values: Values, typed: str) -> Sequence[Option]:
            first = many_of(values, "symptoms")
            return sorted(
                (o for o in known if typed.strip().lower() in o.label.lower()), key=lambda o: o.key not in first
            )

        field = Field("symptoms", "symptoms", "many", options=options, start=job.symptoms, hint="down, Enter ticks")

        def ready(values: Values) -> Ready:
            book = board.book_for(job)
            return lambda s, now: evidence.tick(s, now, board.who, job.id, many_of(values, "symptoms"), book=book)

        steps.ask(board, f"{job.tag}: what does it do?", (field,), ready)

    def action_reading(self) -> None:
        """Measure something, or record a number read off a gauge."""
        from .measure import Panel

        if (job := self.job_here()) is not None:
            Panel(self.board, job.id, self.run_sets).open(self._plain_reading)

    def _plain_reading(self) -> None:
        job, board = self.job_here(), self.board
        if job is None:
            return
        number = reads(lambda t: read_number(t, "value"), blank=False)
        fields = (
            Field("quantity", "what", options=choose(_quantities(board.book)), check=needed("what was measured?")),
            Field("value", "value", hint="a number such as 14.5", check=number),
            Field("unit", "unit", hint="bar, L/min, degC, mm …", check=needed("a number needs its unit")),
            Field("error", "± gauge error", hint="in the same unit; blank: 0",
                  check=reads(lambda t: read_number(t, "gauge error"))),
        )  # fmt: skip

        def ready(v: Values) -> Ready:
            error = read_number(text_of(v, "error"), "gauge error") if text_of(v, "error") else 0.0
            value = read_number(text_of(v, "value"), "value")
            quantity, unit = text_of(v, "quantity"), text_of(v, "unit")
            book = board.book_for(job)
            return lambda s, now: evidence.read(s, now, board.who, job.id, quantity, value, unit, error, book=book)

        steps.ask(board, f"{job.tag}: a reading", fields, ready)

    # -- pages ----------------------------------------------------------------------------------------------------

    def action_tree(self) -> None:
        """The triage tree for the complaint, the path so far lit."""
        if (job := self.job_here()) is not None:
            bench_pages.open_tree(self.board, job)

    def action_says(self) -> None:
        """What the book and this shop's jobs say of the cause under the cursor."""
        if (job := self.job_here()) is not None:
            bench_pages.open_says(self.board, job, self.the_list("causes").key)

    def action_story(self) -> None:
        """Every change of this job."""
        job = self.job_here()
        if job is not None:
            page = story_page(self.board.store.changes(subject=job.id), self.board.zone)
            self.board.push_screen(PageDialog(f"{job.tag}, its history", page))


def _quantities(book: Book) -> list[Option]:
    names = dict.fromkeys(r.quantity for c in book.checks.values() for r in c.readings)
    return [Option(name, name.replace("_", " ")) for name in names]


def _outcome_lines(check: Check, answered: str) -> Callable[[int], list[Line]]:
    rows = [(outcome.id, outcome.name) for outcome in check.outcomes.values()]
    rows += [(word, word) for word in NO_OUTCOME]
    if answered:
        rows.append(("withdraw", f"take the answer back (now: {answered})"))
    return lambda width: [line(key, cell(name, width)) for key, name in rows]


def _check_page(cautions: Sequence[str], check: Check) -> Callable[[int], list[Line]]:
    return lambda width: [*bench_lines.caution_lines(cautions, width), *wrapped(check.how, width)]


def _check_list(checks: Sequence[Check], answered: dict[str, str]) -> Callable[[int], list[Line]]:
    def build(width: int) -> list[Line]:
        return [
            line(c.id, cell(c.name, max(10, width - 26)), (cell(answered.get(c.id, c.where), 25, ">"), "soft"))
            for c in checks
        ]

    return build
