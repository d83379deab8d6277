"""The sample shop as a whole: cards first, then the board, until the sample's moment."""

from __future__ import annotations

import gzip
import heapq
import shutil
import tempfile
from collections.abc import Iterator
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from random import Random

from shopboard.records import Change, encode
from shopboard.shop import stock

from . import open_jobs
from .bench import Bench
from .hours import NOW, at, later
from .people import Fleet, fleet
from .plan import APART, Visit, visits
from .sources import KIND, SHIPPED, Complaint, complaints, sources
from .visit import Telling

SEED = 20251118
#: When the cards were typed in and the board began.
BEGAN = at(-62, "07:05")
WORDS = "The card index typed in: customers, machines and the jobs of three years. From today we sign on the board."


def build(seed: int = SEED) -> bytes:
    """The journal of the sample shop, as it ships."""
    with tempfile.TemporaryDirectory() as name:
        return _packed(_run(Path(name) / "shop", seed))


def _run(folder: Path, seed: int) -> list[Change]:
    folder.mkdir()
    for file in ("shop.toml", "models.toml"):
        shutil.copy(SHIPPED / file, folder)
    shutil.copytree(SHIPPED / "book", folder / "book")
    given, rng = sources(), Random(seed)
    bench = Bench(given)
    machines = fleet(bench, given)
    scripts = open_jobs.scripts(machines)
    here = open_jobs.taken(scripts)
    planned = visits(machines, complaints(given.book), here, rng)
    past = Past(bench, rng, planned, machines, here)
    past.run(BEGAN, scripts, folder)
    changes = bench.changes()
    bench.close()
    return changes


#: What was counted into the bins on the sample's morning: number, name, pieces, bin.
SHELF = (
    ("OIL-L", "drive oil", 18, "A-1"),
    ("OIL-G", "gear oil", 9, "A-2"),
    ("FF-452", "fuel filter", 4, "A-4"),
    ("KEY-6", "key", 12, "B-1"),
    ("LB-12", "lug bolt", 30, "B-2"),
    ("T26-UJ-301", "universal joint cross", 3, "C-1"),
    ("T26-F-310", "drive oil filter", 2, "C-2"),
)


class Past:
    """Everything that happens, in the order of time."""

    def __init__(
        self, bench: Bench, rng: Random, planned: list[Visit], machines: list[Fleet], here: dict[int, datetime]
    ) -> None:
        self.bench, self.rng, self.machines = bench, rng, machines
        self._line: list[tuple[datetime, int, Iterator[datetime]]] = []
        self._count = 0
        self._back = self._pick_comebacks(planned, here)
        for visit in planned:
            self._begin(visit, "")

    def _begin(self, visit: Visit, back_of: str) -> None:
        rng = Random(f"{visit.complaint.said}{visit.arrives:%Y%m%d}")
        self._add(visit.arrives, self._told(Telling(self.bench, visit, rng, back_of)))

    def _add(self, when: datetime, story: Iterator[datetime]) -> None:
        self._count += 1
        heapq.heappush(self._line, (when, self._count, story))

    def _told(self, telling: Telling) -> Iterator[datetime]:
        yield from telling.tell()
        comeback = self._back.pop(telling.visit.complaint.said, None)
        if comeback and not telling.declined:
            said, same = comeback
            days = self.rng.randrange(6, 40)
            again = Visit(telling.fleet, later(telling.now, 630 * days), said)
            self._begin(again, "same" if same else "other")

    def _pick_comebacks(self, planned: list[Visit], here: dict[int, datetime]) -> dict[str, tuple[Complaint, bool]]:
        """By the first complaint of a machine that came back: the second one, and whether it is the same trouble."""
        found: dict[str, tuple[Complaint, bool]] = {}
        for words in self.bench.given.comebacks:
            fit = [
                visit
                for visit in planned
                if visit.complaint.cause == words["cause"]
                and KIND[visit.fleet.model] == words["kind"]
                and visit.arrives < at(-130, "08:00")
                and visit.complaint.said not in found
                and visit.arrives + 2 * APART < here.get(visit.fleet.machine, NOW + 2 * APART)
            ]
            if not fit:
                raise ValueError(f"no visit can have been followed by: {words['said']}")
            first = self.rng.choice(fit).complaint
            same = words["then"] == words["cause"]
            symptoms = first.symptoms if same else self._symptoms(words["then"])
            again = replace(first, said=words["said"], cause=words["then"], symptoms=symptoms, answers=(), other="")
            found[first.said] = (again, same)
        return found

    def _symptoms(self, cause: str) -> tuple[str, ...]:
        shows = self.bench.book.causes[cause].shows
        return (max(shows, key=lambda symptom: shows[symptom]),)

    def run(self, began: datetime, scripts: list[open_jobs.Script], folder: Path) -> None:
        """Let it all happen until the sample's moment; on the way the board is opened, and the open jobs come in."""
        for script in scripts:
            story = script.tell(self.bench)
            self._add(script.first, story)
        opened = False
        while self._line:
            when, _, story = heapq.heappop(self._line)
            if not opened and when >= began:
                self.bench.open_board(folder, began, "ines", WORDS)
                opened = True
            if when > NOW:
                raise ValueError(f"a story goes on after the sample's moment: {when}")
            following = next(story, None)
            if following is not None:
                self._add(following, story)
        for number, name, pieces, bin in SHELF:
            self.bench.do(at(0, "10:40"), "dell", stock.lay, number, pieces, name=name, bin=bin)


def _packed(changes: list[Change]) -> bytes:
    times = [change.at for change in changes]
    if times != sorted(times):
        raise ValueError("the journal does not run forward")
    lines = b"".join(encode(change) + b"\n" for change in changes)
    return gzip.compress(lines, 9, mtime=0)
