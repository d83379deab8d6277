"""A shop with six years of closed jobs on disk, for measuring the memory: models, parts, rankings, service work."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import numpy as np

from shopboard.records import (
    Answer,
    Customer,
    Finding,
    HourReading,
    Job,
    Layout,
    Likely,
    Machine,
    Operation,
    PartLine,
    PartState,
    Record,
    Spell,
    Stage,
    Step,
)
from shopboard.store import new_shop, open_shop
from shopboard.trouble import Book

START = datetime(2020, 1, 1, 8, tzinfo=UTC)
DAYS, MODELS, CHUNK = 2190, 40, 500
#: The moment the shop is looked at.
NOW = START + timedelta(days=2200)
SUPPLIERS = ("north", "south", "maker")
CLASSES = ("seals", "hydraulics", "belts", "engine")


def models_text() -> str:
    """models.toml of the shop."""
    layouts = [str(layout) for layout in Layout]
    rows = [f'[[model]]\nid = "m{i}"\nname = "Model {i}"\nlayout = "{layouts[i % 4]}"\n' for i in range(MODELS)]
    return "\n".join(rows)


class Maker:
    """Draws machines and their jobs."""

    def __init__(self, book: Book, jobs: int, seed: int) -> None:
        self.rng: Any = np.random.default_rng(seed)
        self.layouts = list(Layout)
        self.causes = {y: [c.id for c in book.causes.values() if y in c.layouts] for y in self.layouts}
        self.points = {y: [p for p in book.service_points.values() if y in p.layouts] for y in self.layouts}
        machines = max(MODELS, jobs // 5)
        self.model = self.rng.integers(MODELS, size=machines)
        self.rate = self.rng.lognormal(np.log(0.5), 0.5, machines)
        self.visits: dict[int, list[int]] = {}
        whose = self.rng.integers(machines, size=jobs)
        for day, id in zip(np.sort(self.rng.integers(1, DAYS, jobs)), whose, strict=True):
            self.visits.setdefault(int(id), []).append(int(day))

    def hours(self, machine: int, day: int) -> float:
        """What the meter of a machine shows on a day."""
        return round(float(day * self.rate[machine]), 1)

    def machine(self, id: int) -> Machine:
        """A machine with a reading at every visit."""
        days = [0, *self.visits.get(id, [])]
        readings = tuple(HourReading(at=START + timedelta(days=d), hours=self.hours(id, d)) for d in days)
        layout = self.layouts[int(self.model[id]) % 4]
        return Machine(id=id + 1, customer=id % 900 + 1, model=f"m{self.model[id]}", layout=layout, readings=readings)

    def job(self, id: int, machine: int, day: int) -> list[Record]:
        """A closed job with a part or two, or none."""
        rng, layout = self.rng, self.layouts[int(self.model[machine]) % 4]
        at = START + timedelta(days=day)
        done = at + timedelta(days=2)
        causes = self.causes[layout]
        ranked = [causes[int(i)] for i in rng.choice(len(causes), 4, replace=False)]
        cause = ranked[0] if rng.random() < 0.6 else causes[int(rng.integers(len(causes)))]
        points = [p for p in self.points[layout] if rng.random() < 0.15]
        work = [Operation(id=cause, name="mend it", minutes=60.0, done=True)]
        work += [Operation(id=p.id, name=p.name, minutes=5.0, done=True) for p in points]
        job = Job(
            id=id,
            customer=machine % 900 + 1,
            machine=machine + 1,
            arrived=at,
            complaint="slow going up the hill when warm",
            stage=Stage.COLLECTED,
            since=done,
            symptoms=("weak-drive", "weak-when-hot"),
            answers=tuple(Answer(check=f"check-{n}", outcome="yes", at=at, by="ana") for n in range(4)),
            likely=tuple(Likely(cause=c, name=c, probability=0.55 / 2**n) for n, c in enumerate(ranked)),
            findings=(Finding(cause=cause, at=done, by="bo", confirmed=True),),
            operations=tuple(work),
            hours=self.hours(machine, day),
            spent=(Spell(by="bo", at=at, minutes=float(rng.integers(20, 200)), what="repair"),),
            closed_at=done,
        )
        lines = [self.part(id * 3 + n, id, at) for n in range(int(rng.integers(0, 3)))]
        return [job, *lines]

    def part(self, id: int, job: int, at: datetime) -> PartLine:
        """A part line, ordered and in."""
        rng = self.rng
        supplier, lead_class = SUPPLIERS[int(rng.integers(3))], CLASSES[int(rng.integers(4))]
        ordered = at + timedelta(hours=4)
        came = ordered + timedelta(days=float(rng.gamma(4.0, 1.5)))
        return PartLine(
            id=id, job=job, number=f"S-{id % 999}", name="seal kit", quantity=1, state=PartState.FITTED,
            supplier=supplier, lead_class=lead_class, needed_at=at, ordered_at=ordered, received_at=came,
        )  # fmt: skip


def records(book: Book, jobs: int, seed: int) -> Iterator[list[Record]]:
    """Batches of records: customers and machines, then jobs."""
    made = Maker(book, jobs, seed)
    yield [Customer(id=n + 1, name=f"Customer {n}", phone=f"555 {n:05d}") for n in range(900)]
    yield [made.machine(id) for id in range(len(made.model))]
    batch: list[Record] = []
    visits = sorted((day, id) for id, days in made.visits.items() for day in days)
    for number, (day, id) in enumerate(visits, 1):
        batch += made.job(number, id, day)
        if len(batch) > CHUNK:
            yield batch
            batch = []
    yield batch


def make(folder: Path, book: Book, jobs: int, seed: int = 1) -> None:
    """A shop of so many closed jobs in `folder`, put at rest."""
    new_shop(folder)
    (folder / "models.toml").write_text(models_text(), encoding="utf-8")
    store = open_shop(folder, clock=lambda: NOW)
    for batch in records(book, jobs, seed):
        store.commit("ana", lambda state, now, batch=batch: Step("brought over", tuple(batch)))  # type: ignore[misc]
    store.checkpoint()
    store.close()
