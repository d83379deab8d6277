"""What closed jobs teach, worked out in a process of its own, so that the board answers every key meanwhile.

It opens the shop as another terminal would, never commits, and reads every closed job once. A line on standard input,
a moment in ISO 8601, asks for everything as of then; the answer goes out as its length in 8 bytes and a pickle: a
Knowledge, or the line that says why there is none. It ends when standard input does.
"""

from __future__ import annotations

import contextlib
import os
import pickle
import sys
from collections.abc import Iterable
from datetime import datetime
from pathlib import Path
from typing import IO
from zoneinfo import ZoneInfo

from shopboard.records import Change
from shopboard.store import FolderStore, StoreError, open_shop, read_book

from .knowledge import Knowledge, Material, reckon


def command(folder: Path) -> tuple[str, ...]:
    """How this is started as a process on the shop in `folder`."""
    return (sys.executable, "-m", "shopboard.places.knowledge_work", str(folder))


def put(answer: Knowledge | str, out: IO[bytes]) -> None:
    """Write one answer."""
    data = pickle.dumps(answer, protocol=pickle.HIGHEST_PROTOCOL)
    out.write(len(data).to_bytes(8, "big") + data)
    out.flush()


def get(source: IO[bytes]) -> Knowledge | str | None:
    """The next answer; None where there will be no more. Only ever reads what the process it started wrote."""
    size = source.read(8)
    if len(size) < 8:
        return None
    data = source.read(int.from_bytes(size, "big"))
    answer: Knowledge | str = pickle.loads(data)
    return answer


class Teacher:
    """The shop in a folder with every closed job whole, brought up to date before each reckoning."""

    def __init__(self, folder: Path) -> None:
        self.store: FolderStore = open_shop(folder)
        zone = ZoneInfo(self.store.state.settings.zone)
        closed = {job.id: (job, lines) for job, lines in self.store.closed_jobs()}
        now = datetime.fromtimestamp(0, zone)
        self.material = Material(self.store.state, read_book(folder), now, zone, closed, frozenset(closed))

    def teach(self, now: datetime) -> Knowledge:
        """What the closed jobs teach as of `now`, with everything committed until then."""
        material = self.material
        material.now = now
        material.fresh |= self._take(self.store.refresh())
        knowledge = reckon(material)
        material.fresh = frozenset()
        return knowledge

    def _take(self, changes: Iterable[Change]) -> frozenset[int]:
        """Bring the whole closed jobs up to date; which of them closed, changed or are closed no more."""
        state, closed = self.store.state, self.material.closed
        touched = {op.id for change in changes for op in change.ops if op.table == "jobs"}
        fresh = set()
        for id in touched:
            whole = state.load_closed(id) if id in state.closed else None
            if whole is not None:
                closed[id] = whole
                fresh.add(id)
            elif closed.pop(id, None) is not None:
                fresh.add(id)
        return frozenset(fresh)


def main() -> int:
    """Answer until nobody asks any more."""
    with contextlib.suppress(OSError, AttributeError):
        os.nice(10)
    out = sys.stdout.buffer
    teacher: Teacher | None = None
    for asked in sys.stdin:
        try:
            teacher = teacher or Teacher(Path(sys.argv[1]))
            put(teacher.teach(datetime.fromisoformat(asked.strip())), out)
        except (StoreError, OSError) as error:
            put(str(error), out)
    return 0


if __name__ == "__main__":
    sys.exit(main())
