"""The plan worked out in a process of its own, so that the board answers every key meanwhile.

It opens the shop as another terminal would and never commits. Requests come on standard input and answers go out, each
as its length in 8 bytes and a pickle; both ends are this program. A new request cuts short what is being improved.
"""

from __future__ import annotations

import contextlib
import os
import pickle
import sys
from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import datetime
from queue import Empty, SimpleQueue
from threading import Thread
from typing import IO, Any
from zoneinfo import ZoneInfo

from shopboard.records import Job, Machine, Pin
from shopboard.store import Place, StoreError, open_shop, own_folder, place_of, read_book

from .plan_kept import keep, kept, kept_seq
from .planned import Planner


@dataclass(frozen=True)
class PlanIt:
    """Plan the shop as of now; `known` is what closed jobs teach (a Known, pickled), if that is new. `quiet`: nothing
    in the shop changed since the last plan, so that what moves is no news."""

    now: datetime
    known: bytes = b""
    quiet: bool = False


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
        """Answer questions first, then plan; of several of a kind only the last counts."""
        asked: dict[type, Any] = {}
        while True:
            for request in self._take(wait=not asked):
                if request is None:
                    return
                if isinstance(request, PlanIt) and PlanIt in asked:
                    before = asked[PlanIt]
                    request = PlanIt(request.now, request.known or before.known, request.quiet and before.quiet)
                asked[type(request)] = request
            self.store.refresh()
            if (tried := asked.pop(TryPin, None)) is not None:
                put(self.planner.try_pin(tried.now, tried.job, tried.pin, lambda: True), self._out)
            elif (day := asked.pop(OfferDays, None)) is not None:
                put(self.planner.offer(day.now, day.key, day.job, day.machine), self._out)
            elif PlanIt in asked:
                if self._plan(asked[PlanIt]):
                    del asked[PlanIt]
                else:  # what it moved is told already
                    asked[PlanIt] = replace(asked[PlanIt], quiet=True)

    def _take(self, *, wait: bool) -> Iterator[Any]:
        """What was asked since the last look; `wait` for the first if nothing else is to be done."""
        if wait:
            yield self._asked.get()
        with contextlib.suppress(Empty):
            while True:
                yield self._asked.get_nowait()

    def _plan(self, request: PlanIt) -> bool:
        """Plan, as far as nobody asks for something else; says whether it came to its end."""
        planner = self.planner
        if request.known:
            planner.known = pickle.loads(request.known)
        quiet = request.quiet
        if planner.seen is None:
            planner.seen = kept(self._folder, planner.state.settings, request.now)
            quiet = kept_seq(self._folder) == planner.state.seq  # time alone went by since people saw it
        for planned in planner.plan(request.now, self._asked.empty, quiet=quiet):
            put(planned, self._out)
            keep(self._folder, planned, self.store.state.settings)
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
