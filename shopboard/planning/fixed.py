"""Steps whose start is settled: work under way, what begins too soon to be moved, what somebody pinned to an hour.

They take their places before anything else is planned.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from .tasks import Unplaceable
from .windows import ones

if TYPE_CHECKING:
    from .bookings import Bookings
    from .works import Place, Step, Work


def fix_all(bookings: Bookings) -> list[Unplaceable]:
    """Give every step with a `start` its place, those with the fewest choices first; what cannot have it, and why.

    A step begins at the person's first slot from its start on; its bay is taken from the start.
    """
    steps = [(work, step) for work in bookings.works for step in work.steps if step.start is not None]
    steps.sort(key=lambda pair: (len(pair[1].people) * len(pair[1].bays), pair[1].start, pair[1].task.job))
    wrong = []
    for work, step in steps:
        if not _fix(bookings, work, step):
            wrong.append(Unplaceable(step.task, _why(bookings, step)))
    return wrong


def _fix(bookings: Bookings, work: Work, step: Step) -> bool:
    start = max(bookings.now, step.start or 0)
    index = work.steps.index(step)
    since = start
    if step.stays:
        before = work.steps[index - 1].fixed if index else None
        since = before[1] if before else bookings.now if not index else start
    for person in step.people:
        for bay in step.bays:
            place = _place(bookings, step, start, since, person, bay)
            if place is not None:
                step.fixed = place
                bookings.book(place)
                return True
    return False


def _place(bookings: Bookings, step: Step, start: int, since: int, person: int, bay: int) -> Place | None:
    hours = bookings.hours_of(person, bay)
    begin = hours.first(start)
    end = hours.end_of(begin, step.slots)
    if end < 0 or bookings.busy[person] & ones(begin, end):
        return None
    if bay >= 0 and bookings.busy[bay] & ones(since, end):
        return None
    return begin, end, person, bay, since


def _why(bookings: Bookings, step: Step) -> str:
    task, calendar = step.task, bookings.problem.calendar
    start = max(bookings.now, step.start or 0)
    other = _in_the_way(bookings, step, start)
    what = f"the {task.name} is pinned to {calendar.words(start)}"
    if other is None:
        return f"{what}, but nobody who can do it is there long enough: take the pin away"
    return f"{what}, where the {other} already is: take one of the two pins away"


def _in_the_way(bookings: Bookings, step: Step, start: int) -> str | None:
    mask = ones(start, start + step.slots)
    for work in bookings.works:
        for one in work.steps:
            if not one.fixed or one is step or not ones(one.fixed[4], one.fixed[1]) & mask:
                continue
            if one.fixed[2] in step.people or (one.fixed[3] >= 0 and one.fixed[3] in step.bays):
                return one.task.name
    return None
