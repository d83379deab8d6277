"""A new plan that keeps what people already see, unless the gain is worth it.

First everything that still can stays exactly where it was; what cannot is put in anew. Then the plan is improved, and
each step moved costs rate·[3·(2 + min(16, |slots moved|)) + 12 if the person changes], the rate being 4 for what was to
start today, 2 for the next day, 1 later. What starts within two hours of work stays, unless it cannot be done.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Mapping
from dataclasses import dataclass

from .bookings import Bookings
from .dispatch import RULES, left_out
from .in_turn import mean_step
from .search import Generator, improve
from .tasks import Kind, Move, Placed, Plan, Problem, Replanned, Task, Unplaceable
from .why_moved import reasons
from .works import Habit, Work

#: Steps that start within so many slots of working time (two hours) are not moved.
FROZEN = 8
#: What moving a step costs a unit, by the day it was to start: today, the next day, later.
RATES = (4.0, 2.0, 1.0)
#: A step that would now end so many slots later than people saw is not held to its start.
_DRAGGED = 4

#: A step of a job over the days: its kind, counted from the last of that kind on, since done steps leave the front.
Key = tuple[int, Kind, int]


@dataclass(frozen=True)
class Seen:
    """The old plan on the new axis: each step of the new problem that people saw, where they saw it."""

    places: Mapping[Task, Placed]


def replan(problem: Problem, old: Plan, rng: Generator, used: Callable[[], float]) -> Replanned:
    """The best plan found near `old` until `used`, the share of the search that is over, is 1, and every step it moved
    with the reason.

    `problem` is the shop as it is now, on an axis of its own; `old` the plan people see.
    """
    seen = seen_before(problem, old)
    bookings = _frozen(problem, seen)
    _give_habits(bookings, seen)
    wrong = _repair(bookings)
    plan = improve(bookings, rng, used, wrong)
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


# -- what is not moved at all ---------------------------------------------------------------------------------------


def _frozen(problem: Problem, seen: Seen) -> Bookings:
    """The bookings with everything settled that starts too soon to be moved; what cannot stay is let go."""
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
            return bookings
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


def _give_habits(bookings: Bookings, seen: Seen) -> None:
    calendar = bookings.problem.calendar
    days = [span.first for span in calendar.spans if span.first + span.slots > bookings.now]
    for work in bookings.works:
        for step in work.steps:
            place = seen.places.get(step.task)
            if place is None or step.fixed is not None:
                continue
            person, bay = bookings.person_at.get(place.person, -2), bookings.bay_at.get(place.bay, -1)
            day = sum(place.start >= first for first in days[1:3])
            work.habits = True
            step.habit = Habit(max(place.start, bookings.now), person, bay, RATES[day])


def _repair(bookings: Bookings) -> list[Unplaceable]:
    """Put in what can stay where it was, then the rest by its cost of waiting; what does not fit, and why."""
    late, pace = RULES["ATC"], mean_step(bookings)
    order = sorted(bookings.works, key=_tied_first)
    anew: list[Work] = []
    wrong: list[Work] = []
    for work in order:
        if bookings.put_back(work):
            continue
        if not work.tied:
            anew.append(work)
        elif bookings.put(work) is None:  # at once: nobody else may take the bay in which it stands
            wrong.append(work)
    anew.sort(key=lambda work: -late(work, work.steps[0], bookings.now, pace))
    wrong += [work for work in anew if bookings.put(work) is None]
    return left_out(bookings, wrong)


def _tied_first(work: Work) -> tuple[bool, int, int]:
    habit = work.steps[0].habit
    return not work.tied, habit.start if habit else 0, work.ahead.job


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
