"""Ask for a few answers."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from textual import on
from textual.app import ComposeResult

from shopboard.places.fields import Field, Values
from shopboard.places.widgets.form import Form
from shopboard.places.widgets.line_list import Builder, LineView

from .base import Dialog

#: Tries the answers; returns "" when they were accepted, else the one line that says why not.
Attempt = Callable[[Values], str]


class FormDialog(Dialog[dict[str, str | tuple[str, ...]]]):
    """A small form; returns its answers. With `attempt` the dialog stays, with what was typed, until it is accepted.

    `keep` is a drawer for what was typed when the dialog is left by Esc, offered again the next time.
    """

    def __init__(
        self,
        title: str,
        fields: Sequence[Field],
        *,
        above: Builder | None = None,
        attempt: Attempt | None = None,
        keep: dict[str, dict[str, str | tuple[str, ...]]] | None = None,
    ) -> None:
        super().__init__(title, "Ctrl+S is done, Esc goes back")
        self._fields, self._above, self._attempt = fields, above, attempt
        self._keep = keep if keep is not None else {}

    def compose_body(self) -> ComposeResult:
        """What is said first, then the questions."""
        if self._above is not None:
            yield LineView(self._above, classes="fit above")
        yield Form(self._fields)

    def on_mount(self) -> None:
        form = self.query_one(Form)
        if self.title_text in self._keep:
            form.fill(self._keep[self.title_text])
            self.tell("what you typed before is here again", "soft")
        form.focus_first()

    @on(Form.Done)
    def _done(self, event: Form.Done) -> None:
        event.stop()
        refusal = self._attempt(event.values) if self._attempt else ""
        if refusal:
            self.tell(refusal, "late")
            return
        self._keep.pop(self.title_text, None)
        self.dismiss(event.values)

    def action_leave(self) -> None:
        """Go back; what was typed is kept for the next time."""
        values = self.query_one(Form).values
        if any(values[field.id] != field.start for field in self._fields if values[field.id]):
            self._keep[self.title_text] = values
        self.dismiss(None)
