"""The plan worked out in a process of its own, so that the board answers every key meanwhile.

It opens the shop as another terminal would and never commits. Requests come on standard input and answers go out, each
as its length in 8 bytes and a pickle; both ends are this program. A new request cuts short what is being improved.
"""

from __future__ import annotations

import contextlib
import os
import pickle
import sys
from dataclasses import dataclass
from datetime import datetime
from queue import Empty, SimpleQueue
from threading import Thread
from typing import IO, Any
from zoneinfo import ZoneInfo

from shopboard.planning.problem import Known
from shopboard.records import Job, Machine, Pin
from shopboard.store import Place, StoreError, open_shop, own_folder, place_of, read_book

from .plan_kept import keep, kept
from .planned import Planner


@dataclass(frozen=True)
class PlanIt:
    """Plan the shop as of now; `known` is what closed jobs teach, if that is new."""

    now: datetime
    known: Known | None = None


@dataclass(frozen=True)
class TryPin:
    """What choosing this for a job would do."""

    now: datetime
    job: int
    pin: Pin | None


@dataclass(frozen=True)
class OfferDays:
    """Which days could be promised for a job not yet taken in."""

    now: datetime
    key: str
    job: Job
    machine: Machine


def command(folder: Place) -> tuple[str, ...]:
    """How this is started as a process on the shop in `folder`."""
    return (sys.executable, "-m", "shopboard.places.plan_work", str(folder))


def put(what: Any, out: IO[bytes]) -> None:
    """Write one request or answer."""
    data = pickle.dumps(what, protocol=pickle.HIGHEST_PROTOCOL)
    out.write(len(data).to_bytes(8, "big") + data)
    out.flush()


def get(source: IO[bytes]) -> Any:
    """The next request or answer; None where there will be no more. Only ever reads what this program wrote."""
    size = source.read(8)
    if len(size) < 8:
        return None
    return pickle.loads(source.read(int.from_bytes(size, "big")))


class Worker:
    """Answers requests until standard input ends."""

    def __init__(self, folder: Place, out: IO[bytes]) -> None:
        self._folder, self._out = own_folder(folder), out
        self._asked: SimpleQueue[Any] = SimpleQueue()
        self.store = open_shop(folder)
        zone = ZoneInfo(self.store.state.settings.zone)
        self.planner = Planner(self.store.state, read_book(folder), zone)

    def listen(self, source: IO[bytes]) -> None:
        """In a thread: take requests in."""
        while (request := get(source)) is not None:
            self._asked.put(request)
        self._asked.put(None)

    def work(self) -> None:
        """Answer one request after the other; of several wishes for a plan only the last counts."""
        again: PlanIt | None = None
        while True:
            request: Any
            try:
                request = self._asked.get_nowait() if again else self._asked.get()
            except Empty:
                request, again = again, None
            if request is None:
                return
            self.store.refresh()
            if isinstance(request, PlanIt):
                again = None if self._plan(request) else request
            elif isinstance(request, TryPin):
                put(self.planner.try_pin(request.now, request.job, request.pin, lambda: True), self._out)
            elif isinstance(request, OfferDays):
                put(self.planner.offer(request.now, request.key, request.job, request.machine), self._out)

    def _plan(self, request: PlanIt) -> bool:
        """Plan, as far as nobody asks for something else; says whether it came to its end."""
        planner = self.planner
        planner.known = request.known or planner.known
        if planner.seen is None:
            planner.seen = kept(self._folder, planner.state.settings, request.now)
        for planned in planner.plan(request.now, self._asked.empty):
            put(planned, self._out)
            keep(self._folder, planned)
            if not self._asked.empty():
                return planned.done
        return True


def main() -> int:
    """Answer until nobody asks any more."""
    with contextlib.suppress(OSError, AttributeError):
        os.nice(10)
    out = sys.stdout.buffer
    try:
        worker = Worker(place_of(sys.argv[1]), out)
    except (StoreError, OSError) as error:
        put(str(error), out)
        return 0
    Thread(target=worker.listen, args=(sys.stdin.buffer,), daemon=True).start()
    with contextlib.suppress(BrokenPipeError):
        worker.work()
    return 0


if __name__ == "__main__":  # by its full name, so that requests are of the same kinds at both ends
    from shopboard.places import plan_work

    sys.exit(plan_work.main())
