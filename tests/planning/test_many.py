"""Many futures at once against the same futures run one by one, with plain lists."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from random import Random

import numpy as np
import pytest

from shopboard.planning.draws import Draws, no_bay
from shopboard.planning.many import LOOK_AHEAD, axis_of, finishes
from shopboard.planning.tasks import Calendar, Span
from tests.aids import one_future

BAYS, PEOPLE = ("a", "b", "c"), ("x", "y", "z")


def calendar(random: Random, days: int = 12) -> Calendar:
    """Open days of eight hours; people come late, leave early, stay away; a bay is down for a day."""
    monday = datetime(2026, 3, 2, 8, tzinfo=UTC)
    spans, first = [], 0
    for n in range(days):
        start = monday + timedelta(days=n + 2 * (n // 5))
        spans.append(Span(date(start.year, start.month, start.day), first, start, 32))
        first += 32
    people = {}
    for person in PEOPLE:
        mask = 0
        for span in spans:
            if random.random() < 0.9:
                late, early = random.randrange(6), random.randrange(6)
                mask |= ((1 << (32 - late - early)) - 1) << (span.first + late)
        people[person] = mask
    whole = (1 << first) - 1
    bays = dict.fromkeys(BAYS, whole)
    down = random.choice(spans)
    bays["b"] &= ~(((1 << 32) - 1) << down.first)
    return Calendar(tuple(spans), bays, people)


def draws(random: Random, cal: Calendar, jobs: int, many: int) -> Draws:
    rng = np.random.default_rng(random.randrange(10**9))
    shape = (many, jobs, 3)
    count = rng.integers(1, 4, jobs)
    slots = rng.lognormal(1.0, 0.8, shape).astype(np.float32)
    for job, steps in enumerate(count):
        slots[:, job, steps:] = 0
    bays = rng.integers(1, 2 ** len(BAYS), shape)
    bays = np.where(rng.random(shape) < 0.3, no_bay([None] * len(BAYS)), bays)  # type: ignore[list-item]
    held = np.full(jobs, -1)
    if random.random() < 0.5:
        held[0] = 1
        bays[:, 0, 0] = no_bay([None] * len(BAYS))  # type: ignore[list-item]
    mean = np.where(slots.mean(axis=0) > 0, 4.0, 0.0).astype(np.float32) * rng.integers(1, 3, (jobs, 3))
    return Draws(
        ids=tuple(range(1, jobs + 1)), many=many, slots=slots,
        ready=(rng.integers(0, 150, shape) * (rng.random(shape) < 0.5)).astype(np.int32),
        lag=(rng.exponential(1.0, shape) * (rng.random(shape) < 0.4)).astype(np.float32),
        then=(rng.exponential(1.0, shape) * (rng.random(shape) < 0.3)).astype(np.float32),
        people=rng.integers(1, 2 ** len(PEOPLE), shape).astype(np.int32), bays=bays.astype(np.int32),
        factor=rng.lognormal(0, 0.2, (many, len(PEOPLE))).astype(np.float32),
        due=rng.integers(0, 200, jobs).astype(np.float32), weight=rng.choice([1.0, 3.0], jobs).astype(np.float32),
        held=held.astype(np.int32),
        first=(np.arange(jobs) == 0) & (random.random() < 0.5), mean=mean.astype(np.float32),
        calendar=cal, now=random.randrange(20),
    )  # fmt: skip


def one_by_one(found: Draws, n: int) -> list[int]:
    cal = found.calendar
    slots_of = lambda mask: {s for s in range(cal.end) if mask >> s & 1}  # noqa: E731
    shop = one_future.Shop(
        [slots_of(cal.people[p]) for p in PEOPLE],
        [slots_of(cal.bays[b]) for b in BAYS],
        [(cal.moment(s) - cal.moment(0)) / timedelta(days=1) for s in range(cal.end)],
        cal.end,
        [float(f) for f in found.factor[n]],
    )
    none = no_bay([None] * len(BAYS))  # type: ignore[list-item]
    items = []
    for j in range(len(found.ids)):
        steps = []
        for k in range(3):
            if found.slots[n, j, k] <= 0:
                break
            mask = int(found.bays[n, j, k])
            steps.append(
                one_future.Step(
                    float(found.slots[n, j, k]), int(found.ready[n, j, k]), float(found.lag[n, j, k]),
                    {p for p in range(3) if int(found.people[n, j, k]) >> p & 1},
                    None if mask == none else {b for b in range(3) if mask >> b & 1}, float(found.mean[j, k]),
                    float(found.then[n, j, k]),
                )
            )  # fmt: skip
        items.append(
            one_future.Item(
                steps, float(found.due[j]), float(found.weight[j]), int(found.held[j]), bool(found.first[j])
            )
        )
    pace = LOOK_AHEAD * max(1.0, float(found.mean[found.mean > 0].mean()))
    return one_future.run(shop, items, found.now, pace)


@pytest.mark.parametrize("seed", range(25))
def test_many_futures_are_those_run_one_by_one(seed: int) -> None:
    random = Random(seed)
    cal = calendar(random)
    found = draws(random, cal, random.randint(1, 14), 6)
    done = finishes(found, axis_of(cal, list(PEOPLE), list(BAYS)))
    for n in range(found.many):
        assert done[n].tolist() == one_by_one(found, n), f"future {n}"
