"""Jobs and steps as the search sees them: numbers for bays and people, rates, and where people saw a step before."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from .tasks import JobAhead, Problem, Task

#: Start, end, person, bay (-1: none), and from when the bay is taken.
Place = tuple[int, int, int, int, int]

#: A promise that is never late.
NEVER = 1 << 60

#: What a move costs at least, in units of the rate.
LEAST_MOVE = 6


class Habit(NamedTuple):
    """Where people saw a step before a re-plan, and the rate of the penalty for moving it."""

    start: int
    person: int
    bay: int
    rate: float

    def penalty(self, start: int, person: int, bay: int) -> float:
        """What it costs to put the step there: rate·[3·(2 + min(16, |slots moved|)) + 12 if the person changes]."""
        if start == self.start and person == self.person and bay == self.bay:
            return 0.0
        moved = min(16, abs(start - self.start))
        return self.rate * (LEAST_MOVE + 3 * moved + (12 if person != self.person else 0))


class Step:
    """One task as the search sees it. `rest` is what must still pass after it before the job can be over."""

    __slots__ = (
        "alike",
        "bays",
        "earliest",
        "fixed",
        "habit",
        "lag",
        "people",
        "rest",
        "slots",
        "start",
        "stays",
        "steady",
        "task",
    )

    def __init__(self, task: Task, earliest: int, lag: int, people: Sequence[int], bays: Sequence[int]) -> None:
        self.task, self.start = task, task.start
        self.slots, self.earliest, self.lag = task.slots, earliest, lag
        self.people, self.bays = tuple(people), tuple(bays)
        self.stays = task.keeps_bay
        self.fixed: Place | None = None
        self.habit: Habit | None = None
        self.rest = 0
        #: By person, the bays in groups in which that person has the same hours; whether all are always there.
        self.alike: dict[int, list[list[int]]] = {}
        self.steady = False


class Work:
    """One job as the search sees it: its steps in `groups` that share one stay in a bay, and its rates."""

    __slots__ = (
        "ahead",
        "alone",
        "floor",
        "groups",
        "habits",
        "late",
        "loose",
        "promise",
        "reserved",
        "slots",
        "steps",
        "wait",
    )

    def __init__(self, ahead: JobAhead, steps: list[Step], problem: Problem) -> None:
        self.ahead, self.steps = ahead, steps
        self.promise = NEVER if ahead.promise is None else ahead.promise
        self.late, self.wait = ahead.weight * problem.late, ahead.weight * problem.waiting
        self.groups: list[list[Step]] = []
        for index, step in enumerate(steps):
            if index and step.stays:
                self.groups[-1].append(step)
            else:
                self.groups.append([step])
        self.slots = sum(step.slots for step in steps)
        #: When it would be over if work on it went on from now without a break.
        self.floor = problem.now + self.slots
        soonest = problem.now
        for step in steps:
            soonest = max(soonest + step.lag, step.earliest) + step.slots
        #: What it costs at least: with every bay and person free.
        self.alone = self.cost(soonest)
        rest = 0
        for step in reversed(steps):
            step.rest = rest
            rest += step.slots + step.lag
        #: Whether no step is fixed or stays in a bay; whether people saw a step of it before.
        self.loose = self.habits = False
        #: Bay and mask held from now on by a machine that cannot be moved before its first step.
        self.reserved: tuple[int, int] | None = None

    @property
    def tied(self) -> bool:
        """Whether its machine holds a bay from now on or a step of it is fixed, so that it must be put in first."""
        return self.reserved is not None or any(step.fixed for step in self.steps)

    def cost(self, end: int) -> float:
        """What it costs that the job ends there, without habits."""
        late = end - self.promise
        return self.wait * (end - self.floor) + (self.late * late if late > 0 else 0.0)
