"""How the board comes by what closed jobs teach: asked for after the first paint, taken in as a message."""

from __future__ import annotations

import contextlib
import subprocess
import sys
from abc import abstractmethod
from datetime import datetime
from threading import Thread
from time import monotonic
from typing import TYPE_CHECKING

from textual.message import Message

from shopboard.store import Place

from .scans import ScanningApp

if TYPE_CHECKING:  # it brings what nothing loads before the first paint
    from .knowledge import Answer, CellPage, Knowledge

#: Seconds between looks whether something changed, and between reckonings while no job comes or goes.
LOOK, REST = 0.25, 30.0
#: Seconds that a thread which loads things beside the keys has before a key gets its turn.
TURN = 0.001


class KnowingApp(ScanningApp):
    """An app that knows what closed jobs teach: `knowledge`, None until it is reckoned; `unknown` says why not."""

    class Taught(Message):
        """The closed jobs were gone through: what they teach, or why nothing can be said."""

        def __init__(self, answer: Answer) -> None:
            super().__init__()
            self.answer = answer

    def __init__(self) -> None:
        super().__init__()
        self.knowledge: Knowledge | None = None
        self.unknown = "not reckoned yet"
        self.cell_pages: dict[tuple[str, str], CellPage] = {}
        self._teacher: subprocess.Popen[bytes] | None = None
        self._asked: tuple[int, int, int] = (-1, -1, -1)
        self._asked_at, self._asking = 0.0, False
        self.beginning = False

    @abstractmethod
    def now(self) -> datetime:
        """The present moment, UTC."""

    @abstractmethod
    def shop_changed(self) -> None:
        """Draw the place in front anew."""

    def begin_knowing(self, folder: Place) -> None:
        """Start knowing once what that needs is loaded, which a thread does: no key waits for it."""
        self.beginning = True
        usual = sys.getswitchinterval()
        sys.setswitchinterval(TURN)

        def load() -> None:
            from . import knowledge_work, plan_work  # noqa: F401

            sys.setswitchinterval(usual)
            with contextlib.suppress(RuntimeError):  # the board was left meanwhile
                self.call_from_thread(self.start_knowing, folder)

        Thread(target=load, daemon=True).start()

    def start_knowing(self, folder: Place) -> None:
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
        """Ask anew when a job came or closed since, or now and then when anything changed."""
        state = self.state
        seen = (state.seq, len(state.closed), len(state.jobs))
        if self._asking or seen[0] == self._asked[0]:
            return
        if seen[1:] == self._asked[1:] and monotonic() - self._asked_at < REST:
            return
        if self._ask():
            self._asked, self._asked_at, self._asking = seen, monotonic(), True

    def ask_cell(self, component: str, model: str) -> CellPage | None:
        """The page of one component on one model as far as it is known, and a newer one on its way if there may be;
        the board is told by `Taught` when it is here."""
        page = self.cell_pages.get((component, model))
        known = self.knowledge.seq if self.knowledge else -1
        if page is None or page.seq < known:
            self._ask(component, model)
        return page

    def _ask(self, component: str = "", model: str = "") -> bool:
        """Put a question to the process; says whether there is one that listens."""
        if self._teacher is None:
            return False
        import msgspec

        from .knowledge import Ask

        assert self._teacher.stdin is not None
        with contextlib.suppress(BrokenPipeError):
            self._teacher.stdin.write(msgspec.json.encode(Ask(self.now(), component, model)) + b"\n")
            self._teacher.stdin.flush()
        return True

    def _listen(self, teacher: subprocess.Popen[bytes]) -> None:
        """In a thread: hand on what the process answers, until it ends."""
        from .knowledge import Why
        from .knowledge_work import get

        assert teacher.stdout is not None
        while (answer := get(teacher.stdout)) is not None:
            self.post_message(self.Taught(answer))
        self.post_message(self.Taught(Why("what reckons it has ended: open the board again")))

    def on_knowing_app_taught(self, event: KnowingApp.Taught) -> None:
        """Take in what was learned and show it."""
        from .knowledge import CellPage, Knowledge, Lesson

        answer = event.answer
        if isinstance(answer, Knowledge):
            self._asking = not answer.whole
            self.knowledge, self.unknown = answer.after(self.knowledge), ""
        elif isinstance(answer, Lesson):
            self.knowledge = self.knowledge.with_lesson(answer) if self.knowledge else None
        elif isinstance(answer, CellPage):
            self.cell_pages[answer.component, answer.model] = answer
        else:
            self._asking, self.unknown = False, answer.said
        self.shop_changed()
        for screen in self.screen_stack:
            learned = getattr(screen, "learned", None)
            if learned is not None and screen.is_mounted:
                learned()
