"""Reads the terminal's keys so that no byte and no closed window breaks the board."""

from __future__ import annotations

import os
import selectors
from codecs import getincrementaldecoder
from typing import Any

from textual.driver import Driver


def forgiving(driver: type[Driver]) -> type[Driver]:
    """The driver with a reader that shows a byte that is no UTF-8 as U+FFFD, and leaves when the terminal is gone.

    Textual's own reader ends the app with a traceback on both. Drivers of other systems stay as they are.
    """
    if driver.__name__ != "LinuxDriver":
        return driver

    def run_input_thread(self: Any) -> None:
        from textual._xterm_parser import XTermParser

        parser = XTermParser(self._debug)
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
                for message in parser.feed(typed) if typed else ():
                    self.process_message(message)
                for message in parser.tick():
                    self.process_message(message)

    return type("ForgivingDriver", (driver,), {"run_input_thread": run_input_thread})


def _read(fileno: int) -> bytes:
    try:
        return os.read(fileno, 4096)
    except OSError:  # the other end of the terminal is closed
        return b""
