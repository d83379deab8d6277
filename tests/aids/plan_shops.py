"""Random shops to plan for, from a seed."""

from __future__ import annotations

import random
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

from msgspec.structs import replace as replace_record

from shopboard.planning.tasks import Calendar, JobAhead, Kind, Problem, Span, Task
from shopboard.records import Bay, Person, Role

DAY = 36  # slots of an open day, 8:00 to 17:00
SKILLS = ("hydrostat", "driveline", "engine")
OFFERS = ("lift", "exhaust", "hoist")


def axis(days: int, slots: int = DAY, first: date = date(2026, 11, 23)) -> tuple[Span, ...]:
    """`days` working days from a Monday on, each of `slots` slots from 8:00 UTC."""
    spans, day = [], first
    while len(spans) < days:
        if day.weekday() < 5:
            start = datetime(day.year, day.month, day.day, 8, tzinfo=UTC)
            spans.append(Span(day, len(spans) * slots, start, slots))
        day += timedelta(days=1)
    return tuple(spans)


def everyone(names: list[str], days: int) -> dict[str, int]:
    """Masks of those who are always there."""
    return dict.fromkeys(names, (1 << days * DAY) - 1)


def busy_shop(seed: int, jobs: int, bays: int, people: int, *, tight: bool, days: int = 60) -> Problem:
    """A shop as benchmarks use it: everybody there all day, parts and approvals to wait for, promises tight or loose.

    Work is diagnose (2-8 slots), repair (4-24) and road test (1-2, no bay); a job may be past its first steps. Promises
    are drawn between nearly nothing and the whole load a person has (tight), or 1.8 times that (loose), and never
    before the job could be over if it were alone.
    """
    rng = random.Random(seed)
    floor = [Bay(id=f"b{n}", name=f"bay {n}", can=_offers(rng, n)) for n in range(bays)]
    crew = [Person(id=f"p{n}", name=f"P{n}", roles=(Role.TECHNICIAN,), skills=_skills(rng, n)) for n in range(people)]
    tasks = [_tasks(rng, number) for number in range(1, jobs + 1)]
    load = sum(task.slots for chain in tasks for task in chain) / people
    ahead = []
    for number, chain in enumerate(tasks, 1):
        least = max(0, chain[0].earliest)
        for task in chain:
            least = max(least + task.lag, task.earliest) + task.slots
        low, high = (0.05, 1.0) if tight else (0.2, 1.8)
        promise = max(round(least * (1.0 if tight else 1.2)), round(rng.uniform(low, high) * load))
        weight = rng.choices((1.0, 2.0, 4.0), (6, 3, 1))[0]
        ahead.append(JobAhead(number, chain, promise, weight, -rng.randrange(200)))
    calendar = Calendar(axis(days), everyone([b.id for b in floor], days), everyone([p.id for p in crew], days))
    return Problem(tuple(ahead), tuple(floor), tuple(crew), calendar)


def _offers(rng: random.Random, n: int) -> tuple[str, ...]:
    return tuple(offer for k, offer in enumerate(OFFERS) if n % len(OFFERS) == k or rng.random() < 0.4)


def _skills(rng: random.Random, n: int) -> tuple[str, ...]:
    return tuple(skill for k, skill in enumerate(SKILLS) if n % len(SKILLS) == k or rng.random() < 0.5)


def _tasks(rng: random.Random, job: int) -> tuple[Task, ...]:
    skill = frozenset({rng.choice(SKILLS)})
    offer = frozenset({rng.choice(OFFERS)}) if rng.random() < 0.7 else frozenset[str]()
    arrival = 0 if rng.random() < 0.7 else rng.randrange(5 * DAY)
    chain = []
    diagnosed = rng.random() < 0.5
    if not diagnosed:
        chain.append(Task(job, Kind.DIAGNOSE, rng.randint(2, 8), arrival, capabilities=frozenset(), skills=skill))
    waits = rng.random() < 0.4
    lag = rng.randrange(DAY, 5 * DAY) if waits and not diagnosed else 0
    parts = rng.randrange(8 * DAY) if waits and diagnosed else arrival
    chain.append(Task(job, Kind.REPAIR, rng.randint(4, 24), parts, "", lag, capabilities=offer, skills=skill))
    chain.append(Task(job, Kind.ROAD_TEST, rng.randint(1, 2), capabilities=None))
    return tuple(chain)


def any_shop(seed: int) -> Problem:
    """A small shop with everything that can happen: half days, days off, bays down, pins, machines that cannot be
    moved, work under way, skills nobody has, promises gone by, and now in the middle of a day."""
    rng = random.Random(seed)
    days = 30
    floor = [Bay(id=f"b{n}", name=f"bay {n}", can=_offers(rng, n)) for n in range(rng.randint(1, 4))]
    crew = [
        Person(id=f"p{n}", name=f"P{n}", roles=(Role.TECHNICIAN,), skills=_skills(rng, n))
        for n in range(rng.randint(1, 4))
    ]
    if rng.random() < 0.7:  # somebody who can do everything, and a bay that has it all
        floor[-1] = replace_record(floor[-1], can=OFFERS)
        crew[-1] = replace_record(crew[-1], skills=SKILLS)
    calendar = Calendar(
        axis(days),
        {bay.id: _closures(rng, days, 0.15) for bay in floor},
        {person.id: _shift(rng, days) & _closures(rng, days, 0.4) for person in crew},
    )
    now = rng.choice((0, 0, rng.randrange(3 * DAY)))
    ahead = []
    standing = [bay.id for bay in floor if rng.random() < 0.5]
    hands = [person.id for person in crew if rng.random() < 0.5]
    for number in range(1, rng.randint(2, 14)):
        chain = _any_tasks(rng, number, now, floor, crew, standing, hands)
        promise = None if rng.random() < 0.2 else rng.randint(-2 * DAY, 10 * DAY)
        ahead.append(JobAhead(number, chain, promise, rng.choice((1.0, 2.0, 4.0)), rng.randint(-100, now)))
    return Problem(tuple(ahead), tuple(floor), tuple(crew), calendar, now)


def _closures(rng: random.Random, days: int, chance: float) -> int:
    mask = (1 << days * DAY) - 1
    while rng.random() < chance:
        first = rng.randrange(days * DAY // 2)
        mask &= ~(((1 << rng.randint(4, 4 * DAY)) - 1) << first)
    return mask


def _shift(rng: random.Random, days: int) -> int:
    first, last = rng.choice(((0, DAY), (0, DAY), (0, 16), (8, DAY), (4, 30)))
    day = ((1 << (last - first)) - 1) << first
    return sum(day << (n * DAY) for n in range(days) if rng.random() < 0.9)


def _any_tasks(
    rng: random.Random,
    job: int,
    now: int,
    floor: list[Bay],
    crew: list[Person],
    standing: list[str],
    hands: list[str],
) -> tuple[Task, ...]:
    chain = list(_tasks(rng, job))
    chain = [replace(task, earliest=max(0, task.earliest - DAY)) for task in chain]
    if rng.random() < 0.1:
        chain[0] = replace(chain[0], skills=frozenset({"welding"}))
    if rng.random() < 0.15:
        chain[0] = replace(chain[0], person=rng.choice(crew).id)
    if rng.random() < 0.15 and chain[0].needs_bay:
        chain[0] = replace(chain[0], bay=rng.choice([*(bay.id for bay in floor), "nowhere"]))
    if len(chain) > 2 and rng.random() < 0.4:
        chain[1] = replace(chain[1], keeps_bay=True)
    if standing and rng.random() < 0.4:
        chain[0] = replace(chain[0], bay=standing.pop(), keeps_bay=True)
        if hands and rng.random() < 0.6:
            chain[0] = replace(chain[0], person=hands.pop(), start=now)
    elif rng.random() < 0.05:
        chain[0] = replace(chain[0], start=now + rng.randrange(DAY))
    return tuple(chain)
