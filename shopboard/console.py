"""The terminal or pipe at the other end: whether it can show a board, how wide it is, which letters it takes."""

from __future__ import annotations

import codecs
import io
import os
import shutil
import sys

#: Our own signs in plain letters, one for one so that columns stay in place.
_PLAIN = dict(zip("▌━┄╺╸█▉▊▋▍▎▏–−…“”’·×", '|=-<>####+..--~""\'.x', strict=True))


def has_terminal() -> bool:
    """Whether input and output are a terminal that can move its cursor."""
    if sys.stdin is None or not (sys.stdin.isatty() and sys.stdout.isatty()):
        return False
    return os.environ.get("TERM", "") not in ("", "dumb")


def width() -> int:
    """The columns to write in: those of the terminal or $COLUMNS, 100 where neither says, never below 80."""
    return max(80, shutil.get_terminal_size((100, 24)).columns)


def prepare() -> None:
    """Let no letter stop the output: what the other end cannot take stands as a plain sign or as <U+XXXX>.

    A stream that was closed before the start swallows what is written to it.
    """
    codecs.register_error("shopboard", _replaced)
    for name in ("stdout", "stderr"):
        stream = getattr(sys, name)
        if stream is None:
            setattr(sys, name, open(os.devnull, "w", encoding="utf-8"))  # noqa: SIM115 - until the program ends
        elif isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="shopboard")


def _replaced(error: UnicodeError) -> tuple[str, int]:
    if not isinstance(error, UnicodeEncodeError):
        raise error
    refused = error.object[error.start : error.end]
    return "".join(_PLAIN.get(char) or f"<U+{ord(char):04X}>" for char in refused), error.end


def let_go() -> None:
    """Forget what is still to be written: nobody takes it."""
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
