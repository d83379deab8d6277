"""The command line as a person or a script meets it: a process of its own, its two streams, its exit code."""

from __future__ import annotations

import ctypes
import os
import subprocess
import sys
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

#: What would make a run here differ from a run elsewhere.
_PYTHON = ("PYTHONIOENCODING", "PYTHONUTF8", "PYTHONUNBUFFERED", "PYTHONCOERCECLOCALE")
_OURS = ("SHOPBOARD_SHOP", "COLUMNS", "NO_COLOR", "FORCE_COLOR", "TERM", "LC_ALL", "LC_CTYPE", *_PYTHON)


@dataclass(frozen=True)
class Done:
    """How a command ended."""

    code: int
    out: str
    err: str

    def complained(self, code: int) -> str:
        """The one line it complained with; it must have ended with `code` and said nothing else."""
        assert self.code == code, (self.code, self.out, self.err)
        assert self.out == "", self.out
        return one_line(self.err)


def one_line(err: str) -> str:
    """The line that stands alone in `err`."""
    lines = err.splitlines()
    assert len(lines) == 1 and err.endswith("\n"), err
    assert lines[0].startswith("shopboard: ") and "Traceback" not in err
    assert lines[0].isprintable(), ascii(lines[0])
    return lines[0].removeprefix("shopboard: ")


def environment(**named: str) -> dict[str, str]:
    """This environment without what would change the output, with what is `named`."""
    return {key: value for key, value in os.environ.items() if key not in _OURS} | {"PYTHONUTF8": "1"} | named


def shopboard(*arguments: str | Path, env: dict[str, str] | None = None, **more: Any) -> Done:
    """Run `python -m shopboard` with no terminal. `more` goes to subprocess.run."""
    command = [sys.executable, "-m", "shopboard", *map(str, arguments)]
    given: dict[str, Any] = {"stdin": subprocess.DEVNULL, "capture_output": True, "timeout": 120} | more
    done = subprocess.run(command, env=env or environment(), **given)
    return Done(done.returncode, _text(done.stdout), _text(done.stderr))


def _text(said: bytes | None) -> str:
    return (said or b"").decode("utf-8")


def bound_by_rights() -> Callable[[], None] | None:
    """For `preexec_fn`: even root is held to the rights of files it owns. None where we are not root anyway."""
    if os.geteuid() != 0:
        return None
    libc, drop, override, search = ctypes.CDLL(None, use_errno=True), 24, 1, 2

    def give_up() -> None:
        for capability in (override, search):
            if libc.prctl(drop, capability, 0, 0, 0):
                raise OSError(ctypes.get_errno(), "this root cannot give up its rights")

    return give_up
