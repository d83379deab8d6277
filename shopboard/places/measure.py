"""The Measure panel of the Bench: choose what to measure, type what was read, see what it says, record it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from threading import Thread
from typing import TYPE_CHECKING

from shopboard.records import Job, Machine, Model
from shopboard.shop import evidence

from . import measure_forms as forms
from . import measure_lines as lines
from .dialogs import ChooseDialog, FormDialog
from .fields import Field, Values, text_of
from .lines import BLANK, Line, wrapped
from .measure_lines import KINDS, Kind
from .widgets.line_list import Builder

if TYPE_CHECKING:  # they bring numpy, which nothing loads before the first paint
    from shopboard.mechanics.results import Result
    from shopboard.trouble import Book, Ranking

    from .app import Board
    from .measure_work import Heard, Refusal


@dataclass
class RunSet:
    """The timed runs typed for a job so far, kept until they are recorded; the board keeps one for each job."""

    setup: Values = field(default_factory=dict)
    runs: list[Values] = field(default_factory=list)


@dataclass
class Panel:
    """Measuring on one job of a board."""

    board: Board
    job_id: int
    sets: dict[int, RunSet]

    @property
    def job(self) -> Job:
        """The job as it is now."""
        return self.board.state.jobs[self.job_id]

    @property
    def machine(self) -> Machine:
        """Its machine."""
        return self.board.state.machines[self.job.machine]

    @property
    def model(self) -> Model | None:
        """The machine's model, if the shop knows it."""
        return self.board.state.models.get(self.machine.model)

    def title(self, kind: Kind, rest: str = "") -> str:
        """What stands over a dialog."""
        return f"{self.job.tag}: {kind.name}{rest}"

    # -- choosing ------------------------------------------------------------------------------------------------------

    def open(self, plain: Callable[[], None]) -> None:
        """Ask what to measure; `plain` opens the form for a plain reading."""
        runs = len(self._set().runs)
        Thread(target=forms.warm, daemon=True).start()

        def rows(width: int) -> list[Line]:
            return lines.kind_lines(self.board.book, self.machine, runs, width)

        def chosen(id: str | None) -> None:
            if id == lines.PLAIN:
                plain()
            elif id is not None:
                self._before(next(kind for kind in KINDS if kind.id == id))

        self.board.push_screen(ChooseDialog(f"{self.job.tag}: measure what?", rows), chosen)

    def _before(self, kind: Kind) -> None:
        """Cautions and how it is done, before anything is typed."""
        if kind.id == "timed-runs":
            self._runs(kind, lines.ADD)
            return
        above: Builder = lambda width: lines.before_lines(kind, self.board.book, self.model, width)  # noqa: E731
        go_on: Builder = lambda width: wrapped("type in what was measured", width)  # noqa: E731

        def rows(width: int) -> list[Line]:
            return [row._replace(key="type") for row in go_on(width)]

        def chosen(id: str | None) -> None:
            if id is not None:
                self._listen_form(kind) if kind.id == "recording" else self._form(kind)

        self.board.push_screen(ChooseDialog(self.title(kind), rows, above=above), chosen)

    # -- timed runs, one after another ---------------------------------------------------------------------------------

    def _set(self) -> RunSet:
        return self.sets.setdefault(self.job_id, RunSet())

    def _runs(self, kind: Kind, start: str = "", refusal: str = "") -> None:
        made = self._set()

        def rows(width: int) -> list[Line]:
            return lines.runs_lines(forms.setup_words(self.model, made.setup), made.runs, refusal, width)

        def chosen(id: str | None) -> None:
            if id == lines.ADD:
                self._run(kind, len(made.runs))
            elif id == lines.SETUP:
                self._setup(kind, lambda: self._runs(kind))
            elif id == lines.SAY:
                self._say_runs(kind)
            elif id is not None:
                self._change_run(kind, int(id.removeprefix(lines.RUN)) - 1)

        above: Builder = lambda width: lines.before_lines(kind, self.board.book, self.model, width)  # noqa: E731
        self.board.push_screen(ChooseDialog(self.title(kind), rows, above=above, start=start), chosen)

    def _setup(self, kind: Kind, then: Callable[[], None]) -> None:
        made = self._set()
        fields = forms.setup_fields(self.model, made.setup)

        def done(values: Values | None) -> None:
            if values is None:
                self._runs(kind)
                return
            made.setup = values
            then()

        self._ask(self.title(kind, ", for all runs"), kind, fields, done)

    def _run(self, kind: Kind, index: int) -> None:
        """Ask for one run: a new one, or one given before."""
        made = self._set()
        if not made.setup:
            self._setup(kind, lambda: self._run(kind, index))
            return
        before = made.runs[index] if index < len(made.runs) else {}
        fields = forms.run_fields(self.model, before or (made.runs[-1] if made.runs else {}))
        fields = _starting_with(fields, before)

        def done(values: Values | None) -> None:
            if values is not None:
                made.runs[index : index + 1] = [values]
            self._runs(kind, lines.SAY if len(made.runs) > 3 else lines.ADD)

        self._ask(self.title(kind, f", run {index + 1}"), kind, fields, done, attempt=_tries(forms.run_of))

    def _change_run(self, kind: Kind, index: int) -> None:
        made = self._set()

        def rows(width: int) -> list[Line]:
            return [row._replace(key=key) for key, words in (("change", "change it"), ("out", "take it out"))
                    for row in wrapped(words, width)]  # fmt: skip

        def chosen(id: str | None) -> None:
            if id == "change":
                self._run(kind, index)
                return
            if id == "out":
                del made.runs[index]
            self._runs(kind)

        title = self.title(kind, f", run {index + 1}: {lines.run_words(made.runs[index])}")
        self.board.push_screen(ChooseDialog(title, rows), chosen)

    def _say_runs(self, kind: Kind) -> None:
        made = self._set()
        try:
            result = forms.timed_runs(self.model, made.setup, made.runs)
        except ValueError as error:
            self._runs(kind, lines.ADD, str(error))
            return
        note = lines.runs_note(forms.setup_words(self.model, made.setup), made.runs)

        def over(recorded: bool) -> None:
            if recorded:
                self.sets.pop(self.job_id, None)
            else:
                self._runs(kind)

        self._show(kind, result, note, over)

    # -- measurements of one form --------------------------------------------------------------------------------------

    def _form(self, kind: Kind) -> None:
        make, say = forms.FORMS[kind.id]
        fields, title = make(self.model), self.title(kind)
        found: list[Result] = []

        def attempt(values: Values) -> str:
            try:
                found.append(say(self.model, values))
            except ValueError as error:
                return str(error)
            return ""

        def done(values: Values | None) -> None:
            if values is None:
                self._before(kind)
                return

            def over(recorded: bool) -> None:
                if not recorded:
                    self._keep(title, values)
                    self._form(kind)

            self._show(kind, found[-1], forms.typed_words(fields, values), over)

        self._ask(title, kind, fields, done, attempt=attempt)

    def _keep(self, title: str, values: Values) -> None:
        self.board.kept[title] = dict(values)

    # -- a recording ---------------------------------------------------------------------------------------------------

    def _listen_form(self, kind: Kind, refusal: str = "") -> None:
        fields, title = forms.recording_fields(self.model), self.title(kind)

        def done(values: Values | None) -> None:
            if values is None:
                self._before(kind)
            else:
                self._listen(kind, title, fields, values)

        dialog = self._ask(title, kind, fields, done)
        if refusal:  # said once the form stands, in place of what it says itself
            dialog.call_after_refresh(dialog.tell, refusal, "late")

    def _listen(self, kind: Kind, title: str, fields: Sequence[Field], values: Values) -> None:
        from .dialogs.measure import ListenDialog
        from .measure_work import Refusal, Request

        typed = text_of(values, "speed")
        speed = forms.quantity(typed, "rotation") if typed else None
        data = dict(self.model.data) if self.model else {}
        request = Request(forms.path_of(text_of(values, "file")), data, text_of(values, "gear"), speed)

        def heard(found: Heard | Refusal | None) -> None:
            if found is None or isinstance(found, Refusal):
                self._keep(title, values)
                self._listen_form(kind, found.why if found else "stopped; what you typed is here again")
                return

            def over(recorded: bool) -> None:
                if not recorded:
                    self._keep(title, values)
                    self._listen_form(kind)

            self._show(kind, found.result, forms.typed_words(fields, values), over, found)

        self.board.push_screen(ListenDialog(title, request), heard)

    # -- asking, showing, recording ------------------------------------------------------------------------------------

    def _ask(
        self,
        title: str,
        kind: Kind,
        fields: Sequence[Field],
        done: Callable[[Values | None], None],
        attempt: Callable[[Values], str] | None = None,
    ) -> FormDialog:
        above: Builder = lambda width: lines.short_cautions(kind, self.board.book, any(f.start for f in fields), width)  # noqa: E731
        dialog = FormDialog(title, fields, above=above, attempt=attempt, keep=self.board.kept)
        self.board.push_screen(dialog, done)
        return dialog

    def _show(
        self, kind: Kind, result: Result, note: str, over: Callable[[bool], None], heard: Heard | None = None
    ) -> None:
        """The result, what recording it would do to the ranking, and the key that does."""
        from shopboard.mechanics.kept import kept

        from .dialogs.measure import ResultDialog

        board, settings = self.board, self.board.state.settings
        figures, outcome = kept(result, settings.units), result.outcome
        would = self._would(kind, outcome, figures)
        before = next((a.outcome for a in self.job.answers if a.check == kind.check), "")
        answers = lines.outcome_words(board.book, kind.check, outcome, before)
        told: list[str] = []

        def page(width: int) -> list[Line]:
            drawn = (heard.points, heard.labels, heard.axis) if heard else ()
            return [
                *wrapped(f"answers: {answers}", width),
                *wrapped(f"recorded, it moves: {would}", width, "good"),
                BLANK,
                *lines.result_lines(result, settings.units, width, *drawn),
            ]

        def record() -> str:
            before = self._ranking()
            change, refusal = board.attempt(
                lambda s, now: evidence.measured(
                    s, now, board.who, self.job_id, kind.check, outcome, figures, book=self._book, note=note
                )
            )
            if change is not None:
                moved = lines.moved_words(evidence.moved(before, self._ranking()))
                told.append(f"Saved, {self.job.tag}: {kind.name}. {moved}")
            return refusal

        def closed(recorded: bool | None) -> None:
            over(bool(recorded))
            if told:
                board.tell(told[0], "good")

        board.push_screen(ResultDialog(self.title(kind, ": what it says"), page, record), closed)

    def _ranking(self) -> Ranking:
        return evidence.ranking(self.board.state, self.job, self._book)

    @property
    def _book(self) -> Book:
        return self.board.book_for(self.job)

    def _would(self, kind: Kind, outcome: str, figures: Sequence[evidence.Measured]) -> str:
        """What recording would do to the ranking, worked out without recording it."""
        board = self.board
        step = evidence.measured(
            board.state, board.now(), board.who, self.job_id, kind.check, outcome, figures, book=self._book
        )
        job = next(put for put in step.puts if isinstance(put, Job))
        after = evidence.ranking(board.state, job, self._book)
        return lines.moved_words(evidence.moved(self._ranking(), after))


def _tries(read: Callable[[Values], object]) -> Callable[[Values], str]:
    def attempt(values: Values) -> str:
        try:
            read(values)
        except ValueError as error:
            return str(error)
        return ""

    return attempt


def _starting_with(fields: Sequence[Field], values: Values) -> tuple[Field, ...]:
    """The fields with these answers standing in them."""
    from dataclasses import replace

    return tuple(replace(f, start=values[f.id]) if f.id in values else f for f in fields)
