"""A hand at the keyboard of a board in a pseudo-terminal: what it types are words, what it presses is counted."""

from __future__ import annotations

from collections.abc import Callable

from aids.pty_board import PtyBoard

ENTER, ESC, DOWN, BACK, CTRL_S, CTRL_N = "\r", "\x1b", "\x1b[B", "\x7f", "\x13", "\x0e"


class Hand:
    """`keys` counts what was pressed, `looks` how often the hand waited to see something."""

    def __init__(self, board: PtyBoard) -> None:
        self.board = board
        self.keys = self.looks = 0

    def press(self, *keys: str) -> None:
        """Press keys that are no words; each counts."""
        for key in keys:
            self.board.send(key)
        self.keys += len(keys)

    def words(self, text: str) -> None:
        """Type words, a number or a name: what has to be said in any case."""
        self.board.send(text)

    def slip(self, text: str) -> None:
        """Type words with one wrong letter in them, see it, take it back and type on; taking it back counts."""
        middle = len(text) // 2
        self.words(f"{text[:middle]}q")
        self.press(BACK)
        self.words(text[middle:])

    def scan(self, code: str) -> None:
        """A scanner sends a code in one burst; nobody presses anything."""
        self.board.send(f"{code}\r")

    def sees(self, condition: str | Callable[[str], bool], what: str = "") -> str:
        """Look until it is there; returns the screen."""
        self.looks += 1
        return self.board.until(condition, what)
