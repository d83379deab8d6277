"""The board in a real pseudo-terminal: raw bytes go in, and a small terminal shows what comes out."""

from __future__ import annotations

import contextlib
import fcntl
import os
import pty
import re
import select
import signal
import struct
import sys
import termios
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from time import monotonic

from rich.cells import cell_len

#: What does not show within this many seconds never will.
PATIENCE = 40.0

_PIECE = re.compile(
    r"\x1b\[(?P<params>[0-9;?<>=$]*)(?P<final>[ -/]*[@-~])"
    r"|\x1b\][^\x07\x1b]*(?:\x07|\x1b\\)|\x1b[PX^_].*?\x1b\\|\x1b[^\[\]PX^_]|(?P<char>[^\x1b])",
    re.DOTALL,
)


class Terminal:
    """Rows of cells, as a terminal keeps them: it knows cursor moves and erasing, and ignores looks."""

    def __init__(self, rows: int, columns: int) -> None:
        self.rows, self.columns = rows, columns
        self.cells = [[" "] * columns for _ in range(rows)]
        self.row = self.column = 0
        self._rest = ""

    def feed(self, text: str) -> None:
        """Show what came; a sequence that is not whole yet waits for its end."""
        text, self._rest = self._rest + text, ""
        at = 0
        while at < len(text):
            found = _PIECE.match(text, at)
            if found is None:
                self._rest = text[at:]
                return
            at = found.end()
            if found["char"] is not None:
                self._put(found["char"])
            elif found["final"]:
                self._control(found["params"] or "", found["final"])

    def _put(self, char: str) -> None:
        if char == "\r":
            self.column = 0
        elif char == "\n":
            self.row = min(self.rows - 1, self.row + 1)
        elif char >= " " and self.row < self.rows:
            width = cell_len(char)
            if width == 0 and self.column:
                self.cells[self.row][min(self.column, self.columns) - 1] += char
            elif self.column < self.columns:
                self.cells[self.row][self.column : self.column + width] = [char, *[""] * (width - 1)]
                self.column += width

    def _control(self, params: str, final: str) -> None:
        if not re.fullmatch(r"[0-9;]*", params):
            return
        numbers = [int(part or 0) for part in params.split(";")]
        if final in ("H", "f"):
            row, column = [*numbers, 1, 1][:2] if len(numbers) > 1 else (numbers[0], 1)
            self.row, self.column = min(self.rows, max(1, row)) - 1, max(1, column) - 1
        elif final == "J" and numbers[0] in (2, 3):
            self.cells = [[" "] * self.columns for _ in range(self.rows)]
        elif final in ("A", "B", "C", "D"):
            step = max(1, numbers[0])
            self.row += {"A": -step, "B": step}.get(final, 0)
            self.column += {"D": -step, "C": step}.get(final, 0)

    @property
    def text(self) -> str:
        """The screen, line by line."""
        return "\n".join("".join(row).rstrip() for row in self.cells)


class PtyBoard:
    """`python -m shopboard open FOLDER --as ana` in a pseudo-terminal."""

    def __init__(self, folder: Path, *, who: str = "ana", rows: int = 24, columns: int = 80) -> None:
        self.terminal = Terminal(rows, columns)
        self.raw = b""
        self.ended: int | None = None
        self._decode = _decoder()
        self.pid, self._fd = pty.fork()
        if self.pid == 0:
            _become_the_board(folder, who)
        fcntl.ioctl(self._fd, termios.TIOCSWINSZ, struct.pack("HHHH", rows, columns, 0, 0))

    def send(self, text: str | bytes) -> None:
        """Type all of it at once."""
        os.write(self._fd, text.encode() if isinstance(text, str) else text)

    def until(self, condition: str | Callable[[str], bool], what: str = "") -> str:
        """Read until the screen holds the text, or the condition holds; returns the screen."""
        holds = condition if callable(condition) else (lambda screen: condition in screen)
        began = monotonic()
        while not holds(self.terminal.text):
            if monotonic() - began > PATIENCE or not self._read(1.0):
                raise AssertionError(f"never: {what or condition}\n{self.terminal.text}")
        return self.terminal.text

    def _read(self, wait: float) -> bool:
        """Take in what came; False once the board is gone."""
        ready, _, _ = select.select([self._fd], [], [], wait)
        if not ready:
            return True
        try:
            data = os.read(self._fd, 65536)
        except OSError:
            return False
        self.raw += data
        self.terminal.feed(self._decode(data))
        return bool(data)

    def close_terminal(self) -> None:
        """Close the window."""
        os.close(self._fd)
        self._fd = -1

    def kill(self, number: int) -> None:
        """Send a signal."""
        os.kill(self.pid, number)

    def wait(self) -> int:
        """Wait until the board is gone; its exit status (negative: the signal that ended it)."""
        began = monotonic()
        while self.ended is None:
            pid, status = os.waitpid(self.pid, os.WNOHANG)
            if pid:
                self.ended = os.waitstatus_to_exitcode(status)
            elif monotonic() - began > PATIENCE:
                raise AssertionError(f"the board does not end\n{self.terminal.text}")
            elif self._fd >= 0:
                self._read(0.05)
            else:
                select.select([], [], [], 0.05)
        return self.ended


def _decoder() -> Callable[[bytes], str]:
    import codecs

    return codecs.getincrementaldecoder("utf-8")("replace").decode


def _become_the_board(folder: Path, who: str) -> None:
    os.environ |= {"TERM": "xterm-256color", "COLORTERM": "truecolor", "LANG": "C.UTF-8"}
    os.environ.pop("NO_COLOR", None)
    os.chdir(folder.parent)
    os.execv(sys.executable, [sys.executable, "-m", "shopboard", "open", str(folder), "--as", who])


@contextmanager
def pty_board(folder: Path, *, opens: str = "FLOOR", **options: int) -> Iterator[PtyBoard]:
    """A board that has drawn its first screen; it is gone when the block ends, however it ends."""
    board = PtyBoard(folder, **options)  # type: ignore[arg-type]
    try:
        board.until(lambda screen: opens in screen and "? help" in screen, f"the {opens}")
        yield board
    finally:
        if board.ended is None:
            with contextlib.suppress(ProcessLookupError):
                os.kill(board.pid, signal.SIGKILL)
            board.wait()
        if board._fd >= 0:
            board.close_terminal()
