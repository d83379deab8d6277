"""The Counter: a machine comes in with a complaint and leaves the talk with a tag."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, ClassVar

from textual import on
from textual.app import ComposeResult
from textual.binding import BindingType
from textual.containers import Horizontal, Vertical
from textual.timer import Timer

from shopboard.memory import IntakeWarning
from shopboard.records import Machine, Refused, tag
from shopboard.shop.intake import take_in
from shopboard.trouble import Book

from .actions import bindings_at
from .counter_form import CounterForm
from .dialogs import ChooseDialog
from .fields import Values
from .lines import Line, cell, line, wrapped
from .place import Place
from .widgets.form import Form
from .widgets.line_list import LineView

if TYPE_CHECKING:
    from .planned import Offered


class Counter(Place):
    """The intake form; what is half typed is kept and offered again."""

    place = "counter"
    BINDINGS: ClassVar[list[BindingType]] = [*bindings_at("counter")]

    def __init__(self) -> None:
        super().__init__()
        self._values: Values = {}
        self._flush: Timer | None = None
        self._dates: Timer | None = None
        self._date_key = ""

    def compose_body(self) -> ComposeResult:
        """The form, and on wide terminals what its answers say so far."""
        self._form = self._fresh()
        self._questions = Form(self._form.fields())  # known by name: between two forms the screen holds none
        with Horizontal():
            with Vertical(id="intake"):
                yield self._questions
            yield LineView(self._said, id="said")

    def _fresh(self) -> CounterForm:
        board = self.board
        form = CounterForm(board.state, board.book, board.now(), board.zone)
        form.book_for = self._book_for
        form.warnings_for = self._warnings_for
        return form

    def _book_for(self, machine: Machine | None, layout: str, model: str) -> Book:
        shelf, state, knowledge = self.board.shelf, self.board.state, self.board.knowledge
        if machine is not None:
            return shelf.for_machine(state, knowledge, machine)
        return shelf.for_model(state, knowledge, layout, model)

    def _warnings_for(self, model: str, hours: float | None) -> Sequence[IntakeWarning]:
        knowledge = self.board.knowledge
        return knowledge.warnings_for(model, hours) if knowledge else ()

    def heading_facts(self) -> str:
        """Which tag comes next."""
        from shopboard.records import Table

        return f"next tag {tag(self.board.state.next_id(Table.JOBS))}"

    def redraw(self) -> None:
        """Nothing in the form moves when the shop changes: what is typed stays typed."""
        self._form.now = self.board.now()
        self.query_one("#said", LineView).show(self._said)
        if self._questions.is_mounted:
            self._questions.row("machine").redraw()  # what the closed jobs teach may have come meanwhile

    def on_screen_resume(self) -> None:
        super().on_screen_resume()
        form = self._questions
        draft = self.board.drafts.of(self.board.who)
        if draft and not self._begun():
            form.fill(draft)
            self._values = draft
            self.tell("a half-typed intake is here again: go on, or Ctrl+N empties the form", "wait")
        if form.is_mounted and (self.focused is None or not self._values):
            form.focus_open()

    def keep_draft(self) -> None:
        """Remember what stands in the form now, letters included that no message told of yet."""
        self._values = self._questions.values
        if self._begun():
            self.board.drafts.keep(self.board.who, self._values)
        else:
            self.board.drafts.drop(self.board.who)

    def _begun(self) -> bool:
        """Whether anything stands in the form that did not stand there from the start."""
        return any(self._values[f.id] != f.start for f in self._questions.fields if self._values.get(f.id))

    def _said(self, width: int) -> list[Line]:
        return self._form.said_lines(self._values, width) if self._values else []

    @on(Form.Changed)
    def _changed(self, event: Form.Changed) -> None:
        event.stop()
        self.keep_draft()
        if not self._begun():
            return
        if self._told[1] == "soft":
            self.tell("")  # what was told of the form before
        if self._flush is not None:
            self._flush.stop()
        self._flush = self.set_timer(0.3, self.board.drafts.flush)
        if self._dates is not None:
            self._dates.stop()
        self._dates = self.set_timer(0.4, self._ask_date)
        if self.has_class("-wide"):
            self.query_one("#said", LineView).show(self._said)

    def _ask_date(self) -> None:
        """Have the days reckoned that could be promised for what is in the form now."""
        board, form = self.board, self._form
        key = form.date_key(self._values) if board.plans else ""
        if not key or key == self._date_key:
            return
        self._date_key = key
        job, machine = form.date_job(self._values)

        def hear(offered: Offered) -> None:
            if self._form is form and self._questions.is_mounted:
                form.offered = offered
                self._questions.row("promise").redraw()
                self.query_one("#said", LineView).show(self._said)

        board.offer_days(key, job, machine, hear)

    @on(Form.Done)
    def _done(self, event: Form.Done) -> None:
        event.stop()
        board = self.board
        try:
            intake = self._form.intake(event.values)
        except Refused as error:
            self.tell(f"Not taken in: {error}", "late")
            return
        book = self._form.reckoned(event.values)
        change, refusal = board.attempt(lambda state, now: take_in(state, now, board.who, intake, book=book))
        if change is None or change.subject is None:
            self.tell(f"Not taken in: {refusal}", "late")
            return
        job_id = change.subject
        self.call_later(self._clear)
        board.push_screen(
            ChooseDialog(f"{tag(job_id)}", _next_lines(job_id), above=_tag_lines(change.why)), self._then(job_id)
        )

    def _then(self, job_id: int) -> Callable[[str | None], None]:
        def go(choice: str | None) -> None:
            if choice == "bench":
                self.board.open_job(job_id)
            elif choice == "floor" or choice is None:
                self.board.go("floor")

        return go

    async def _clear(self) -> None:
        self.board.drafts.drop(self.board.who)
        self._values, self._date_key = {}, ""
        self._form = self._fresh()
        self.query_one("#said", LineView).show(self._said)
        before, self._questions = self._questions, Form(self._form.fields())
        await before.remove()
        await self.query_one("#intake").mount(self._questions)
        if self.board.screen is self:
            self._questions.focus_first()

    def action_give_tag(self) -> None:
        """Take the machine in, or go to the first wrong answer."""
        self._questions.action_done()

    async def action_empty(self) -> None:
        """Throw the half-typed intake away."""
        await self._clear()
        self.tell("the form is empty again", "soft")


def _tag_lines(why: str) -> Callable[[int], list[Line]]:
    return lambda width: [*wrapped(why, width, "good"), line(None, ("write the number on the machine's tag", "soft"))]


def _next_lines(job_id: int) -> Callable[[int], list[Line]]:
    choices = (
        ("next", "take in the next machine"),
        ("bench", f"open {tag(job_id)} on the Bench"),
        ("floor", "back to the Floor"),
    )
    return lambda width: [line(key, cell(words, width)) for key, words in choices]
