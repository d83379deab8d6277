"""The plan as the board has it: who does what where and when, what changed and why, how sure each promise is.

`Planner` works it out step by step, each step better than the one before; `plan_work` runs it in a process of its own.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from datetime import date, datetime
from random import Random
from time import monotonic
from typing import TYPE_CHECKING, Any
from zoneinfo import ZoneInfo

import msgspec

from shopboard.planning.calendar import shop_calendar
from shopboard.planning.closed_days import holidays_around
from shopboard.planning.dispatch import first_plan
from shopboard.planning.durations import paces
from shopboard.planning.problem import JobFacts, Known, Reckoned, reckon
from shopboard.planning.replan import replan
from shopboard.planning.search import plan as search
from shopboard.planning.tasks import Move, Placed, Plan
from shopboard.planning.waiting import Waiting
from shopboard.records import Job, Machine, Pin, ShopState

from .plan_changes import changes

if TYPE_CHECKING:
    from shopboard.planning.helps import Help
    from shopboard.planning.promise import Futures, Offer, Risk
    from shopboard.trouble import Book

#: Seconds for the first look at a changed shop, and for making its plan better.
QUICK, BETTER = 0.2, 4.0
#: Plans and futures are drawn with this seed, so that the same shop gives the same answer twice.
SEED = 412
#: What helps is looked for with so many of the futures, for at most so many jobs at risk.
HELP_DRAWS, HELPED = 150, 8

KeepGoing = Callable[[], bool]


@dataclass(frozen=True)
class Planned:
    """The plan as of change `seq` at moment `at`. `moves` is what it changed against the plan people saw, `changed` the
    same as sentences; `risks` and `helps` by job (empty while not drawn yet); `holidays` are the public holidays it
    goes by; `done` whether nothing better comes."""

    seq: int
    at: datetime
    zone: ZoneInfo
    plan: Plan
    facts: Mapping[int, JobFacts]
    moves: tuple[Move, ...] = ()
    changed: tuple[str, ...] = ()
    risks: Mapping[int, Risk] = field(default_factory=dict)
    helps: Mapping[int, tuple[Help, ...]] = field(default_factory=dict)
    holidays: Mapping[date, str] = field(default_factory=dict)
    done: bool = False

    def next_of(self, job: int) -> Placed | None:
        """The next step of a job in the plan."""
        return next(iter(self.plan.by_job.get(job, ())), None)

    def start(self, placed: Placed) -> datetime:
        """When a step starts."""
        return self.plan.problem.calendar.moment(placed.start)

    def end(self, placed: Placed) -> datetime:
        """When a step ends."""
        return self.plan.problem.calendar.end_moment(placed.end)

    def ready(self, job: int) -> datetime | None:
        """When a job is done by the plan."""
        steps = self.plan.by_job.get(job, ())
        return self.end(steps[-1]) if steps else None


@dataclass(frozen=True)
class Effect:
    """What a try does to one job: when it is done by the plan before and after, and its chance to be on time."""

    job: int
    before: datetime | None
    after: datetime | None
    chance_before: float | None
    chance_after: float | None


@dataclass(frozen=True)
class Tried:
    """A plan with something chosen for one job: where its next step would be, what that does to others, most hurt
    first; `why_not` says why no plan can hold it."""

    job: int
    pin: Pin | None
    placed: Placed | None
    start: datetime | None
    effects: tuple[Effect, ...] = ()
    why_not: str = ""


@dataclass(frozen=True)
class Offered:
    """Dates that could be promised for a job not yet taken in; `key` tells which question this answers."""

    key: str
    offers: tuple[Offer, ...]
    level: float


def luck(number: int) -> Any:
    """The generator of a job's luck."""
    import numpy as np

    return np.random.default_rng([SEED, number + 1_000_000])


def used_of(seconds: float, keep_going: KeepGoing) -> Callable[[], float]:
    """The share of so many seconds that is over; 1 when told to stop before."""
    begun = monotonic()
    return lambda: (monotonic() - begun) / seconds if seconds and keep_going() else 1.0


NOTHING_KNOWN = Known(paces(()), Waiting())


class Planner:
    """Plans one shop again and again; keeps the plan people saw."""

    def __init__(self, state: ShopState, book: Book, zone: ZoneInfo) -> None:
        self.state, self.book, self.zone = state, book, zone
        self.known = NOTHING_KNOWN
        self.seen: Plan | None = None
        self.planned: Planned | None = None
        self._futures: tuple[int, datetime, Futures] | None = None

    def reckon(self, now: datetime, state: ShopState | None = None) -> Reckoned:
        """The problem of the shop as it stands now."""
        calendar = shop_calendar(self.state.settings, now)
        return reckon(state or self.state, self.book, calendar, self.known, now, self.zone)

    def plan(
        self, now: datetime, keep_going: KeepGoing, better: float = BETTER, *, quiet: bool = False
    ) -> Iterator[Planned]:
        """The plan at once, then better, then with its risks, then with what helps. What comes first is what people see
        from then on: later ones are re-plans of it. `quiet`: nothing in the shop changed, so no change is told."""
        reckoned = self.reckon(now)
        seen = self.seen
        if seen is None:
            planned = self._planned(reckoned, first_plan(reckoned.problem))
            yield self._see(planned)
            found = search(reckoned.problem, Random(SEED), used_of(better, keep_going))
            planned = self._see(replace(planned, plan=found)) if found.worth < planned.plan.worth else planned
        else:
            quick = replan(reckoned.problem, seen, Random(SEED), used_of(QUICK, keep_going))
            planned = self._planned(reckoned, quick.plan, () if quiet else quick.moves)
            yield self._see(planned)
            slow = replan(reckoned.problem, seen, Random(SEED), used_of(better, keep_going))
            planned = self._see(self._planned(reckoned, slow.plan, () if quiet else slow.moves))
        yield planned
        if keep_going():
            yield from self._with_risks(reckoned, planned, keep_going)

    def _see(self, planned: Planned) -> Planned:
        self.seen, self.planned = planned.plan, planned
        return planned

    def _planned(self, reckoned: Reckoned, plan: Plan, moves: tuple[Move, ...] = ()) -> Planned:
        changed = changes(self.state, plan, moves, reckoned.now, self.zone)
        holidays = holidays_around(self.state.settings, reckoned.now.astimezone(self.zone).date())
        return Planned(self.state.seq, reckoned.now, self.zone, plan, reckoned.facts, moves, changed, holidays=holidays)

    def _with_risks(self, reckoned: Reckoned, planned: Planned, keep_going: KeepGoing) -> Iterator[Planned]:
        from shopboard.planning.promise import futures, risks

        found = futures(reckoned, luck)
        level = self.state.settings.promise_probability
        planned = self._see(replace(planned, risks=risks(found, level)))
        yield planned
        helps = self._helps(reckoned, planned, level, keep_going)
        yield self._see(replace(planned, helps=helps, done=True))

    def _helps(
        self, reckoned: Reckoned, planned: Planned, level: float, keep_going: KeepGoing
    ) -> dict[int, tuple[Help, ...]]:
        """What helps the jobs that are at risk and not lost, the least sure first."""
        from shopboard.planning.helps import helps
        from shopboard.planning.promise import futures

        at_risk = [
            r for r in planned.risks.values() if r.on_time is not None and r.on_time < level and self._open(r.job)
        ]
        found = futures(reckoned, luck, many=HELP_DRAWS)
        result: dict[int, tuple[Help, ...]] = {}
        for risk in sorted(at_risk, key=lambda risk: (risk.on_time, risk.job))[:HELPED]:
            if not keep_going():
                break
            result[risk.job] = helps(found, risk.job)
        return result

    def _open(self, job: int) -> bool:
        """Whether a promise can still be kept."""
        promise = self.state.jobs[job].promise if job in self.state.jobs else None
        return promise is not None and self.planned is not None and promise > self.planned.at

    # -- questions ----------------------------------------------------------------------------------------------------

    def try_pin(self, now: datetime, job_id: int, pin: Pin | None, keep_going: KeepGoing) -> Tried:
        """What choosing this for a job would do, against the plan people see."""
        from shopboard.planning.promise import futures, risks

        job = self.state.jobs.get(job_id)
        if job is None:
            return Tried(job_id, pin, None, None, why_not="this job is closed now")
        before = self.reckon(now)
        seen = self.seen or first_plan(before.problem)
        pinned: Job = msgspec.structs.replace(job, pin=pin)
        after = self.reckon(now, replace(self.state, jobs={**self.state.jobs, job_id: pinned}))
        made = replan(after.problem, seen, Random(SEED), used_of(QUICK, keep_going))
        wrong = next((one.why for one in made.plan.unplaceable if one.task.job == job_id), "")
        placed = next(iter(made.plan.by_job.get(job_id, ())), None)
        if wrong or placed is None:
            return Tried(job_id, pin, None, None, why_not=wrong or "no work is left to plan for it")
        level = self.state.settings.promise_probability
        chances = [risks(futures(one, luck, many=HELP_DRAWS), level) for one in (before, after)]
        was = Planned(self.state.seq, now, self.zone, seen, before.facts)
        will = Planned(self.state.seq, now, self.zone, made.plan, after.facts)
        effects = [
            Effect(one, was.ready(one), will.ready(one), *(_chance(risk, one) for risk in chances))
            for one in made.plan.by_job
        ]
        moved = [e for e in effects if e.job != job_id and e.before != e.after]
        moved.sort(key=lambda e: (-((e.chance_before or 0) - (e.chance_after or 0)), e.job))
        own = [e for e in effects if e.job == job_id]
        return Tried(job_id, pin, placed, will.start(placed), (*own, *moved))

    def offer(self, now: datetime, key: str, job: Job, machine: Machine) -> Offered:
        """Days that could be promised for a job not yet taken in."""
        from shopboard.planning.promise import futures, offers

        level = self.state.settings.promise_probability
        machines = {**self.state.machines, machine.id: machine}
        reckoned = self.reckon(now, replace(self.state, jobs={**self.state.jobs, job.id: job}, machines=machines))
        return Offered(key, offers(futures(reckoned, luck), job.id, level), level)


def _chance(risks: Mapping[int, Risk], job: int) -> float | None:
    risk = risks.get(job)
    return risk.on_time if risk else None
