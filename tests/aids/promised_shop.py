"""A shop that works for months with machines coming in, each promised a date when it comes: do the dates hold?

The shop is run here with plain lists, by the most urgent job first; what really happens to a job is drawn when it comes
and never shown to the planner, which knows the shop's records only: stages, since when, what was asked and ordered, and
what a sample of past jobs taught it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from random import Random
from types import SimpleNamespace
from typing import Any
from zoneinfo import ZoneInfo

import msgspec
import numpy as np

from shopboard.memory.lead_times import LeadTimes, Wait
from shopboard.planning.calendar import shop_calendar
from shopboard.planning.durations import DIAGNOSIS_MINUTES, ROAD_TEST_MINUTES, Took, paces
from shopboard.planning.problem import Known, reckon
from shopboard.planning.promise import futures, slot_that_holds
from shopboard.planning.tasks import SLOT, Kind
from shopboard.planning.waiting import Waiting
from shopboard.records import (
    Approval,
    Bay,
    Job,
    Likely,
    Operation,
    PartLine,
    PartState,
    Person,
    Role,
    Settings,
    ShopState,
    Spell,
    Stage,
)

ZONE = ZoneInfo("UTC")
MONDAY = datetime(2026, 3, 2, 8, tzinfo=UTC)
#: Middle and spread (log) of the answers to estimates and of lead times, in days; minutes of each cause's repair.
ANSWER, LEAD, CAUSES = (0.6, 0.7), (3.0, 0.5), {"belt": 40.0, "seal": 75.0, "pump": 210.0}
WITH_PARTS = {"seal": 0.5, "pump": 0.8}
TRUE = {Kind.DIAGNOSE: (-0.7, 0.5), Kind.REPAIR: (0.05, 0.3), Kind.ROAD_TEST: (0.0, 0.3)}
#: Probabilities of the table of reliability.
SAID = (0.1, 0.25, 0.5, 0.65, 0.8, 0.9, 0.95)
WEEK = dict.fromkeys(("mon", "tue", "wed", "thu", "fri"), "08:00-17:00")


def settings(people: int, bays: int) -> Settings:
    """So many technicians and bays, all alike."""
    return Settings(
        name="s",
        hours=WEEK,
        bays=tuple(Bay(id=f"b{n}", name=f"bay {n}", can=("lift",)) for n in range(bays)),
        people=tuple(Person(id=f"p{n}", name=f"P{n}", roles=(Role.TECHNICIAN,)) for n in range(people)),
    )


class _Fix(SimpleNamespace):
    def minutes_on(self, _layout: str) -> float:
        return float(self.minutes)

    def covers_on(self, _layout: str) -> tuple[str, ...]:
        return ()


def book() -> Any:
    """The three causes, each with one repair."""
    part = SimpleNamespace(name="part", lead_class="")
    fixes = {
        name: _Fix(minutes=minutes, skill="", needs=(), parts=(part,) if name in WITH_PARTS else ())
        for name, minutes in CAUSES.items()
    }
    causes = {name: SimpleNamespace(correction=(name,)) for name in CAUSES}
    return SimpleNamespace(covers={}, causes=causes, corrections=fixes)


@dataclass
class Truth:
    """What will happen to a job: its cause, minutes of each step before the person's factor, days of answer and part
    (0: needs none)."""

    cause: str
    minutes: dict[Kind, float]
    answer: float
    part: float


@dataclass
class Given:
    """A date given: job, when, the moment promised with which probability, when it was done, and for the table of
    reliability the moments that were said to hold with other probabilities."""

    job: int
    at: datetime
    promise: datetime
    level: float
    done: datetime | None = None
    said: dict[float, datetime] = field(default_factory=dict)


@dataclass
class PromisedShop:
    """Runs the shop. `wild`: heavier tails, walk-ins and sick days that the planner does not know of."""

    seed: int
    level: float
    jobs: int
    people: int = 2
    bays: int = 3
    a_day: float = 3.6
    draws: int = 80
    wild: bool = False
    given: dict[int, Given] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.random = Random(self.seed)
        self.settings = settings(self.people, self.bays)
        self.state = ShopState(settings=self.settings, models={})
        self.factor = {p.id: math.exp(self.random.gauss(0, 0.1)) for p in self.settings.people}
        self.book, self.known = book(), self._learn()
        self.truth: dict[int, Truth] = {}
        self.busy: dict[str, tuple[int, int]] = {}
        self.sick: set[tuple[str, int]] = set()
        self.waits: dict[int, datetime] = {}

    # -- what is known and what is true -------------------------------------------------------------------------------

    def _minutes(self, kind: Kind, of: float, *, wild: bool = False) -> float:
        middle, spread = TRUE[kind]
        minutes = of * math.exp(self.random.gauss(middle, spread))
        return minutes * (2.0 if wild and self.random.random() < 0.08 else 1.0)

    def _days(self, of: tuple[float, float], *, wild: bool = False) -> float:
        days = of[0] * math.exp(self.random.gauss(0, of[1]))
        return days * (2.0 if wild and self.random.random() < 0.08 else 1.0)

    def _learn(self) -> Known:
        """What 300 past jobs of the same people taught."""
        took = []
        for _ in range(300):
            who = f"p{self.random.randrange(self.people)}"
            for kind, of in ((Kind.DIAGNOSE, DIAGNOSIS_MINUTES), (Kind.REPAIR, 60.0), (Kind.ROAD_TEST, 20.0)):
                took.append(Took(kind, who, of, self._minutes(kind, of) * self.factor[who]))
        leads = LeadTimes({("north", ""): tuple(Wait(self._days(LEAD), True) for _ in range(200))})
        answers = tuple(Wait(self._days(ANSWER), True) for _ in range(200))
        return Known(paces(took), Waiting(answers, {}, leads, with_parts=62, repairs=100))

    # -- the run ------------------------------------------------------------------------------------------------------

    def run(self) -> list[Given]:
        """All dates given, once every one of those jobs is done."""
        now, day = MONDAY, -1
        while len(self.given) < self.jobs or any(g.done is None for g in self.given.values()):
            if now.weekday() < 5 and 8 <= now.hour < 17:
                if now.hour == 8 and now.minute == 0:
                    day += 1
                    self._morning(day)
                self._slot(now, day)
            now += SLOT
        return list(self.given.values())

    def _morning(self, day: int) -> None:
        if self.wild:
            self.sick |= {(p.id, day) for p in self.settings.people if self.random.random() < 0.03}

    def _slot(self, now: datetime, day: int) -> None:
        for job_id, until in list(self.waits.items()):
            if until <= now:
                del self.waits[job_id]
                self._waited(job_id, now)
        for person in [p for p in self.busy if (p, day) not in self.sick]:
            self._work_on(person, now)
        if len(self.given) < self.jobs and self.random.random() < self.a_day / 36:
            self._arrive(now)
        for person in self.settings.people:
            if person.id not in self.busy and (person.id, day) not in self.sick:
                self._next(person.id, now)
        if (now + SLOT).hour == 17:
            self._book_time(now + SLOT)

    def _put(self, job: Job, now: datetime, **changes: Any) -> Job:
        if "stage" in changes and changes["stage"] is not job.stage:
            changes["since"] = now
        new: Job = msgspec.structs.replace(job, **changes)
        self.state.jobs[job.id] = new
        return new

    # -- what happens to jobs -----------------------------------------------------------------------------------------

    def _arrive(self, now: datetime) -> None:
        number = len(self.given) + 1
        first = self.random.choice(list(CAUSES))
        share = self.random.uniform(0.4, 0.9)
        shares = {name: share if name == first else (1 - share) / 2 for name in CAUSES}
        likely = tuple(Likely(cause=name, name=name, probability=p) for name, p in shares.items())
        cause = self.random.choices(list(shares), list(shares.values()))[0]
        wild = self.wild
        self.truth[number] = Truth(
            cause,
            {
                Kind.DIAGNOSE: self._minutes(Kind.DIAGNOSE, DIAGNOSIS_MINUTES, wild=wild),
                Kind.REPAIR: self._minutes(Kind.REPAIR, CAUSES[cause], wild=wild),
                Kind.ROAD_TEST: self._minutes(Kind.ROAD_TEST, ROAD_TEST_MINUTES, wild=wild),
            },
            self._days(ANSWER, wild=wild),
            self._days(LEAD, wild=wild) if self.random.random() < WITH_PARTS.get(cause, 0.0) else 0.0,
        )
        job = Job(
            id=number, customer=1, machine=1, arrived=now, since=now, complaint="slow",
            likely=likely, machine_down=self.random.random() < 0.1,
        )  # fmt: skip
        self.state.jobs[number] = job
        self._put(job, now, promise=self._promise(number, now))

    def _promise(self, job: int, now: datetime) -> datetime:
        reckoned = reckon(self.state, self.book, shop_calendar(self.settings, now), self.known, now, ZONE)
        found = futures(reckoned, lambda n: np.random.default_rng([self.seed, job, n + 1000]), many=self.draws)
        held = slot_that_holds(found, job, self.level)
        assert held is not None
        promise = reckoned.problem.calendar.end_moment(held[0])
        self.given[job] = Given(job, now, promise, self.level)
        for share in SAID:
            slot = held[1].slot_for(job, share)
            if slot is not None:
                self.given[job].said[share] = reckoned.problem.calendar.end_moment(slot)
        return promise

    def _waited(self, id: int, now: datetime) -> None:
        """The answer, or the part, has come."""
        job, truth = self.state.jobs[id], self.truth[id]
        if job.stage is Stage.APPROVAL and truth.part:
            self.state.parts[id] = PartLine(
                id=id, job=id, number="x", name="part", quantity=1, supplier="north", needed_at=now,
                ordered_at=now, state=PartState.ORDERED,
            )  # fmt: skip
            self._put(job, now, stage=Stage.PARTS)
            self.waits[id] = now + timedelta(days=truth.part)
            return
        self.state.parts.pop(id, None)
        self._put(job, now, stage=Stage.READY)

    # -- work ---------------------------------------------------------------------------------------------------------

    def _kind(self, job: Job) -> Kind | None:
        return {
            Stage.ARRIVED: Kind.DIAGNOSE, Stage.READY: Kind.REPAIR, Stage.ROAD_TEST: Kind.ROAD_TEST,
        }.get(job.stage)  # fmt: skip

    def _rest(self, job: Job) -> float:
        """Mean slots of work ahead, as the planner has them."""
        pace = self.known.paces
        mean = sum(p.probability * CAUSES[p.cause] for p in job.likely)
        repair = job.operations[0].minutes if job.operations else mean
        parts = [(Kind.ROAD_TEST, ROAD_TEST_MINUTES)]
        if job.stage is not Stage.ROAD_TEST:
            parts.append((Kind.REPAIR, repair))
        if job.stage is Stage.ARRIVED:
            parts.append((Kind.DIAGNOSE, DIAGNOSIS_MINUTES))
        return sum(max(1.0, pace[kind].left(minutes) / 15) for kind, minutes in parts)

    def _urgency(self, job: Job, now: datetime) -> float:
        rest = self._rest(job)
        weight = 3.0 if job.machine_down else 1.0
        slack = _work_slots(now, job.promise or now) - rest
        return math.log(weight / rest) - max(slack, 0.0) / 8.0

    def _next(self, person: str, now: datetime) -> None:
        if self.wild and self.random.random() < 0.012:
            self.busy[person] = (0, self.random.randint(2, 4))  # somebody walked in
            return
        taken = {self.state.jobs[id].bay for id, _ in self.busy.values() if id}
        free = [bay.id for bay in self.settings.bays if bay.id not in taken]
        open_ = [j for j in self.state.jobs.values() if (k := self._kind(j)) and (free or k is Kind.ROAD_TEST)]
        open_ = [j for j in open_ if j.id not in {id for id, _ in self.busy.values()}]
        if not open_:
            return
        job = max(open_, key=lambda j: self._urgency(j, now))
        kind = self._kind(job)
        assert kind is not None
        slots = max(1, round(self.truth[job.id].minutes[kind] * self.factor[person] / 15))
        self.busy[person] = (job.id, slots)
        if kind is not Kind.ROAD_TEST:
            stage = Stage.DIAGNOSED if kind is Kind.DIAGNOSE else Stage.REPAIR
            self._put(job, now, stage=stage, person=person, bay=free[0])

    def _work_on(self, person: str, now: datetime) -> None:
        """A slot of work ended at `now`."""
        id, left = self.busy[person]
        if left > 1:
            self.busy[person] = (id, left - 1)
            return
        del self.busy[person]
        if not id:
            return
        job, truth = self.state.jobs[id], self.truth[id]
        if job.stage is Stage.DIAGNOSED:
            work = (Operation(id="o", name="repair", minutes=CAUSES[truth.cause]),)
            ask = Approval(asked=1, asked_at=now, asked_by=person)  # type: ignore[arg-type]
            self._put(job, now, stage=Stage.APPROVAL, bay="", person="", operations=work, approval=ask)
            self.waits[id] = now + timedelta(days=truth.answer)
        elif job.stage is Stage.REPAIR:
            self._put(job, now, stage=Stage.ROAD_TEST, bay="", person="")
        else:
            self.given[id].done = now
            del self.state.jobs[id]

    def _book_time(self, closing: datetime) -> None:
        """In the evening everybody books the day's time on what they have in hand."""
        for person, (id, _) in self.busy.items():
            job = self.state.jobs.get(id)
            if job is None or job.stage not in (Stage.DIAGNOSED, Stage.REPAIR):
                continue
            since = max([job.since, *(spell.at for spell in job.spent)])
            minutes = (closing - since) / timedelta(minutes=1) if since.date() == closing.date() else 540.0
            what = "diagnosis" if job.stage is Stage.DIAGNOSED else "repair"
            spell = Spell(by=person, at=closing, minutes=minutes, what=what)
            self._put(job, closing, spent=(*job.spent, spell))


def _work_slots(now: datetime, until: datetime) -> float:
    """Slots of the week's hours between two moments; below 0 when the second has gone by."""
    if until < now:
        return -_work_slots(until, now)
    days = (until.date() - now.date()).days
    whole = sum((now.date() + timedelta(days=n)).weekday() < 5 for n in range(days))
    within = lambda m: min(max((m.hour * 60 + m.minute - 480) / 15, 0.0), 36.0)  # noqa: E731
    return whole * 36 + within(until) - within(now)
