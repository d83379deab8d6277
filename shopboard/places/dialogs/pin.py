"""PINs typed at the board: one's own to sign, a new one, and the screen of a locked terminal."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import ClassVar

from textual import on
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Horizontal, Vertical
from textual.screen import ModalScreen
from textual.widgets import Label

from shopboard.places.lines import Line, Role, cell, line, notice_lines, wrapped
from shopboard.places.widgets.form import FieldInput
from shopboard.places.widgets.line_list import Builder, LineList, LineView

from .base import Dialog

#: Tries what was typed; returns "" when it was accepted, else the one line that says why not.
Attempt = Callable[..., str]


class PinInput(FieldInput):
    """A field whose letters show as dots and are kept nowhere."""

    def __init__(self) -> None:
        super().__init__()
        self.password = True

    def action_copy(self) -> None:
        """A PIN is not copied."""

    def action_cut(self) -> None:
        """A PIN is not copied."""


class PinDialog(Dialog[bool]):
    """Asks for one or more PINs, one a line; True once `attempt` accepts what was typed in them."""

    def __init__(self, title: str, questions: Sequence[str], attempt: Attempt, *, above: str = "") -> None:
        super().__init__(title, "Enter is done, Esc goes back")
        self._questions, self._attempt, self._above = questions, attempt, above

    def compose_body(self) -> ComposeResult:
        """A line for each question."""
        if self._above:
            yield LineView(lambda width: wrapped(self._above, width, "soft"), classes="fit above")
        for question in self._questions:
            with Horizontal(classes="pin"):
                yield Label(question)
                yield PinInput()

    def on_mount(self) -> None:
        self.query(PinInput).first().focus()

    @on(FieldInput.Option)
    def _walk(self, event: FieldInput.Option) -> None:
        event.stop()
        if event.step > 0:
            self.focus_next(PinInput)
        else:
            self.focus_previous(PinInput)

    @on(FieldInput.Entered)
    def _entered(self, event: FieldInput.Entered) -> None:
        event.stop()
        fields = list(self.query(PinInput))
        at = next((n for n, field in enumerate(fields) if field.has_focus), len(fields) - 1)
        if at + 1 < len(fields):
            fields[at + 1].focus()
            return
        refusal = self._attempt(*(field.value for field in fields))
        if not refusal:
            self.dismiss(True)
            return
        for field in fields:
            field.value = ""
        fields[0].focus()
        self.tell(refusal, "late")


class LockScreen(ModalScreen[str]):
    """The screen of a locked terminal: who works here, a line for a PIN, nothing else. Returns who unlocked it."""

    AUTO_FOCUS = ""
    BINDINGS: ClassVar[list[BindingType]] = [Binding("tab", "other_half", show=False)]

    def __init__(self, people: Builder, who: str, has_pin: Callable[[str], bool], attempt: Attempt) -> None:
        super().__init__()
        self._people, self._who, self._has_pin, self._attempt = people, who, has_pin, attempt
        self._told: tuple[str, Role] = ("choose who you are, then type your PIN; Enter opens", "soft")

    def compose(self) -> ComposeResult:
        """The people, the PIN and a line for what went wrong."""
        with Vertical(classes="dialog"):
            yield LineView(self._title, classes="fit title")
            yield LineList(self._people, id="people")
            with Horizontal(classes="pin"):
                yield Label("PIN")
                yield PinInput()
            yield LineView(self._notice, id="lock-notice", classes="fit")

    def on_mount(self) -> None:
        people = self.query_one("#people", LineList)
        if self._who:
            people.go_to(self._who)
        if people.key and self._has_pin(people.key):
            self.query_one(PinInput).focus()
        else:
            people.focus()

    def _title(self, width: int) -> list[Line]:
        return [line(None, (cell("This terminal is locked", width), "strong"))]

    def _notice(self, width: int) -> list[Line]:
        return notice_lines(*self._told, width, "")

    def _say(self, text: str) -> None:
        self._told = (text, "late")
        self.query_one("#lock-notice", LineView).show(self._notice)

    def action_other_half(self) -> None:
        """From the people to the PIN and back."""
        self.query_one("#people" if self.query_one(PinInput).has_focus else PinInput).focus()

    @on(FieldInput.Option)
    def _walk(self, event: FieldInput.Option) -> None:
        event.stop()
        people = self.query_one("#people", LineList)
        people.focus()
        people.action_move(event.step)

    @on(LineList.Chosen)
    def _chosen(self, event: LineList.Chosen) -> None:
        event.stop()
        if self._has_pin(event.key):
            self.query_one(PinInput).focus()
        else:
            self._open(event.key)

    @on(FieldInput.Entered)
    def _entered(self, event: FieldInput.Entered) -> None:
        event.stop()
        key = self.query_one("#people", LineList).key
        if key:
            self._open(key)

    def _open(self, who: str) -> None:
        field = self.query_one(PinInput)
        refusal = self._attempt(who, field.value)
        field.value = ""
        if refusal:
            self._say(refusal)
        else:
            self.dismiss(who)
