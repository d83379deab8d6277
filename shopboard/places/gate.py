"""Keys in the order they were typed: one key is finished before the next is handed on, and scans press no keys.

Textual hands a key to the focused widget at once, so a key typed right after one that opens a dialog would reach
the old screen. The gate holds it back until the key before it has run its course and a screen it opened is ready.
It also reads our own printed codes: outside a text field digits are collected until Enter; inside one, a valid code
that arrives as a burst is taken out again and looked up.
"""

from __future__ import annotations

from collections import deque
from itertools import pairwise
from time import monotonic
from typing import Any

from textual import events
from textual.app import App
from textual.screen import Screen
from textual.widget import Widget
from textual.widgets import Input

from shopboard.records.codes import CODE_LENGTH, read_code

#: A scanner sends a code in one burst; nobody types digits this fast (seconds between two keys).
BURST_GAP = 0.05
#: So long is waited for a key whose widget went away (seconds).
LOST_AFTER = 0.5
#: So long a key, or the screen that it opens, may take on a slow machine before the next one is handed on (seconds).
PATIENCE = 10.0
#: So long is waited between two looks whether a screen is ready (seconds).
_BETWEEN_LOOKS = 0.01


class KeyDone(events.Event, bubble=True):
    """Follows a key up the same way; when it reaches the app, the key has been dealt with. `number` says which key: one
    that was given up meanwhile must not end another."""

    def __init__(self, number: int, round: int = 0) -> None:
        super().__init__()
        self.number, self.round = number, round


class GatedApp(App[Any]):
    """An app whose keys and pastes are handed on one at a time. Subclasses say what a scan opens."""

    def __init__(self, **options: Any) -> None:
        super().__init__(**options)
        self._held: deque[events.Key | events.Paste] = deque()
        self._key_under_way = False
        self._key_number = 0
        self._key_began = 0.0
        self._carrier: Widget | None = None
        self._screen_before: Screen[Any] | None = None
        self._digits = ""
        self._burst: list[tuple[str, float]] = []

    def scanned(self, digits: str) -> None:
        """A code or number came in outside a text field, or a code of ours inside one."""
        raise NotImplementedError

    def scanning(self, digits: str) -> None:
        """The digits collected so far changed; empty when the collection ended."""

    async def on_event(self, event: events.Event) -> None:
        """Queue keys and pastes; pass everything else on."""
        if isinstance(event, (events.Key, events.Paste)) and not event.is_forwarded:
            self.app_focus = True  # whoever types is here, also where the terminal did not tell that they came back
            self._held.append(event)
            await self._hand_on()
        else:
            await super().on_event(event)

    async def _hand_on(self) -> None:
        while self._held and not self._key_under_way:
            event = self._held.popleft()
            self._screen_before = self.screen
            if (again := getattr(self.screen, "focus_again", None)) is not None:
                again()
            self._carrier = self.focused or self.screen
            scanned = self._collect(event)
            if scanned and self.screen is self._screen_before:
                continue
            self._key_under_way = True
            self._key_number += 1
            self._key_began = monotonic()
            if not scanned:
                await super().on_event(event)
            self._carrier.post_message(KeyDone(self._key_number))
            self._look_after(self._key_number)

    def _look_after(self, number: int) -> None:
        self.set_timer(LOST_AFTER, lambda: self._give_up(number))

    async def _give_up(self, number: int) -> None:
        if not self._key_under_way or number != self._key_number or not self.screen_stack:
            return
        late = monotonic() - self._key_began > PATIENCE
        if (self._opening() or (self._carrier is not None and self._carrier.is_attached)) and not late:
            self._look_after(number)
        else:
            await self._finish()

    def _opening(self) -> bool:
        """Whether the key opened a screen not ready yet: on every screen of ours something has the focus."""
        late = monotonic() - self._key_began > PATIENCE
        return self.screen is not self._screen_before and self.screen.focused is None and not late

    async def on_key_done(self, event: KeyDone) -> None:
        """The key has come up to the app; what it set going is let finish before the next key."""
        if not self.screen_stack or event.number != self._key_number or not self._key_under_way:
            return  # the board is being left, or the key was given up
        if event.round < 2:
            self._again(event.number, event.round + 1)
        elif self._opening():
            self.set_timer(_BETWEEN_LOOKS, lambda: self._again(event.number, event.round))
        elif self.screen is not self._screen_before:
            self._screen_before = self.screen
            self.screen.call_after_refresh(self._again, event.number, event.round)
        else:
            await self._finish()

    def _again(self, number: int, round: int) -> None:
        if self.screen_stack and number == self._key_number:
            self._carrier = self.focused or self.screen
            self._carrier.post_message(KeyDone(number, round))

    async def _finish(self) -> None:
        self._key_under_way = False
        await self._hand_on()

    # -- codes ----------------------------------------------------------------------------------------------------

    def _collect(self, event: events.Key | events.Paste) -> bool:
        """Whether the event belonged to a scan and is used up."""
        if isinstance(self.focused, Input):
            return isinstance(event, events.Key) and self._in_text(event, self.focused)
        if isinstance(event, events.Paste):
            digits = "".join(event.text.split())
            if digits.isascii() and digits.isdigit():
                self.scanned(digits)
                return True
            return False
        return self._outside_text(event)

    def _outside_text(self, event: events.Key) -> bool:
        char = event.character or ""
        if char.isascii() and char.isdigit():
            self._set_digits(self._digits + char)
            return True
        if not self._digits:
            return False
        digits = self._digits
        self._set_digits(digits[:-1] if event.key == "backspace" else "")
        if event.key == "enter":
            self.scanned(digits)
        return event.key in ("enter", "escape", "backspace")

    def _set_digits(self, digits: str) -> None:
        self._digits = digits
        self.scanning(digits)

    def _in_text(self, event: events.Key, field: Input) -> bool:
        char = event.character or ""
        if char.isascii() and char.isdigit():
            self._burst = [*self._burst[-(CODE_LENGTH - 1) :], (char, event.time)]
            return False
        burst, self._burst = self._burst, []
        if event.key != "enter" or not burst:
            return False
        times = [*(time for _, time in burst), event.time]
        code = "".join(digit for digit, _ in burst)
        quick = all(later - earlier <= BURST_GAP for earlier, later in pairwise(times))
        if not quick or read_code(code) is None:
            return False
        end = field.cursor_position
        if field.value[end - CODE_LENGTH : end] == code:
            field.value = field.value[: end - CODE_LENGTH] + field.value[end:]
            field.cursor_position = end - CODE_LENGTH
        self.scanned(code)
        return True
