"""One machine, many jobs: textbook problems as plans, and their optima by dynamic programming over subsets."""

from __future__ import annotations

from aids.plan_shops import axis
from shopboard.planning.tasks import Calendar, JobAhead, Kind, Plan, Problem, Task
from shopboard.records import Person, Role

#: Processing time, weight, due date.
Job = tuple[int, float, int]


def problem_of(jobs: list[Job]) -> Problem:
    """One person, no bay, everything there from the start: cost is the total weighted tardiness."""
    total = sum(time for time, _, _ in jobs)
    ahead = tuple(
        JobAhead(number, (Task(number, Kind.REPAIR, time, capabilities=None),), due, weight, number)
        for number, (time, weight, due) in enumerate(jobs, 1)
    )
    days = total // 36 + 1
    who = Person(id="p", name="P", roles=(Role.TECHNICIAN,))
    calendar = Calendar(axis(days), {}, {"p": (1 << days * 36) - 1})
    return Problem(ahead, (), (who,), calendar, late=1.0, waiting=0.0)


def tardiness(jobs: list[Job], plan: Plan) -> float:
    """Total weighted tardiness of a plan, counted from its places."""
    return sum(weight * max(0, plan.by_job[number][0].end - due) for number, (_, weight, due) in enumerate(jobs, 1))


def best_tardiness(jobs: list[Job]) -> float:
    """The least total weighted tardiness, exactly: the last job of every subset of jobs tried (Held and Karp, 1962)."""
    count = len(jobs)
    best = [0.0] + [float("inf")] * ((1 << count) - 1)
    times = [0] * (1 << count)
    for done in range(1, 1 << count):
        low = (done & -done).bit_length() - 1
        times[done] = times[done & (done - 1)] + jobs[low][0]
        for last in range(count):
            if done >> last & 1:
                _, weight, due = jobs[last]
                best[done] = min(best[done], best[done ^ (1 << last)] + weight * max(0, times[done] - due))
    return best[-1]
