"""A form that follows the talk: one line a question, the one in focus opens with its options."""

from __future__ import annotations

from collections.abc import Sequence
from typing import ClassVar

from textual import events, on
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Horizontal, Vertical, VerticalScroll
from textual.message import Message
from textual.widgets import Input, Label

from shopboard.places.fields import Field, Option, Values
from shopboard.places.lines import Line, cell, line
from shopboard.records import visible

from .line_list import LineView

_MOST_OPTIONS = 7


class FieldInput(Input):
    """One line of text. Up and down walk the options, Enter takes one or goes on."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("down", "option(1)", "next option", show=False),
        Binding("up", "option(-1)", "previous option", show=False),
    ]

    class Option(Message):
        """Walk the options by `step`."""

        def __init__(self, step: int) -> None:
            super().__init__()
            self.step = step

    class Entered(Message):
        """Enter was pressed."""

    def action_option(self, step: int) -> None:
        """Walk the options."""
        self.post_message(self.Option(step))

    def __init__(self, value: str = "", placeholder: str = "") -> None:
        super().__init__(value, placeholder=placeholder, compact=True, select_on_focus=False)
        self.cursor_blink = False

    async def _on_key(self, event: events.Key) -> None:
        if event.key == "enter":
            event.stop()
            event.prevent_default()
            self.post_message(self.Entered())
        else:
            await super()._on_key(event)

    def _on_paste(self, event: events.Paste) -> None:
        # A pasted complaint of several lines is one field: its line ends become blanks, nothing is cut away.
        event.stop()
        event.prevent_default()
        self.insert_text_at_cursor(" ".join(event.text.split()))

    def insert_text_at_cursor(self, text: str) -> None:
        """Insert text; what would act on the terminal is kept as the mark it is shown as."""
        super().insert_text_at_cursor(visible(text))


class FieldRow(Vertical):
    """A question: its label, what was answered, and while in focus the options."""

    def __init__(self, field: Field) -> None:
        super().__init__(id=f"row-{field.id}", classes="field")
        self.field = field
        self.ticked: tuple[str, ...] = field.start if isinstance(field.start, tuple) else ()
        self.option = -1
        self.options: Sequence[Option] = ()
        self.error = ""
        self.values: Values = {}
        self._taken: tuple[str, str] | None = None
        self.input = FieldInput(placeholder=self.hint({}))
        self._label = Label(f"  {visible(field.label)}", markup=False)
        self._under = LineView(self._lines, classes="fit")

    def compose(self) -> ComposeResult:
        """Label and input on one line, options under it."""
        if isinstance(self.field.start, str) and self.field.start:
            self.set_value(self.field.start, {})
        with Horizontal():
            yield self._label
            yield self.input
        yield self._under

    def hint(self, values: Values) -> str:
        """What stands in the field while nothing is typed; it may depend on the answers so far."""
        hint = self.field.hint
        return visible(hint if isinstance(hint, str) else hint(values))

    def ask(self, values: Values) -> None:
        """Show the question if it applies now."""
        self.values = values
        self.display = self.field.asked(values)
        if self.display and not isinstance(self.field.hint, str):
            self.input.placeholder = self.hint(values)

    @property
    def value(self) -> str | tuple[str, ...]:
        """What was answered: the key of the option taken, else the text typed, or the keys ticked."""
        if self.field.kind == "many":
            return self.ticked
        typed = self.input.value
        return self._taken[1] if self._taken and self._taken[0] == typed else typed

    @property
    def gives_way(self) -> bool:
        """Whether what stands here gives way to what is typed: what the form filled in, or an option taken whole."""
        return bool(self.value) and (self.value == self.field.start or self.value != self.input.value)

    def set_value(self, value: str | tuple[str, ...], values: Values) -> None:
        """Put an answer in; a key of an option shows as the option's label."""
        if self.field.kind == "many":
            self.ticked = tuple(value) if not isinstance(value, str) else ()
        elif isinstance(value, str):
            known = next((o for o in self.field.options(values, value) if o.key == value), None)
            self._show(known.label if known else value, value)

    def _show(self, label: str, key: str) -> None:
        shown = visible(label)
        self._taken = (shown, key)
        self.input.value = shown
        self.input.cursor_position = len(shown)

    def look_up(self, values: Values, *, keep: bool = False) -> None:
        """Work the options out anew for what is typed now."""
        self.options = self.field.options(values, self.input.value)
        self.values = values
        if not keep or self.option >= len(self.options):
            narrowed = self.field.kind == "choice" and bool(self.input.value.strip())
            first = self.field.kind != "many" and (self.field.eager or narrowed)
            self.option = 0 if self.options and first and not self.options[0].waits else -1
        self.redraw()

    def settle(self, values: Values) -> None:
        """Take the one option that begins with what is typed: "y" is enough for "yes, work waits for it"."""
        if self.field.kind != "choice" or not (typed := self.input.value.strip().casefold()):
            return
        fit = self.field.options(values, self.input.value)
        known = any(option.key == self.value for option in (*fit, *self.field.options(values, "")))
        if not known and len(fit) == 1 and not fit[0].waits and fit[0].label.casefold().startswith(typed):
            self._show(fit[0].label, fit[0].key)

    def wrong(self, values: Values) -> str:
        """The one line that says what is wrong with the answer, "" when nothing is."""
        value = self.value
        if self.field.kind == "choice" and isinstance(value, str) and value.strip():
            known = {option.key for option in (*self.field.options(values, ""), *self.field.options(values, value))}
            if value not in known:
                return f"“{visible(value.strip())}” is not one of the list: choose with the arrows"
        return self.field.check(value if isinstance(value, str) else " ".join(value), values)

    def redraw(self) -> None:
        """Draw the mark of the open question, its options and what is wrong again."""
        self._label.update(f"{'>' if self.has_class('open') else ' '} {visible(self.field.label)}")
        self._under.show(self._lines)

    def _lines(self, width: int) -> list[Line]:
        rows: list[Line] = []
        if self.error:
            rows.append(line(None, ("  " + cell(self.error, max(0, width - 2)).rstrip(), "late")))
        if not self.has_class("open"):
            if self.field.kind == "many" and self.ticked:
                rows.append(line(None, (cell("  " + ", ".join(self.ticked_labels()), width), "")))
            return [*rows, *self._warnings(width)]
        first = max(0, min(self.option - _MOST_OPTIONS + 2, len(self.options) - _MOST_OPTIONS))
        shown = self.options[first : first + _MOST_OPTIONS]
        rows += [self._option_line(first + i, option, width) for i, option in enumerate(shown)]
        if (more := len(self.options) - first - len(shown)) > 0:
            rows.append(line(None, (f"    and {more} more: type to narrow", "soft")))
        return [*rows, *self.field.tells(self.values, width)]

    def _warnings(self, width: int) -> list[Line]:
        """What the answer warns of stays in sight when the talk goes on; what it merely tells does not."""
        if not self.value:
            return []
        return [row for row in self.field.tells(self.values, width) if any(span.role == "late" for span in row.spans)]

    def _option_line(self, index: int, option: Option, width: int) -> Line:
        here = index == self.option
        tick = ("[x] " if option.key in self.ticked else "[ ] ") if self.field.kind == "many" else ""
        text = f"  {'>' if here else ' '} {tick}{visible(option.label)}"
        note = f"  {visible(option.note)}" if option.note else ""
        shown = cell(text + note, width)
        return line(None, (shown[: len(text)], "cursor" if here else option.role), (shown[len(text) :], "soft"))

    def ticked_labels(self) -> list[str]:
        """The labels of what is ticked."""
        options = self.options or self.field.options(self.values, "")
        names = {option.key: option.label for option in options}
        return [names.get(key, key) for key in self.ticked]

    def step_option(self, step: int) -> None:
        """Walk the options; stepping off the first one leaves them."""
        lowest = -1 if self.field.kind == "many" or not self.field.eager else 0
        self.option = max(lowest, min(len(self.options) - 1, self.option + step))
        self.redraw()

    def take(self) -> bool:
        """Take the option under the cursor; says whether the question is answered and the next one may open."""
        if self.option < 0 or self.option >= len(self.options):
            return True
        key, label = self.options[self.option][:2]
        if self.field.kind != "many":
            self._show(label, key)
            return True
        self.ticked = tuple(k for k in self.ticked if k != key) if key in self.ticked else (*self.ticked, key)
        self.option = -1
        self.input.value = ""
        return False


class Form(VerticalScroll, can_focus=False):
    """Questions in order. Enter goes on, Tab and Shift+Tab move freely, Ctrl+S or Enter on the last one is done."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("ctrl+s", "done", "done", show=False),
        Binding("tab", "go(1)", "next", show=False),
        Binding("shift+tab", "go(-1)", "previous", show=False),
    ]

    class Done(Message):
        """Every question is answered rightly."""

        def __init__(self, values: dict[str, str | tuple[str, ...]]) -> None:
            super().__init__()
            self.values = values

    class Changed(Message):
        """An answer changed."""

        def __init__(self, values: dict[str, str | tuple[str, ...]]) -> None:
            super().__init__()
            self.values = values

    def __init__(self, fields: Sequence[Field], *, id: str | None = None) -> None:
        super().__init__(id=id)
        self.fields = fields
        self.rows = [FieldRow(field) for field in fields]
        """The rows, in order."""

    def compose(self) -> ComposeResult:
        """A row a question."""
        yield from self.rows

    def on_mount(self) -> None:
        self._show_asked()

    def row(self, id: str) -> FieldRow:
        """The row of one question."""
        return next(row for row in self.rows if row.field.id == id)

    @property
    def values(self) -> dict[str, str | tuple[str, ...]]:
        """All answers as they stand."""
        return {row.field.id: row.value for row in self.rows}

    def fill(self, values: Values) -> None:
        """Put answers in, as from a kept draft."""
        for row in self.rows:
            if row.field.id in values:
                row.set_value(values[row.field.id], values)
        self._show_asked()

    def focus_first(self) -> None:
        """Focus the first question that is asked."""
        asked = self._asked()
        if asked:
            asked[0].input.focus()

    def focus_open(self) -> None:
        """Focus the first question that is not answered rightly yet, to go on where the talk was left."""
        asked, values = self._asked(), self.values
        if asked:
            next((row for row in asked if not row.value or row.wrong(values)), asked[0]).input.focus()

    def _asked(self) -> list[FieldRow]:
        return [row for row in self.rows if row.display]

    def _show_asked(self) -> None:
        values = self.values
        for row in self.rows:
            row.ask(values)

    def _row_of(self, widget: FieldInput) -> FieldRow:
        return next(row for row in self.rows if row.input is widget)

    @on(events.DescendantFocus)
    def _opened(self, event: events.DescendantFocus) -> None:
        for row in self.rows:
            here = row.input is event.widget
            row.set_class(here, "open")
            row.look_up(self.values) if here else row.redraw()
            if here:
                row.scroll_visible(animate=False)
                if row.gives_way:
                    row.input.action_select_all()

    @on(Input.Changed)
    def _typed(self, event: Input.Changed) -> None:
        event.stop()
        row = self._row_of(event.input)  # type: ignore[arg-type]
        row.error = ""
        self._show_asked()
        if row.has_class("open"):
            row.look_up(self.values)
        self.post_message(self.Changed(self.values))

    @on(FieldInput.Option)
    def _stepped(self, event: FieldInput.Option) -> None:
        event.stop()
        if (row := self._open_row()) is not None:
            row.step_option(event.step)

    def _open_row(self) -> FieldRow | None:
        return next((row for row in self.rows if row.has_class("open")), None)

    @on(FieldInput.Entered)
    def _entered(self, event: FieldInput.Entered) -> None:
        event.stop()
        row = self._open_row()
        if row is None:
            return
        answered = row.take()
        self._show_asked()
        self.post_message(self.Changed(self.values))
        if not answered:
            row.look_up(self.values)
        elif self._right(row):
            if row is self._asked()[-1]:
                self.action_done()
            else:
                self.action_go(1)

    def _right(self, row: FieldRow) -> bool:
        row.error = row.wrong(self.values)
        row.redraw()
        return not row.error

    def action_go(self, step: int) -> None:
        """Move to the next or previous question."""
        asked, row = self._asked(), self._open_row()
        index = asked.index(row) + step if row in asked else 0
        if 0 <= index < len(asked):
            asked[index].input.focus()

    def action_done(self) -> None:
        """Check every answer; be done, or go to the first wrong one."""
        for row in self._asked():
            row.settle(self.values)
        self._show_asked()  # what was taken may ask more
        wrong = [row for row in self._asked() if not self._right(row)]
        if wrong:
            wrong[0].input.focus()
        else:
            asked = {row.field.id for row in self._asked()}
            self.post_message(self.Done({k: v for k, v in self.values.items() if k in asked}))
