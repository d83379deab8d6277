"""A first plan at once: jobs put in one after the other by a rule, the best of four rules kept."""

from __future__ import annotations

from collections.abc import Callable
from math import exp

from shopboard.records import tag

from .bookings import Bookings
from .tasks import Plan, Problem, Unplaceable
from .works import Place, Work

#: The look-ahead of the apparent tardiness cost rule, in mean lengths of a job's work (k = 2; Vepsalainen and Morton,
#: Management Science 33(8), 1987).
LOOK_AHEAD = 2.0

#: A rule says how urgent a job is at a slot; the most urgent is put in next.
Rule = Callable[[Work, float, float], float]


def first_come(work: Work, _at: float, _mean: float) -> float:
    """First in, first out: by arrival."""
    return -work.ahead.arrived


def earliest_due(work: Work, _at: float, _mean: float) -> float:
    """Earliest due date: by promise; jobs without one last."""
    return -work.promise


def critical_ratio(work: Work, at: float, _mean: float) -> float:
    """Time left until the promise over the work left: the smallest first."""
    return -(work.promise - at) / work.slots


def apparent_tardiness(work: Work, at: float, mean: float) -> float:
    """Apparent tardiness cost: weight over work, discounted by the slack in units of k mean jobs."""
    slack = max(0.0, work.promise - work.steps[0].rest - work.steps[0].slots - at)
    return work.ahead.weight / work.slots * exp(-min(600.0, slack / (LOOK_AHEAD * mean)))


RULES: dict[str, Rule] = {
    "FIFO": first_come,
    "EDD": earliest_due,
    "critical ratio": critical_ratio,
    "ATC": apparent_tardiness,
}


def put_all(bookings: Bookings, rule: Rule) -> list[Unplaceable]:
    """Put every job in, the most urgent first, and say which do not fit on the axis.

    The slot at which the rule looks is when the people would be through with what was put in so far, shared evenly.
    Jobs that hold a bay already or have a settled step go first: nobody else can be where they are.
    """
    left = sorted(bookings.works, key=lambda work: (not _tied(work), work.ahead.arrived, work.ahead.job))
    tied = sum(map(_tied, left))
    mean = max(1.0, sum(work.slots for work in left) / max(1, len(left)))
    done, wrong = 0, []
    while left:
        at = bookings.now + done / max(1, len(bookings.people))
        urgency = [rule(work, at, mean) for work in left[: tied or None]]
        pick = left.pop(urgency.index(max(urgency)))
        tied -= tied > 0
        done += pick.slots
        if bookings.put(pick) is None:
            wrong.append(Unplaceable(pick.steps[0].task, does_not_fit(bookings, pick)))
    return wrong


def _tied(work: Work) -> bool:
    return work.reserved is not None or any(step.fixed for step in work.steps)


def does_not_fit(bookings: Bookings, work: Work) -> str:
    """The sentence about a job that has no place on the axis."""
    calendar, first = bookings.problem.calendar, work.steps[0]
    name, end = tag(work.ahead.job), calendar.words(calendar.end, end=True)
    if work.reserved or first.fixed:
        where = f"stands in bay {first.task.bay}" if work.reserved else "is begun"
        return f"{name} {where} and what follows is not free for it in time: take a pin away, or move the machine"
    for step in work.steps:
        if not any(calendar.people[bookings.people[one].id] >> step.earliest for one in step.people):
            return f"nobody who can do the {step.task.name} is there before {end}: see hours, and who is away"
    return f"the work on {name} does not fit before {end}, where the calendar ends"


def dispatch(problem: Problem, rule: str) -> Plan:
    """The plan that one rule of `RULES` gives: list scheduling, each job at the earliest places still free."""
    bookings = Bookings(problem)
    return bookings.plan(bookings.places, put_all(bookings, RULES[rule]))


def best_start(bookings: Bookings) -> list[Unplaceable]:
    """Put every job in by the rule that costs least, most jobs first."""
    best: tuple[tuple[int, float], dict[int, list[Place]], dict[int, float], object, list[Unplaceable]] | None = None
    empty = bookings.save()
    for rule in RULES.values():
        bookings.restore((empty[0].copy(), empty[1].copy()))
        bookings.places, bookings.costs = {}, {}
        wrong = put_all(bookings, rule)
        worth = (len(wrong), sum(bookings.costs.values()))
        if best is None or worth < best[0]:
            best = worth, bookings.places, bookings.costs, bookings.save(), wrong
    assert best is not None
    _, bookings.places, bookings.costs, saved, wrong = best
    bookings.restore(saved)  # type: ignore[arg-type]
    return wrong


def first_plan(problem: Problem) -> Plan:
    """A plan at once: the best of first in first out, earliest due date, critical ratio and apparent tardiness cost."""
    bookings = Bookings(problem)
    wrong = best_start(bookings)
    return bookings.plan(bookings.places, wrong)
