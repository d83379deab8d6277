"""A new plan that keeps what people already see, unless the gain is worth it.

First everything that still can stays exactly where it was; what cannot is put in anew. Then the plan is improved, and
each step moved costs rate·[3·(2 + min(16, |slots moved|)) + 12 if the person changes], the rate being 4 for what was to
start today, 2 for the next day, 1 later. What starts within two hours of work stays, unless it cannot be done.

While there is time, further looks come in pairs: one without regard to what people saw, to know what holding on costs,
and one near what they saw, with penalties bent whenever the look before moved too much or came out too dear.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Mapping
from dataclasses import dataclass
from typing import NamedTuple

from .bookings import Bookings
from .dispatch import RULES, best_start, does_not_fit
from .search import Generator, improve
from .tasks import Kind, Move, Placed, Plan, Problem, Replanned, Task, Unplaceable
from .why_moved import reasons
from .works import Habit, Work

#: Steps that start within so many slots of working time (two hours) are not moved.
FROZEN = 8
#: What moving a step costs a unit, by the day it was to start: today, the next day, later.
RATES = (4.0, 2.0, 1.0)
#: What another person costs, in units of the rate.
OTHER_PERSON = 12.0
#: A step is moved far if it starts more than so many slots from where people saw it.
FAR = 4
#: The limits of a re-plan: shares of steps moved far and given to another person, and cost above planning without
#: regard to what people saw. They are kept with some room, since what that would cost is itself only searched for.
MOST_FAR, MOST_OTHER, MOST_DEARER, _AIM = 0.25, 0.15, 0.12, 0.85
#: Tries of the first look, how much longer each further pair of looks is, and how far penalties are bent.
LOOK, _LONGER, _BEND = 3000, 1.3, 3.0
_LEAST_PULL, _MOST_PULL = 1 / 16, 16.0
#: A step that would now end so many slots later than people saw is not held to its start.
_DRAGGED = 4

#: A step of a job over the days: its kind, counted from the last of that kind on, since done steps leave the front.
Key = tuple[int, Kind, int]


@dataclass(frozen=True)
class Seen:
    """The old plan on the new axis: each step of the new problem that people saw, where they saw it."""

    places: Mapping[Task, Placed]


def replan(problem: Problem, old: Plan, rng: Generator, keep_going: Callable[[], bool]) -> Replanned:
    """The best plan found until `keep_going` says no that stays near `old`, and every step it moved with the reason.

    `problem` is the shop as it is now, on an axis of its own; `old` the plan people see.
    """
    seen = seen_before(problem, old)
    plan = _Looks(problem, seen, rng, keep_going).best()
    return Replanned(plan, tuple(_moves(plan, old, seen)))


def keys(tasks: Iterable[Task]) -> dict[Key, Task]:
    """Steps by what stays the same about them from plan to plan."""
    found: dict[Key, Task] = {}
    for task in reversed(list(tasks)):
        count = sum(1 for job, kind, _ in found if (job, kind) == (task.job, task.kind))
        found[task.job, task.kind, count] = task
    return found


def seen_before(problem: Problem, old: Plan) -> Seen:
    """Where people saw the steps of `problem`, moment for moment on its axis."""
    before, calendar = old.problem.calendar, problem.calendar
    known = {}
    for placed in old.placed:
        start = calendar.slot_at(before.moment(placed.start))
        end = max(start + 1, calendar.deadline(before.end_moment(placed.end)))
        known[placed.task] = Placed(placed.task, start, end, placed.person, placed.bay)
    places: dict[Task, Placed] = {}
    for ahead in problem.jobs:
        now, then = keys(ahead.tasks), keys(one.task for one in old.by_job.get(ahead.job, ()))
        places |= {task: known[then[key]] for key, task in now.items() if key in then}
    return Seen(places)


# -- one look after the other ---------------------------------------------------------------------------------------


class _Pull(NamedTuple):
    """How strongly steps are held: what the penalties for another hour and for another person are multiplied by."""

    hour: float = 1.0
    person: float = 1.0


class _Looks:
    """A first look with the penalties as they are; while there is time, looks at what planning without regard would
    cost, and looks with the penalties bent to where the limits are kept."""

    def __init__(self, problem: Problem, seen: Seen, rng: Generator, keep_going: Callable[[], bool]) -> None:
        self.problem, self.seen, self._rng, self._keep_going = problem, seen, rng, keep_going
        self._settled = _settled(problem, seen)
        bookings = Bookings(problem, self._settled)
        self._habits = dict(_habits(bookings, seen, _Pull()))
        self._person_at, self._bay_at = bookings.person_at, bookings.bay_at
        self._over, self._used = False, 0
        #: Steps left out, and cost, of the cheapest plan found, without regard to what people saw.
        self._least = (len(problem.jobs) + 1, 0.0)

    def best(self) -> Plan:
        """The plan that keeps the limits best, among those the one that costs least with its penalties."""
        last = best = self._look(_Pull(), None, LOOK)
        free: Plan | None = None
        pull, length = _Pull(), float(LOOK)
        while not self._over and self._used:
            free = self._look(None, free, int(length))
            pull = self._bent(pull, last)
            dear = self._shares(best)[2] > _AIM
            # Too dear: from the cheap plan back towards what people saw. Too far: from what they saw. Else go on.
            start = free if dear else None if max(pull) > 1 else best
            last = self._look(pull, start, int(length))
            best = min(best, last, key=self._worth)
            length *= _LONGER
        return best

    def _look(self, pull: _Pull | None, start: Plan | None, tries: int) -> Plan:
        """The best plan of so many tries from `start` on; without `pull`, the cheapest wherever people saw steps."""
        bookings = Bookings(self.problem, self._settled if pull else None)
        if pull is None and start is None:
            return self._improved(bookings, best_start(bookings), tries)
        places = self.seen.places if start is None else {one.task: one for one in start.placed}
        _give_habits(bookings, dict(_habits(bookings, Seen(places), _Pull())))
        wrong = _repair(bookings)
        _give_habits(bookings, dict(_habits(bookings, self.seen, pull)) if pull else {})
        for work in bookings.works:
            if work.ahead.job in bookings.places:
                bookings.costs[work.ahead.job] = bookings.cost_at(work, bookings.places[work.ahead.job])
        return self._improved(bookings, wrong, tries)

    def _improved(self, bookings: Bookings, wrong: list[Unplaceable], tries: int) -> Plan:
        plan = improve(bookings, self._rng, self._some(tries), wrong)
        self._least = min(self._least, (len(plan.unplaceable), plan.cost))
        return plan

    def _some(self, tries: int) -> Callable[[], bool]:
        self._used = 0

        def go() -> bool:
            self._over = self._over or not self._keep_going()
            self._used += not self._over
            return not self._over and self._used <= tries

        return go

    def _shares(self, plan: Plan) -> tuple[float, float, float]:
        """How far a plan goes in what is limited, 1 being the limit: steps moved far, steps with another person, cost
        above the least found."""
        places, now = self.seen.places, self.problem.now
        known = [(places[one.task], one) for one in plan.placed if one.task in places]
        known = [(was, one) for was, one in known if was.start >= now]
        steps = max(1, len(known))
        far = sum(abs(one.start - was.start) > FAR for was, one in known) / steps
        other = sum(one.person != was.person for was, one in known) / steps
        wrong, least = self._least
        dearer = plan.cost / least - 1 if least > 0 and len(plan.unplaceable) == wrong else 0.0
        return far / MOST_FAR, other / MOST_OTHER, dearer / MOST_DEARER

    def _worth(self, plan: Plan) -> tuple[int, float, float]:
        over = sum(max(0.0, share - _AIM) for share in self._shares(plan))
        penalties = 0.0
        for one in plan.placed:
            if (habit := self._habits.get(one.task)) is not None:
                penalties += habit.penalty(one.start, self._person_at[one.person], self._bay_at.get(one.bay, -1))
        return len(plan.unplaceable), over, plan.cost + penalties

    def _bent(self, pull: _Pull, last: Plan) -> _Pull:
        """The penalties for the next look, from what the last one crossed."""
        far, other, dearer = (share > _AIM for share in self._shares(last))
        if not (far or other or dearer):
            return _Pull()
        hour = pull.hour * (_BEND if far else 1.0) * (1 / _BEND if dearer else 1.0)
        person = pull.person * (_BEND if other else 1.0) * (1 / _BEND if dearer else 1.0)
        return _Pull(min(max(hour, _LEAST_PULL), _MOST_PULL), min(max(person, _LEAST_PULL), _MOST_PULL))


# -- what is not moved at all ---------------------------------------------------------------------------------------


def _settled(problem: Problem, seen: Seen) -> dict[Task, tuple[int, str, str]]:
    """Start, person and bay of everything that starts too soon to be moved; what cannot stay is let go."""
    settled = {
        task: (place.start, place.person, place.bay)
        for ahead in problem.jobs
        for task, place in _soon(problem, ahead.tasks, seen)
    }
    while True:
        bookings = Bookings(problem, settled)
        lost = {one.task for one in bookings.unplaceable if one.task in settled}
        pins = [one.task for one in bookings.unplaceable if one.task.start is not None and one.task not in settled]
        lost |= {task for task, place in settled.items() if any(_in_the_way(task, place, pin) for pin in pins)}
        held = _held(problem, settled)
        lost |= {task for task, (_, _, bay) in settled.items() if bay in held and task.job != held[bay]}
        if not lost:
            return settled
        for ahead in problem.jobs:  # a step let go lets those after it go, not those before
            first = next((index for index, task in enumerate(ahead.tasks) if task in lost), len(ahead.tasks))
            for task in ahead.tasks[first:]:
                settled.pop(task, None)


def _held(problem: Problem, settled: Collection[Task]) -> dict[str, int]:
    """Bays taken from now on by a machine that cannot be moved and whose next step is to be put anew, and its job."""
    first = [ahead.tasks[0] for ahead in problem.jobs if ahead.tasks]
    return {one.bay: one.job for one in first if one.keeps_bay and one.bay and one.start is None and one not in settled}


def _in_the_way(task: Task, place: tuple[int, str, str], pin: Task) -> bool:
    """Whether a step that would stay stands where somebody has put another: what people choose goes first."""
    start, person, bay = place
    if pin.start is None or start >= pin.start + pin.slots or pin.start >= start + task.slots:
        return False
    return pin.person in ("", person) or (bay != "" and pin.bay in ("", bay))


def _soon(problem: Problem, tasks: tuple[Task, ...], seen: Seen) -> Iterable[tuple[Task, Placed]]:
    done, bay = problem.now, ""
    for index, task in enumerate(tasks):
        place = seen.places.get(task)
        if task.start is not None:  # under way or pinned: the problem itself says where
            done, bay = _done(problem, task), task.bay
            continue
        if place is None or not problem.now <= place.start < problem.now + FROZEN:
            return
        lag = task.lag if index else 0
        if place.start < max(done + lag, task.earliest) or not _still_good(problem, task, place):
            return
        if index and task.keeps_bay and place.bay != bay:
            return
        yield task, place
        done, bay = place.end, place.bay


def _done(problem: Problem, task: Task) -> int:
    """When work under way is done; the end of the axis when nobody is named for it."""
    calendar = problem.calendar
    slot, left = max(problem.now, task.start or 0), task.slots
    there = calendar.people.get(task.person, 0) & (calendar.bays.get(task.bay, 0) if task.needs_bay else -1)
    while left and slot < calendar.end:
        left -= there >> slot & 1
        slot += 1
    return slot


def _still_good(problem: Problem, task: Task, place: Placed) -> bool:
    """Whether the person and the bay people saw can still do it then."""
    calendar = problem.calendar
    person = next((one for one in problem.people if one.id == place.person), None)
    bay = next((one for one in problem.bays if one.id == place.bay), None)
    if person is None or not task.skills <= set(person.skills) or task.person not in ("", place.person):
        return False
    if task.capabilities is not None and (bay is None or not task.capabilities <= set(bay.can)):
        return False
    if task.bay not in ("", place.bay) or (task.capabilities is None) != (place.bay == ""):
        return False
    there = calendar.people[person.id] & (calendar.bays[bay.id] if bay else -1)
    if not there >> place.start & 1:
        return False
    return (there >> place.start & ((1 << (task.slots + _DRAGGED)) - 1)).bit_count() >= task.slots


# -- what would rather stay -----------------------------------------------------------------------------------------


def _habits(bookings: Bookings, seen: Seen, pull: _Pull) -> Iterable[tuple[Task, Habit]]:
    """What would rather stay, where, and how strongly."""
    calendar = bookings.problem.calendar
    days = [span.first for span in calendar.spans if span.first + span.slots > bookings.now]
    for work in bookings.works:
        for step in work.steps:
            place = seen.places.get(step.task)
            if place is None or step.fixed is not None:
                continue
            person, bay = bookings.person_at.get(place.person, -2), bookings.bay_at.get(place.bay, -1)
            rate = RATES[sum(place.start >= first for first in days[1:3])]
            start = max(place.start, bookings.now)
            yield step.task, Habit(start, person, bay, rate * pull.hour, rate * OTHER_PERSON * pull.person)


def _give_habits(bookings: Bookings, habits: Mapping[Task, Habit]) -> None:
    for work in bookings.works:
        for step in work.steps:
            step.habit = habits.get(step.task)
        work.habits = any(step.habit for step in work.steps)


def _repair(bookings: Bookings) -> list[Unplaceable]:
    """Put in what can stay where it was, then the rest by its cost of waiting; what does not fit, and why."""
    late = RULES["ATC"]
    mean = max(1.0, sum(work.slots for work in bookings.works) / max(1, len(bookings.works)))
    order = sorted(bookings.works, key=_tied_first)
    anew: list[Work] = []
    wrong: list[Work] = []
    for work in order:
        if bookings.put_back(work):
            continue
        if not _tied(work):
            anew.append(work)
        elif bookings.put(work) is None:  # at once: nobody else may take the bay in which it stands
            wrong.append(work)
    anew.sort(key=lambda work: -late(work, bookings.now, mean))
    wrong += [work for work in anew if bookings.put(work) is None]
    return [Unplaceable(work.steps[0].task, does_not_fit(bookings, work)) for work in wrong]


def _tied(work: Work) -> bool:
    return work.reserved is not None or any(step.fixed for step in work.steps)


def _tied_first(work: Work) -> tuple[bool, int, int]:
    habit = work.steps[0].habit
    return not _tied(work), habit.start if habit else 0, work.ahead.job


# -- what was moved -------------------------------------------------------------------------------------------------


def _moves(plan: Plan, old: Plan, seen: Seen) -> Iterable[Move]:
    moved = [one for one in plan.placed if _is_moved(one, seen.places.get(one.task), plan.problem.now)]
    why = reasons(plan, old, seen.places, moved)
    return (Move(one.task, seen.places.get(one.task), one, why[one.task]) for one in moved)


def _is_moved(placed: Placed, before: Placed | None, now: int) -> bool:
    if before is None:
        return True
    if placed.task.start is not None and before.start <= now:
        return placed.person != before.person  # begun as people saw it
    return (placed.start, placed.person, placed.bay) != (before.start, before.person, before.bay)
