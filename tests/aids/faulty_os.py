"""A stand-in for `os` in which the n-th call of one kind fails as a full or broken disk would."""

from __future__ import annotations

import os
from typing import Any


class FaultyOs:
    """Passes everything on to `os`; call `at` (from 1) of `kind` raises `number`, with `stuck` all later ones.

    A failing write first writes half of what it was given, as a disk that fills up does.
    """

    def __init__(self, kind: str, at: int, number: int, *, stuck: bool = False) -> None:
        self.kind, self.at, self.number, self.stuck = kind, at, number, stuck
        self.calls, self.failed = 0, 0

    def __getattr__(self, name: str) -> Any:
        found = getattr(os, name)
        return self._counted(found) if name == self.kind else found

    def _counted(self, real: Any) -> Any:
        def call(*args: Any, **more: Any) -> Any:
            self.calls += 1
            if self.calls == self.at or (self.stuck and self.calls > self.at):
                self.failed += 1
                if self.kind == "write" and self.calls == self.at:
                    real(args[0], bytes(args[1])[: len(args[1]) // 2])
                raise OSError(self.number, os.strerror(self.number))
            return real(*args, **more)

        return call
