"""What a plan is made of: the work still ahead, who and what may do it, and where each piece of it was put.

Time is counted in slots of 15 minutes on one axis on which nights and closed days take no room (`Calendar`). A piece
of work that meets closing time goes on at the next opening, by the same person in the same bay. Where the person is
away in between (the afternoon of somebody who works mornings, a day off) the bay stays taken and nothing is done.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from enum import StrEnum
from functools import cached_property
from zoneinfo import ZoneInfo

from shopboard.records import Bay, Closure, Person, tag

#: The grain of the plan.
SLOT = timedelta(minutes=15)


class Kind(StrEnum):
    """What is done in one step of a job."""

    DIAGNOSE = "diagnose"
    REPAIR = "repair"
    ROAD_TEST = "road test"

    @property
    def noun(self) -> str:
        """The work by its name, such as "diagnosis"."""
        return "diagnosis" if self is Kind.DIAGNOSE else self.value


@dataclass(frozen=True, slots=True)
class Task:
    """One step still ahead of a job: `slots` of work (at least 1), by one person, with a bay or without.

    `earliest` is the first slot it may start in (arrival, approval, parts), `waits_for` says in words what sets it
    ("seal kit due Fri"); `lag` slots must pass after the end of the step before (approval and parts that are asked for
    only then). `capabilities` is what the bay must offer: an empty set is any bay, None is no bay at all.
    `skills` must all be the person's. `person`, `bay` and `start` pin a choice ("" and None: free); work under way is
    pinned to the slot of now with what is left of it. `keeps_bay`: the machine cannot be moved before this step: its
    bay stays taken from the end of the step before (the first step: from now, then `bay` must name it), and this step
    is done in that bay.
    """

    job: int
    kind: Kind
    slots: int
    earliest: int = 0
    waits_for: str = ""
    lag: int = 0
    capabilities: frozenset[str] | None = frozenset()
    skills: frozenset[str] = frozenset()
    person: str = ""
    bay: str = ""
    start: int | None = None
    keeps_bay: bool = False

    @property
    def needs_bay(self) -> bool:
        """Whether the work is done in a bay."""
        return self.capabilities is not None

    @property
    def name(self) -> str:
        """The step in words, such as "repair of T-0412"."""
        return f"{self.kind.noun} of {tag(self.job)}"


@dataclass(frozen=True, slots=True)
class JobAhead:
    """All steps still ahead of one job, each after the one before it. `promise` is the slot by whose beginning the last
    step must have ended (None: nothing promised; below 0: before the axis begins), `weight` how much lateness and
    waiting of this job count (a machine that is down more than 1), `arrived` when it came, for first come first served.
    """

    job: int
    tasks: tuple[Task, ...]
    promise: int | None = None
    weight: float = 1.0
    arrived: int = 0


@dataclass(frozen=True, slots=True)
class Span:
    """One day's open time: the slots from `first` on, the first of them beginning at `start` (UTC)."""

    day: date
    first: int
    start: datetime
    slots: int


@dataclass(frozen=True)
class Calendar:
    """The axis, and when each bay and each person can be used: bit k of the int stands for slot k.

    Spans before today have slots below 0, so that a moment gone by has its slot too; masks begin with slot 0. Of the
    slots that are missing, `closures` say why: who is away, which bay is down, when the shop is closed.
    """

    spans: tuple[Span, ...]
    bays: Mapping[str, int]
    people: Mapping[str, int]
    zone: str = "UTC"
    closures: tuple[Closure, ...] = ()

    @cached_property
    def end(self) -> int:
        """The slot after the last one."""
        return self.spans[-1].first + self.spans[-1].slots if self.spans else 0

    @cached_property
    def _firsts(self) -> list[int]:
        return [span.first for span in self.spans]

    @cached_property
    def _starts(self) -> list[datetime]:
        return [span.start for span in self.spans]

    def span_of(self, slot: int) -> Span:
        """The day a slot lies in; the first or last day for a slot off the axis."""
        return self.spans[max(0, bisect_right(self._firsts, slot) - 1)]

    def moment(self, slot: int) -> datetime:
        """When a slot begins, UTC. A slot past the axis goes on counting after the last closing time."""
        span = self.span_of(slot)
        return span.start + (slot - span.first) * SLOT

    def end_moment(self, slot: int) -> datetime:
        """When work ends whose last slot is the one before `slot`: closing time, not the next opening."""
        return self.moment(slot - 1) + SLOT

    def slot_at(self, moment: datetime) -> int:
        """The slot that covers a moment, or the first one after it while the shop is closed."""
        index = bisect_right(self._starts, moment) - 1
        if index < 0:
            return self.spans[0].first
        span = self.spans[index]
        return span.first + min(span.slots, (moment - span.start) // SLOT)

    def slot_from(self, moment: datetime) -> int:
        """The first slot that begins at or after a moment: the earliest start of what comes at that moment."""
        slot = self.slot_at(moment)
        return slot if self.moment(slot) >= moment else slot + 1

    def words(self, slot: int, *, end: bool = False) -> str:
        """When a slot begins, or work before it ends, on the shop's clock, such as "Tue 24 Nov 10:15"."""
        moment = self.end_moment(slot) if end else self.moment(slot)
        return f"{moment.astimezone(ZoneInfo(self.zone)):%a %d %b %H:%M}"

    def deadline(self, moment: datetime) -> int:
        """The slot before whose beginning work must end to be done by a moment."""
        return self.slot_at(moment)


@dataclass(frozen=True)
class Problem:
    """What there is to plan, from slot `now` on: jobs, and the bays and people that may take them. A slot of a job's
    lateness costs `late` times its weight, a slot of its waiting `waiting` times."""

    jobs: tuple[JobAhead, ...]
    bays: tuple[Bay, ...]
    people: tuple[Person, ...]
    calendar: Calendar
    now: int = 0
    late: float = 10.0
    waiting: float = 1.0

    def tasks(self) -> Iterator[Task]:
        """Every step of every job, in order."""
        return (task for ahead in self.jobs for task in ahead.tasks)


@dataclass(frozen=True, slots=True)
class Placed:
    """A step with its place: slots from `start` up to `end` (not included), by `person`, in `bay` ("" for none)."""

    task: Task
    start: int
    end: int
    person: str
    bay: str = ""


@dataclass(frozen=True, slots=True)
class Unplaceable:
    """A step that no plan can hold, and the sentence that says why and what would do."""

    task: Task
    why: str


@dataclass(frozen=True)
class Plan:
    """Who does which step where and when. `placed` is in order of start; `lateness` has, for each job with a promise,
    the slots its last step ends after it (below 0: to spare). A job with a step in `unplaceable` is left out whole.

    `cost` is Σ weight·(late·tardiness + waiting·wait) in slots over the jobs placed; a job's wait are the slots from
    now until it is over, less those of its work.
    """

    problem: Problem
    placed: tuple[Placed, ...]
    cost: float
    lateness: Mapping[int, int] = field(default_factory=dict)
    unplaceable: tuple[Unplaceable, ...] = ()

    @cached_property
    def by_job(self) -> Mapping[int, tuple[Placed, ...]]:
        """The placed steps of each job, in their order."""
        found: dict[int, tuple[Placed, ...]] = {}
        for one in self.placed:
            found[one.task.job] = (*found.get(one.task.job, ()), one)
        return found

    @property
    def worth(self) -> tuple[int, float]:
        """How many jobs are left out, then what it costs: the less the better."""
        return len({one.task.job for one in self.unplaceable}), self.cost

    def of_person(self, person: str) -> tuple[Placed, ...]:
        """What a person does, in order of start."""
        return tuple(one for one in self.placed if one.person == person)

    def in_bay(self, bay: str) -> tuple[Placed, ...]:
        """What is done in a bay, in order of start."""
        return tuple(one for one in self.placed if one.bay == bay)


@dataclass(frozen=True, slots=True)
class Move:
    """One step that a re-plan put elsewhere, and the sentence that says which fact decided it. `before` is where people
    saw it, on the axis of the new plan (None: it is new)."""

    task: Task
    before: Placed | None
    after: Placed
    why: str


@dataclass(frozen=True)
class Replanned:
    """A new plan and what it changed against the one people saw."""

    plan: Plan
    moves: tuple[Move, ...]
