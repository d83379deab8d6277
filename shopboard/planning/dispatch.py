"""A first plan at once: the shop run through by some rules, the best plan kept."""

from __future__ import annotations

from collections.abc import Sequence
from math import exp

from shopboard.records import tag

from .bookings import Bookings
from .in_turn import Rule, put_in_turn
from .tasks import Plan, Problem, Unplaceable
from .works import Step, Work


def first_come(work: Work, _step: Step, _at: float, _pace: float) -> float:
    """First in, first out: by arrival."""
    return -work.ahead.arrived


def earliest_due(work: Work, _step: Step, _at: float, _pace: float) -> float:
    """Earliest due date: by promise; jobs without one last."""
    return -work.promise


def critical_ratio(work: Work, step: Step, at: float, _pace: float) -> float:
    """Time left until the promise over the work left: the smallest first."""
    return -(work.promise - at) / (step.slots + step.rest)


def apparent_tardiness(look_ahead: float, waiting: float = 0.0) -> Rule:
    """Apparent tardiness cost (Vepsalainen and Morton, Management Science 33(8), 1987): weight over the length of the
    step, discounted by the slack in units of `look_ahead` mean steps; a share of it, `waiting`, is never discounted."""

    def rule(work: Work, step: Step, at: float, pace: float) -> float:
        slack = max(0.0, work.promise - step.rest - step.slots - at)
        discount = exp(-min(600.0, slack / (look_ahead * pace)))
        return work.ahead.weight / step.slots * (waiting + (1.0 - waiting) * discount)

    return rule


RULES: dict[str, Rule] = {
    "FIFO": first_come,
    "EDD": earliest_due,
    "critical ratio": critical_ratio,
    "ATC": apparent_tardiness(0.75),
    "ATC and waiting": apparent_tardiness(0.75, 0.1),
}
#: Two looked at for a plan at once: one for shops with more promised than can be kept, one for those where all can be.
AT_ONCE = (RULES["ATC"], RULES["ATC and waiting"])
#: Those looked at when there is time; no one of them is good for every shop.
ALL = tuple(apparent_tardiness(look_ahead, share) for look_ahead in (0.5, 0.75, 1.1, 1.6) for share in (0.0, 0.03, 0.1))


def put_all(bookings: Bookings, rule: Rule) -> list[Unplaceable]:
    """Put every job in by a rule, and say which do not fit on the axis."""
    wrong = put_in_turn(bookings, rule)
    return [Unplaceable(work.steps[0].task, does_not_fit(bookings, work)) for work in wrong]


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
    """The plan that one rule of `RULES` gives."""
    bookings = Bookings(problem)
    return bookings.plan(bookings.places, put_all(bookings, RULES[rule]))


def best_start(bookings: Bookings, rules: Sequence[Rule]) -> list[Unplaceable]:
    """Put every job in by the best of the rules: most jobs, then least cost."""
    empty, found = bookings.save(), []
    for rule in rules:
        bookings.restore((empty[0].copy(), empty[1].copy()))
        bookings.places, bookings.costs = {}, {}
        wrong = put_all(bookings, rule)
        found.append((wrong, bookings.places, bookings.costs, bookings.save()))
    best = min(found, key=lambda one: (len(one[0]), sum(one[2].values())))
    wrong, bookings.places, bookings.costs, saved = best
    bookings.restore(saved)
    return wrong


def first_plan(problem: Problem) -> Plan:
    """A plan at once."""
    bookings = Bookings(problem)
    wrong = best_start(bookings, AT_ONCE)
    return bookings.plan(bookings.places, wrong)
