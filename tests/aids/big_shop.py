"""Seeded shops of any size, for measuring."""

from __future__ import annotations

import random
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from pathlib import Path

from shopboard.records import (
    Answer,
    Customer,
    Finding,
    HourReading,
    Job,
    Layout,
    Likely,
    Machine,
    Note,
    PartLine,
    PartState,
    Record,
    RoadTest,
    Settlement,
    Spell,
    Stage,
    Step,
)
from shopboard.store import FolderStore, new_shop, open_shop

_FIRST = datetime(2016, 1, 4, 8, tzinfo=UTC)
_CHUNK = 500


def _job(id: int, at: datetime, machine: int, customer: int, over: bool, draw: random.Random) -> list[Record]:
    """One job as a shop leaves it, with two or three part lines (about 2 kB together)."""
    done = at + timedelta(days=draw.randrange(1, 12))
    answers = tuple(Answer(check=f"check-{n}", outcome="yes", at=at, by="ana") for n in range(draw.randrange(3, 7)))
    job = Job(
        id=id,
        customer=customer,
        machine=machine,
        arrived=at,
        complaint=draw.choice(
            ["slow going up the hill when warm", "clunk at speed change", "creeps at rest, pedal up"]
        ),
        stage=Stage.COLLECTED if over else draw.choice([Stage.ARRIVED, Stage.READY, Stage.PARTS]),
        since=done if over else at,
        symptoms=("weak-drive", "weak-when-hot"),
        answers=answers,
        likely=tuple(Likely(cause=f"cause-{n}", name="piston and bore wear", probability=0.5 / 2**n) for n in range(4)),
        findings=(Finding(cause="pump-worn", at=done, by="bo", confirmed=over),) if over else (),
        hours=float(draw.randrange(100, 4000)),
        notes=(Note(text="rang, left word with the foreman", at=at, by="ana"),),
        spent=tuple(Spell(by="bo", at=at, minutes=float(draw.randrange(10, 90))) for _ in range(3)),
        road_test=RoadTest(passed=True, interlocks_proved=True, brake_proved=True, at=done, by="bo") if over else None,
        settlement=Settlement(total=Decimal(640), paid=Decimal(640), at=done, by="ana") if over else None,
        closed_at=done if over else None,
    )
    state = PartState.FITTED if over else PartState.ORDERED
    lines = [
        PartLine(
            id=id * 3 + n,
            job=id,
            number=f"S-{draw.randrange(999)}",
            name="seal kit",
            quantity=1,
            state=state,
            needed_at=at,
        )
        for n in range(draw.randrange(2, 4))
    ]
    return [job, *lines]


def records(jobs: int, still_open: int, seed: int) -> Iterator[list[Record]]:
    """Batches of records: first customers and machines (one machine to five jobs), then jobs over ten years."""
    draw = random.Random(seed)
    machines = max(1, jobs // 5)
    customers = max(1, machines // 3)
    everyone: list[Record] = [
        Customer(id=n + 1, name=f"Customer {n}", phone=f"555 {n:05d}", address=f"{n} Mill Lane")
        for n in range(customers)
    ]
    for n in range(machines):
        seen = HourReading(at=_FIRST, hours=float(draw.randrange(3000)))
        owner = draw.randrange(customers) + 1
        everyone.append(
            Machine(id=n + 1, customer=owner, model="field-20", serial=f"F{n}", layout=Layout.IN_LINE, readings=(seen,))
        )
    yield everyone
    batch: list[Record] = []
    for n in range(jobs):
        at = _FIRST + timedelta(days=3650) * n / jobs
        batch += _job(
            n + 1, at, draw.randrange(machines) + 1, draw.randrange(customers) + 1, n < jobs - still_open, draw
        )
        if len(batch) > _CHUNK:
            yield batch
            batch = []
    yield batch


def make(folder: Path, jobs: int, still_open: int = 60, seed: int = 1) -> None:
    """A shop of `jobs` jobs in `folder`, all but the last few closed, put at rest."""
    new_shop(folder)
    store = open_shop(folder, clock=lambda: _FIRST)
    for batch in records(jobs, still_open, seed):
        _keep(store, batch)
    store.checkpoint()
    store.close()


def _keep(store: FolderStore, batch: list[Record]) -> None:
    store.commit("ana", lambda state, now: Step("brought over", tuple(batch)))
