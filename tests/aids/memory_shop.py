"""Closed jobs for the screens that show the memory: three models, the front joints of one fail young."""

from __future__ import annotations

from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np

from shopboard.places.knowledge import Material
from shopboard.places.reckoning import Reckoning
from shopboard.records import (
    ClosedJob,
    Customer,
    Finding,
    HourReading,
    Job,
    Layout,
    Likely,
    Machine,
    Model,
    Operation,
    PartLine,
    PartState,
    ServicePoint,
    Settings,
    ShopState,
    Spell,
    Stage,
)
from shopboard.trouble import Book

MODELS = {"ferrow-24": Layout.IN_LINE, "brindle-z": Layout.SPLIT, "garrel-2w": Layout.GEAR}
EARLY, JOINT = "ferrow-24", "front-joint"
_POINT = ServicePoint(
    id="joint-grease", name="front joint: grease", normal_hours=50, severe_hours=20, covers=("floor-plate",)
)


def reckoned(book: Book, now: datetime) -> Reckoning:
    """The shop gone through at this moment."""
    state, wholes = _shop(now)
    made = Reckoning(Material(state, book, now, ZoneInfo("UTC"), wholes))
    made.take_wholes(wholes.values())
    made.tend()
    return made


def _shop(now: datetime) -> tuple[ShopState, dict[int, tuple[Job, tuple[PartLine, ...]]]]:
    rng = np.random.default_rng(7)
    models = {
        id: Model(id=id, name=id, layout=layout, service_points=(_POINT,) if id == EARLY else ())
        for id, layout in MODELS.items()
    }
    machines: dict[int, Machine] = {}
    wholes: dict[int, tuple[Job, tuple[PartLine, ...]]] = {}
    for id in range(1, 46):
        model = list(MODELS)[id % 3]
        began, to = now - timedelta(days=900), float(rng.integers(400, 1400))
        scale = 500.0 if model == EARLY else 6000.0
        ages = {JOINT: float(scale * rng.weibull(2.0)), "piston-wear": float(2200 * rng.weibull(2.5))}
        fits = {cause: age for cause, age in ages.items() if age < to and (cause == JOINT) != (model == "brindle-z")}
        readings = [(0.0, 0.0), *((860 * age / to, age) for age in sorted(fits.values())), (860.0, to)]
        seen = tuple(HourReading(at=began + timedelta(days=d), hours=round(h, 1)) for d, h in readings)
        machines[id] = Machine(id=id, customer=id % 9 + 1, model=model, layout=MODELS[model], readings=seen)
        for cause, age in fits.items():
            job = len(wholes) + 1
            wholes[job] = _whole(job, machines[id], cause, began + timedelta(days=860 * age / to), round(age, 1), rng)
    closed = {id: _summary(job) for id, (job, _) in wholes.items()}
    customers = {n: Customer(id=n, name=f"Farm {n}", phone=f"555 010{n}") for n in range(1, 10)}
    state = ShopState(settings=Settings(name="M"), models=models, machines=machines, closed=closed, customers=customers)
    return state, wholes


def _whole(
    id: int, machine: Machine, cause: str, at: datetime, hours: float, rng: np.random.Generator
) -> tuple[Job, tuple[PartLine, ...]]:
    likely = tuple(Likely(cause=c, name=c, probability=p) for c, p in ((cause, 0.7), ("low-oil", 0.1)))
    mend = Operation(id=cause, name="mend it", minutes=60, done=True)
    work = (mend, Operation(id=_POINT.id, name=_POINT.name, minutes=5, done=True))
    job = Job(
        id=id, customer=machine.customer, machine=machine.id, arrived=at, since=at, closed_at=at + timedelta(days=2),
        complaint="weak", stage=Stage.COLLECTED, hours=hours, likely=likely if rng.random() < 0.8 else likely[::-1],
        findings=(Finding(cause=cause, at=at, by="bo", confirmed=True),), operations=work,
        spent=(Spell(by="bo", at=at, minutes=float(rng.integers(50, 90)), what="repair"),),
    )  # fmt: skip
    came = at + timedelta(days=float(rng.gamma(4.0, 1.2)))
    line = PartLine(
        id=id, job=id, number="J-1", name="joint", quantity=1, state=PartState.FITTED, supplier="north",
        lead_class="joints", needed_at=at, ordered_at=at, received_at=came,
    )  # fmt: skip
    return job, (line,)


def _summary(job: Job) -> ClosedJob:
    return ClosedJob(
        id=job.id, customer=job.customer, machine=job.machine, complaint=job.complaint, causes=(job.findings[0].cause,),
        stage=job.stage, hours=job.hours, arrived=job.arrived, closed_at=job.closed_at or job.arrived,
    )  # fmt: skip
