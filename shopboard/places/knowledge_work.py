"""What closed jobs teach, worked out in a process of its own, so that the board answers every key meanwhile.

It opens the shop as another terminal would, never commits, and reads every closed job once. Each line on standard
input is a question (an Ask as JSON); answers go out as their length in 8 bytes and MessagePack. The first question has
two answers: what the summaries teach, then what the jobs read whole do. What takes longer is seen to while nobody asks.
It ends when standard input does.
"""

from __future__ import annotations

import contextlib
import gc
import os
import queue
import sys
import threading
import time
from collections.abc import Iterable, Iterator, Sequence
from datetime import UTC, datetime
from typing import IO
from zoneinfo import ZoneInfo

import msgspec

from shopboard.records import Change
from shopboard.store import Place, StoreError, open_shop, place_of, read_book

from .knowledge import LESSONS, Answer, Ask, Material, Why

#: The first thing seen to while nobody asks; the lessons follow.
TEND = "tend"
#: A round of them is begun again at the earliest after so many times as long as it took.
PAUSE = 10.0


def command(folder: Place) -> tuple[str, ...]:
    """How this is started as a process on the shop in `folder`."""
    return (sys.executable, "-m", "shopboard.places.knowledge_work", str(folder))


def put(answer: Answer, out: IO[bytes]) -> None:
    """Write one answer."""
    data = msgspec.msgpack.encode(answer)
    out.write(len(data).to_bytes(8, "big") + data)
    out.flush()


def get(source: IO[bytes]) -> Answer | None:
    """The next answer; None where there will be no more."""
    size = int.from_bytes(source.read(8), "big")
    data = source.read(size) if size else b""
    if not data or len(data) < size:
        return None
    answer: Answer = msgspec.msgpack.decode(data, type=Answer)
    return answer


@contextlib.contextmanager
def all_stays() -> Iterator[None]:
    """While a shop is read nothing is garbage, and looking for some takes longer than reading; what is there in the end
    stays, and is not looked through again."""
    gc.disable()
    try:
        yield
    finally:
        gc.freeze()
        gc.enable()


class Idle:
    """What is left to see to while nobody asks. A round that took long is not begun again before many times as long."""

    def __init__(self, things: Sequence[str]) -> None:
        self.things, self.last = things, things[-1]
        self._left: list[str] = []
        self._wanted = False
        self._begun = self._not_before = 0.0

    def rise(self) -> None:
        """There is something new: go through all things once more when it is time."""
        self._wanted = True

    def take(self) -> str | None:
        """The next thing; None where nothing is left, or it is not yet time."""
        if not self._left and self._wanted and time.monotonic() >= self._not_before:
            self._left, self._wanted, self._begun = list(self.things), False, time.monotonic()
        if not self._left:
            return None
        if len(self._left) == 1:
            self._not_before = time.monotonic() + PAUSE * (time.monotonic() - self._begun)
        return self._left.pop(0)

    def wait(self) -> float | None:
        """Seconds until there may be something to do; None where only a question brings it."""
        if self._left:
            return 0.0
        return max(self._not_before - time.monotonic(), 0.0) if self._wanted else None


class Teacher:
    """The shop in a folder with every closed job whole, brought up to date before each answer."""

    def __init__(self, folder: Place) -> None:
        from .reckoning import Reckoning

        self.store = open_shop(folder)
        state = self.store.state
        zone = ZoneInfo(state.settings.zone)
        self.material = Material(state, read_book(folder), datetime.now(UTC), zone, {})
        with all_stays():
            self.reckoning = Reckoning(self.material)
        self.idle = Idle((TEND, *LESSONS))
        self._read = False

    def answers(self, asked: Ask) -> Iterator[Answer]:
        """What the closed jobs teach as of the moment asked for, with everything committed until then."""
        self.material.now = asked.now
        self._take(self.store.refresh())
        if asked.component:
            yield self.reckoning.page(asked.component, asked.model)
            return
        if not self._read:
            yield self.reckoning.knowledge()
            with all_stays():
                self._read_wholes()
                self.reckoning.tend_service()
        yield self.reckoning.knowledge()
        self.idle.rise()

    def spare(self) -> Answer | None:
        """One thing seen to that need not be there at once: the answer it makes, None where nothing is left."""
        what = self.idle.take()
        if what is None:
            return None
        if what == TEND:
            self.reckoning.tend()
            return self.reckoning.knowledge()
        lesson = self.reckoning.lesson(what)
        if self.idle.last == what:
            self.material.fresh = frozenset()
        return lesson

    def _read_wholes(self) -> None:
        self._read = True
        closed = self.material.closed
        try:
            for job, lines in self.store.closed_jobs():
                closed[job.id] = (job, lines)
        finally:  # what can be read teaches all the same
            self.material.fresh = frozenset(closed)
            self.reckoning.take_wholes(closed.values())

    def _take(self, changes: Iterable[Change]) -> None:
        """Bring machines and whole closed jobs up to date."""
        state, closed = self.store.state, self.material.closed
        touched: dict[str, set[int]] = {"jobs": set(), "machines": set()}
        for change in changes:
            for op in change.ops:
                touched.get(op.table, set()).add(op.id)
        fresh = {id for id in touched["jobs"] if id in state.closed or id in closed}
        if self._read:
            for id in fresh:
                whole = state.load_closed(id) if id in state.closed else None
                if whole is not None:
                    closed[id] = whole
                else:
                    closed.pop(id, None)
            self.material.fresh |= fresh
        self.reckoning.take(touched["machines"], fresh)


def main() -> int:
    """Answer until nobody asks any more."""
    with contextlib.suppress(OSError, AttributeError):
        os.nice(10)
    out = sys.stdout.buffer
    lines: queue.Queue[str] = queue.Queue()
    threading.Thread(target=_read, args=(lines,), daemon=True).start()
    teacher: Teacher | None = None
    while True:
        try:
            line = lines.get(timeout=teacher.idle.wait() if teacher else None)
        except queue.Empty:
            line = None
        if line == "":
            return 0
        try:
            teacher = teacher or Teacher(place_of(sys.argv[1]))
            for answer in teacher.answers(msgspec.json.decode(line, type=Ask)) if line else [teacher.spare()]:
                if answer is not None:
                    put(answer, out)
        except (StoreError, OSError) as error:
            put(Why(str(error)), out)


def _read(lines: queue.Queue[str]) -> None:
    """In a thread: the questions as they come, and "" at the end."""
    for line in sys.stdin:
        lines.put(line)
    lines.put("")


if __name__ == "__main__":
    sys.exit(main())
