"""Reads the terminal's keys so that no byte, no quick Esc and no closed window breaks the board."""

from __future__ import annotations

import os
import re
import selectors
from codecs import getincrementaldecoder
from collections.abc import Callable, Iterator
from typing import Any

from textual import events
from textual.driver import Driver
from textual.message import Message

#: An Esc that begins no sequence of the terminal's: the key itself, however soon the next one follows it.
_LONE_ESCAPE = re.compile(r"\x1b(?=[^\[\]OPX^_])")
_PASTE_BEGINS, _PASTE_ENDS = "\x1b[200~", "\x1b[201~"


class Keys:
    """Turns what the terminal sends into keys and pastes.

    Textual takes Esc and a key within a tenth of a second for Alt and that key, and so loses the Esc. Nothing here is
    bound to Alt, and a person who leaves a dialog and goes on at once means both.
    """

    def __init__(self, debug: bool = False) -> None:
        from textual._xterm_parser import XTermParser

        self._fresh: Callable[[], Any] = lambda: XTermParser(debug)
        self._parser = self._fresh()
        self._escape_waits = False
        self._pasting = False
        self._tail = ""

    def feed(self, typed: str) -> Iterator[Message]:
        """The keys and pastes that `typed` completes. What was read at once came at once: a scanner's burst stays one
        however long a busy machine takes over it."""
        seen, came = self._tail + typed, None
        for text, pasted in self._parts(typed):
            for message in self._parser.feed(text) if pasted else self._keys(text):
                came = message.time if came is None else came
                message.time = came
                yield message
        begins, ends = seen.rfind(_PASTE_BEGINS), seen.rfind(_PASTE_ENDS)
        if begins != ends:  # told by what came before too: a mark may be cut in two
            self._pasting = begins > ends
        self._tail = seen[1 - len(_PASTE_BEGINS) :]

    def _parts(self, typed: str) -> Iterator[tuple[str, bool]]:
        """What was typed and what was pasted, in turn, the marks of a paste with the paste."""
        pasted = self._pasting
        while typed:
            if pasted:
                end = typed.find(_PASTE_ENDS)
                cut = len(typed) if end < 0 else end + len(_PASTE_ENDS)
            else:
                begin = typed.find(_PASTE_BEGINS)
                cut = len(typed) if begin < 0 else begin
            if cut:
                yield typed[:cut], pasted
            typed, pasted = typed[cut:], not pasted

    def _keys(self, typed: str) -> Iterator[Message]:
        if self._escape_waits and _LONE_ESCAPE.match("\x1b" + typed):
            self._parser = self._fresh()
            yield _escape()
        self._escape_waits = typed.endswith("\x1b")
        for number, piece in enumerate(_LONE_ESCAPE.split(typed)):
            if number:
                yield _escape()
            yield from self._parser.feed(piece) if piece else ()

    def tick(self) -> Iterator[Message]:
        """The keys that only time completes: an Esc that nothing followed."""
        for message in self._parser.tick():
            self._escape_waits = False
            yield message


def _escape() -> events.Key:
    return events.Key("escape", "\x1b")


def forgiving(driver: type[Driver]) -> type[Driver]:
    """The driver with a reader that shows a byte that is no UTF-8 as U+FFFD, and leaves when the terminal is gone.

    Textual's own reader ends the app with a traceback on both. Drivers of other systems stay as they are.
    """
    if driver.__name__ != "LinuxDriver":
        return driver

    def run_input_thread(self: Any) -> None:
        keys = Keys(self._debug)
        decode = getincrementaldecoder("utf-8")("replace").decode
        with selectors.SelectSelector() as selector:
            selector.register(self.fileno, selectors.EVENT_READ)
            while not self.exit_event.is_set():
                typed = ""
                if selector.select(0.1):
                    data = _read(self.fileno)
                    if not data:
                        self._app.call_later(self._app.run_action, "leave")
                        return
                    typed = decode(data)
                for message in keys.feed(typed) if typed else ():
                    self.process_message(message)
                for message in keys.tick():
                    self.process_message(message)

    return type("ForgivingDriver", (driver,), {"run_input_thread": run_input_thread})


def _read(fileno: int) -> bytes:
    try:
        return os.read(fileno, 4096)
    except OSError:  # the other end of the terminal is closed
        return b""
