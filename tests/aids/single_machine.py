"""One machine, many jobs: textbook problems as plans, and their optima by dynamic programming over subsets."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import permutations

from aids.plan_shops import axis
from shopboard.planning.tasks import Calendar, JobAhead, Kind, Plan, Problem, Task
from shopboard.records import Person, Role

#: Processing time, weight, due date.
Job = tuple[int, float, int]


def problem_of(jobs: list[Job], *, late: float = 1.0, waiting: float = 0.0) -> Problem:
    """One person, no bay, everything there from the start: cost is `late` times the total weighted tardiness, and
    `waiting` times the total weighted wait (completion less processing time)."""
    total = sum(time for time, _, _ in jobs)
    ahead = tuple(
        JobAhead(number, (Task(number, Kind.REPAIR, time, capabilities=None),), due, weight, number)
        for number, (time, weight, due) in enumerate(jobs, 1)
    )
    days = total // 36 + 1
    who = Person(id="p", name="P", roles=(Role.TECHNICIAN,))
    calendar = Calendar(axis(days), {}, {"p": (1 << days * 36) - 1})
    return Problem(ahead, (), (who,), calendar, late=late, waiting=waiting)


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


def every_order(jobs: list[Job]) -> Iterator[dict[int, int]]:
    """By job (from 1 on) when it is complete, for every order of the jobs without a break."""
    for order in permutations(range(1, len(jobs) + 1)):
        end, ends = 0, {}
        for number in order:
            end += jobs[number - 1][0]
            ends[number] = end
        yield ends


def fewest_late(jobs: list[Job]) -> int:
    """The least number of late jobs: by due date, and whenever one would be late the longest so far goes to the end
    (J. M. Moore, Management Science 15(1), 1968, in the form by T. J. Hodgson given there)."""
    end, kept = 0, list[int]()
    for time, _, due in sorted(jobs, key=lambda job: job[2]):
        kept.append(time)
        end += time
        if end > due:
            kept.remove(longest := max(kept))
            end -= longest
    return len(jobs) - len(kept)
