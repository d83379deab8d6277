"""Two job-shop instances of the literature, as problems of ours: each machine is a bay with a person of its own.

ft06: J. F. Muth and G. L. Thompson, Industrial Scheduling, Prentice-Hall, 1963; makespan 55.
la01: S. Lawrence, Resource constrained project scheduling (supplement), Carnegie-Mellon University, 1984; makespan 666.
A line is a job: machine and time of each operation in turn.
"""

from __future__ import annotations

from aids.plan_shops import axis
from shopboard.planning.tasks import Calendar, JobAhead, Kind, Problem, Task
from shopboard.records import Bay, Person, Role

FT06 = """
2 1  0 3  1 6  3 7  5 3  4 6
1 8  2 5  4 10 5 10 0 10 3 4
2 5  3 4  5 8  0 9  1 1  4 7
1 5  0 5  2 5  3 3  4 8  5 9
2 9  1 3  4 5  5 4  0 3  3 1
1 3  3 3  5 9  0 10 4 4  2 1
"""
LA01 = """
1 21 0 53 4 95 3 55 2 34
0 21 3 52 4 16 2 26 1 71
3 39 4 98 1 42 2 31 0 12
1 77 0 55 4 79 2 66 3 77
0 83 3 34 2 64 1 19 4 37
1 54 2 43 4 79 0 92 3 62
3 69 4 77 1 87 2 87 0 93
2 38 0 60 1 41 3 24 4 83
3 17 1 49 4 25 0 44 2 98
4 77 3 79 2 43 1 75 0 96
"""


def problem_of(text: str) -> Problem:
    """The instance as a problem: step k of a job needs the bay and the skill named for its machine."""
    jobs = []
    for number, line in enumerate(text.strip().splitlines(), 1):
        figures = [int(word) for word in line.split()]
        pairs = zip(figures[::2], figures[1::2], strict=True)
        jobs.append(JobAhead(number, tuple(_task(number, machine, time) for machine, time in pairs)))
    machines = range(1 + max(int(word) for line in text.strip().splitlines() for word in line.split()[::2]))
    total = sum(task.slots for ahead in jobs for task in ahead.tasks)
    days = total // 36 + 1
    open_ = (1 << days * 36) - 1
    bays = tuple(Bay(id=f"m{m}", name=f"machine {m}", can=(f"m{m}",)) for m in machines)
    people = tuple(Person(id=f"p{m}", name=f"P{m}", roles=(Role.TECHNICIAN,), skills=(f"m{m}",)) for m in machines)
    calendar = Calendar(axis(days), {bay.id: open_ for bay in bays}, {one.id: open_ for one in people})
    return Problem(tuple(jobs), bays, people, calendar)


def _task(job: int, machine: int, time: int) -> Task:
    what = frozenset({f"m{machine}"})
    return Task(job, Kind.REPAIR, time, capabilities=what, skills=what)
