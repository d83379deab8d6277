"""How the board comes by what closed jobs teach: asked for after the first paint, taken in as a message."""

from __future__ import annotations

import contextlib
import subprocess
from abc import abstractmethod
from datetime import datetime
from pathlib import Path
from threading import Thread
from time import monotonic
from typing import TYPE_CHECKING

from textual.message import Message

from .scans import ScanningApp

if TYPE_CHECKING:  # it brings what nothing loads before the first paint
    from .knowledge import Knowledge

#: Seconds between looks whether something changed, and between reckonings while only open jobs change.
LOOK, REST = 0.5, 30.0


class KnowingApp(ScanningApp):
    """An app that knows what closed jobs teach: `knowledge`, None until it is reckoned; `unknown` says why not."""

    class Taught(Message):
        """The closed jobs were gone through: what they teach, or why nothing can be said."""

        def __init__(self, answer: Knowledge | str) -> None:
            super().__init__()
            self.answer = answer

    def __init__(self) -> None:
        super().__init__()
        self.knowledge: Knowledge | None = None
        self.unknown = "not reckoned yet"
        self._teacher: subprocess.Popen[bytes] | None = None
        self._asked_seq, self._asked_closed, self._asked_at, self._asking = -1, -1, 0.0, False

    @abstractmethod
    def now(self) -> datetime:
        """The present moment, UTC."""

    @abstractmethod
    def shop_changed(self) -> None:
        """Draw the place in front anew."""

    def start_knowing(self, folder: Path) -> None:
        """Begin to have the closed jobs gone through, now and whenever one closes; returns at once."""
        from .knowledge_work import command

        self._teacher = subprocess.Popen(
            command(folder), stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL
        )
        Thread(target=self._listen, args=(self._teacher,), daemon=True).start()
        self._keep_knowing()
        self.set_interval(LOOK, self._keep_knowing)

    def stop_knowing(self) -> None:
        """Let the process go."""
        if self._teacher is not None:
            self._teacher.kill()
            self._teacher.wait()
            self._teacher = None

    def _keep_knowing(self) -> None:
        """Ask anew when a job closed since, or now and then when anything changed."""
        state = self.state
        if self._asking or self._teacher is None or state.seq == self._asked_seq:
            return
        if len(state.closed) == self._asked_closed and monotonic() - self._asked_at < REST:
            return
        self._asked_seq, self._asked_closed, self._asked_at, self._asking = (
            state.seq,
            len(state.closed),
            monotonic(),
            True,
        )
        assert self._teacher.stdin is not None
        with contextlib.suppress(BrokenPipeError):
            self._teacher.stdin.write(self.now().isoformat().encode() + b"\n")
            self._teacher.stdin.flush()

    def _listen(self, teacher: subprocess.Popen[bytes]) -> None:
        """In a thread: hand on what the process answers, until it ends."""
        from .knowledge_work import get

        assert teacher.stdout is not None
        while (answer := get(teacher.stdout)) is not None:
            self.post_message(self.Taught(answer))
        self.post_message(self.Taught("the process that reckons it has ended: open the board again"))

    def on_knowing_app_taught(self, event: KnowingApp.Taught) -> None:
        """Take in what was learned and show it."""
        self._asking = False
        if isinstance(event.answer, str):
            self.unknown = event.answer
            return
        self.knowledge, self.unknown = event.answer, ""
        self.shop_changed()
