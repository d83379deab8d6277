"""A first plan: the shop run through by some rules, and by the best of them varied; the best plan kept."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from math import exp
from typing import NamedTuple

from shopboard.records import tag

from .bookings import Bookings, State
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
#: When a rule is varied: the share of jobs whose urgency changes at a time, besides one that always does, and the
#: logarithm of the most that it changes by.
_VARIED, _SPAN = 0.02, 1.2


class Made(NamedTuple):
    """A plan a rule made: the rule, the jobs that do not fit, what it costs, and the places and masks of the rest."""

    rule: Rule
    wrong: list[Work]
    cost: float
    state: State

    @property
    def worth(self) -> tuple[int, float]:
        """Most jobs, then least cost: the less the better."""
        return len(self.wrong), self.cost


def make(bookings: Bookings, rule: Rule, empty: State) -> Made:
    """The plan a rule makes, left in `bookings`; `empty` is what they were before any job was put in."""
    bookings.go_back(empty)
    wrong = put_in_turn(bookings, rule)
    return Made(rule, wrong, sum(bookings.costs.values()), bookings.state())


def best_of(bookings: Bookings, rules: Sequence[Rule]) -> Made:
    """The best plan that one of the rules makes, left in `bookings`."""
    empty = bookings.state()
    best = min((make(bookings, rule, empty) for rule in rules), key=lambda made: made.worth)
    bookings.go_back(best.state)
    return best


def vary(bookings: Bookings, begun: Made, empty: State, random: Callable[[], float], go_on: Callable[[], bool]) -> Made:
    """The best plan that variations of a rule make, left in `bookings`: again and again some jobs are made more or less
    urgent, and that is kept when the plan costs no more.

    A search in problem space (Storer, Wu and Vaccari, Management Science 38(10), 1992). A long job that were better put
    off makes room here for all that comes after it at once; moving one job after the other does not get there, as the
    first such move only costs.
    """
    best, factors = begun, dict.fromkeys((work.ahead.job for work in bookings.works), 1.0)
    jobs = [*factors]
    while jobs and go_on():
        tried = factors.copy()
        for job in (jobs[int(random() * len(jobs))], *(job for job in jobs if random() < _VARIED)):
            tried[job] *= exp(_SPAN * (2 * random() - 1))
        made = make(bookings, _times(begun.rule, tried), empty)
        if made.worth <= best.worth:
            best, factors = made, tried
    bookings.go_back(best.state)
    return best


def _times(rule: Rule, factors: Mapping[int, float]) -> Rule:
    return lambda work, step, at, pace: rule(work, step, at, pace) * factors[work.ahead.job]


def left_out(bookings: Bookings, wrong: Iterable[Work]) -> list[Unplaceable]:
    """What is said of jobs that do not fit on the axis."""
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
    return _plan_by(problem, [RULES[rule]])


def first_plan(problem: Problem) -> Plan:
    """A plan at once."""
    return _plan_by(problem, AT_ONCE)


def _plan_by(problem: Problem, rules: Sequence[Rule]) -> Plan:
    bookings = Bookings(problem)
    made = best_of(bookings, rules)
    return bookings.plan(bookings.places, left_out(bookings, made.wrong))
