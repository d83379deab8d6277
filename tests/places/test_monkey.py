"""Anything typed and clicked through a raw pseudo-terminal, in every place: no traceback, and a shop in order."""

from __future__ import annotations

import fcntl
import os
import select
import struct
import termios
from pathlib import Path
from random import Random

import pytest
from aids.pty_board import PtyBoard, pty_board
from aids.shops import make_shop

from shopboard.records import Table
from shopboard.records.codes import code_for
from shopboard.store import verify

_ARROWS = ("\x1b[A", "\x1b[B", "\x1b[C", "\x1b[D", "\x1b[5~", "\x1b[6~", "\x1b[H", "\x1b[F", "\x1b[Z", "\x1bOP")
_PLAIN = (
    "\r",
    "\t",
    "\x1b",
    "\x7f",
    " ",
    "\x03",
    "\x04",
    "\x0e",
    "\x10",
    "\x13",
    "\x14",
    "\x1a",
    "\x00",
    "\xff",
    "\x1b[200~",
)
_WORDS = (
    "weak drive",
    "[/b][left]",
    "1,5 mm",
    "−3",
    "12.345",
    "fri",
    "+3",
    "nobody",
    "日本",
    "e\u0301",
    "\u202eevil",
    "9" * 40,
)


#: A board that says nothing for so long (seconds) has caught up with what was typed.
QUIET = 0.25


def a_key(random: Random) -> str:
    """One key, click, scan, paste or half a sequence."""
    kind = random.random()
    if kind < 0.4:
        return chr(random.randrange(33, 127))
    if kind < 0.5:
        return "\x1b" + random.choice("cfbpo")
    if kind < 0.65:
        return random.choice(_PLAIN)
    if kind < 0.8:
        return random.choice(_ARROWS)
    if kind < 0.9:
        button, column, row = random.choice((0, 1, 2, 32, 64, 65)), random.randrange(1, 90), random.randrange(1, 30)
        return f"\x1b[<{button};{column};{row}{random.choice('Mm')}"
    if kind < 0.94:
        return f"\x1b[200~{random.choice(_WORDS)}\x1b[201~"
    if kind < 0.97:
        return f"{code_for(Table.JOBS, random.randrange(1, 9))}\r"
    return random.choice(_WORDS)


def resize(board: PtyBoard, random: Random) -> None:
    """Another size of the window."""
    rows, columns = random.randrange(10, 60), random.randrange(30, 220)
    fcntl.ioctl(board._fd, termios.TIOCSWINSZ, struct.pack("HHHH", rows, columns, 0, 0))


def play(board: PtyBoard, random: Random, events: int) -> int:
    """Type and click until so many events are spent or the board is left; how many were spent."""
    for spent in range(events):
        try:
            board.send(a_key(random))
        except OSError:
            return spent
        if not (drained(board, 0.0) if spent % 40 else caught_up(board)):
            return spent
        if spent % 997 == 0:
            resize(board, random)
    return events


def drained(board: PtyBoard, quiet: float) -> bool:
    """Read what came until nothing more comes for `quiet` seconds; False once the board is gone."""
    while select.select([board._fd], [], [], quiet)[0]:
        try:
            data = os.read(board._fd, 65536)
        except OSError:
            return False
        board.raw = board.raw[-200_000:] + data
        if not data:
            return False
    return True


def caught_up(board: PtyBoard) -> bool:
    """Wait until the board has dealt with all that was typed: it says nothing more, and does not even wait for its turn
    on a busy machine. False once it is gone."""
    before, rested = -1.0, False
    while not rested:
        if not drained(board, QUIET):
            return False
        now = _busy(board.pid)
        before, rested = now, before >= 0 and now - before < QUIET / 3
    return True


def _busy(pid: int) -> float:
    """Seconds that the threads of a process have worked or waited for a processor; 0 where the system does not tell."""
    try:
        told = [path.read_text().split() for path in Path(f"/proc/{pid}/task").glob("*/schedstat")]
    except OSError:
        return 0.0
    return sum(int(worked) + int(waited) for worked, waited, _ in told) / 1e9


def plays(folder: Path, seed: int, events: int) -> None:
    """Play on one shop, opening the board again whenever it was left, and look the shop over afterwards."""
    random, opened = Random(seed), 0
    make_shop(folder).close()
    while events > 0:
        opened += 1
        with pty_board(folder) as board:
            events -= max(1, play(board, random, events))
            if events <= 0 and caught_up(board):
                board.send("\x1b[201~\x1b\x1b\x1b\x11")  # ends a paste half begun, leaves dialogs, leaves
            ended = board.wait()
        assert b"Traceback" not in board.raw, board.raw[-4000:].decode("utf-8", "replace")
        assert ended == 0, f"the board, opened for the {opened}. time, ended with {ended}"
    assert verify(folder) == ()


def test_a_few_hundred_events(tmp_path: Path) -> None:
    plays(tmp_path / "shop", 1, 300)


@pytest.mark.long
def test_five_thousand_events(tmp_path: Path) -> None:
    plays(tmp_path / "shop", 2, 5000)
