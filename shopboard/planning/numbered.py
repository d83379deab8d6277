"""A problem in numbers: people first, bays after them, and each step with who could do it where."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from shopboard.records import Bay, Person

from .tasks import JobAhead, Problem, Task
from .windows import Hours, ones
from .works import Step


def all_hours(problem: Problem, people: Sequence[Person], bays: Sequence[Bay]) -> list[list[Hours]]:
    """By person and bay (the last, found by -1, for no bay); equal calendars are one object."""
    calendar, known = problem.calendar, dict[int, Hours]()
    opened = [*(calendar.bays[bay.id] for bay in bays), ones(0, calendar.end)]
    found = []
    for person in people:
        masks = [calendar.people[person.id] & mask for mask in opened]
        for mask in masks:
            if mask not in known:
                known[mask] = Hours(mask, calendar.end)
        # A bay's number counts from the number of people on.
        found.append([known[masks[-1]]] * len(people) + [known[mask] for mask in masks])
    return found


def as_steps(
    ahead: JobAhead,
    people: Sequence[Person],
    bays: Sequence[Bay],
    hours: list[list[Hours]],
    now: int,
    settled: Mapping[Task, tuple[int, str, str]],
) -> list[Step]:
    """The steps of a job; `settled` gives some a start, person and bay besides what the problem pins."""
    steps = []
    for index, task in enumerate(ahead.tasks):
        start, who, where = settled.get(task, (task.start, task.person, task.bay))
        able = [
            number
            for number, person in enumerate(people)
            if who in ("", person.id) and task.skills <= set(person.skills)
        ]
        offered = [-1]
        if task.capabilities is not None:
            offered = [
                len(people) + number
                for number, bay in enumerate(bays)
                if where in ("", bay.id) and task.capabilities <= set(bay.can)
            ]
        step = Step(task, max(now, task.earliest), task.lag if index else 0, able, offered)
        step.start = start
        step.alike = {person: _alike(hours[person], offered) for person in able}
        step.steady = not any(hours[person][bay].away for person in able for bay in offered)
        steps.append(step)
    return steps


def _alike(hours: list[Hours], bays: list[int]) -> list[list[int]]:
    """The bays in groups in which the person has the same hours."""
    groups: dict[int, list[int]] = {}
    for bay in bays:
        groups.setdefault(id(hours[bay]), []).append(bay)
    return [*groups.values()]
