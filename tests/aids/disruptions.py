"""What happens to a shop between two plans: time passes, a part is late, a person is ill, a bay is down, a rush job."""

from __future__ import annotations

import random
from dataclasses import replace

from aids.plan_shops import DAY
from shopboard.planning.tasks import JobAhead, Kind, Plan, Problem, Task

KINDS = ("part late", "person ill", "bay down", "rush job", "work longer")


def disrupted(plan: Plan, kind: str, seed: int, *, hours: int = 3) -> Problem:
    """The problem `hours` of work after `plan` was made: what was done then is gone, what was begun is under way, and
    one thing of `kind` has happened."""
    rng = random.Random(seed)
    problem = passed(plan, hours * 4)
    change = {
        "part late": _part_late,
        "person ill": _person_ill,
        "bay down": _bay_down,
        "rush job": _rush_job,
        "work longer": _work_longer,
    }[kind]
    return change(problem, plan, rng)


def passed(plan: Plan, slots: int) -> Problem:
    """The problem when `slots` of time have passed as planned."""
    now = plan.problem.now + slots
    jobs = []
    for ahead in plan.problem.jobs:
        chain = []
        for placed in plan.by_job.get(ahead.job, ()):
            task = placed.task
            if placed.end <= now:
                continue
            if placed.start < now:
                task = replace(task, slots=placed.end - now, start=now, person=placed.person, bay=placed.bay)
            elif not chain and task.lag:  # the step before is done: its wait is a date now
                before = next(one for one in plan.by_job[ahead.job] if one.task is _before(ahead, task))
                task = replace(task, earliest=max(task.earliest, before.end + task.lag), lag=0)
            if not chain and task.keeps_bay:  # it stands where the step before was done
                task = replace(task, bay=placed.bay)
            chain.append(task)
        if chain:
            jobs.append(replace(ahead, tasks=tuple(chain)))
    return replace(plan.problem, jobs=tuple(jobs), now=now)


def _before(ahead: JobAhead, task: Task) -> Task:
    return ahead.tasks[ahead.tasks.index(task) - 1]


def _part_late(problem: Problem, plan: Plan, rng: random.Random) -> Problem:
    """A repair of the next three days that is not begun gets its part two days later than its planned start."""
    soon = [
        placed
        for placed in plan.placed
        if placed.task.kind is Kind.REPAIR and problem.now + 8 <= placed.start < problem.now + 3 * DAY
    ]
    hit = rng.choice(soon)
    return _with(problem, hit.task, earliest=hit.start + 2 * DAY, waits_for="seal kit comes two days later")


def _person_ill(problem: Problem, _plan: Plan, rng: random.Random) -> Problem:
    """Somebody goes home for two days; what they had in hand stands in its bay for another to go on with."""
    person = rng.choice(problem.people).id
    people = dict(problem.calendar.people)
    people[person] &= ~(((1 << 2 * DAY) - 1) << problem.now)
    for task in [task for task in problem.tasks() if task.start is not None and task.person == person]:
        problem = _with(problem, task, start=None, person="", keeps_bay=task.needs_bay)
    return replace(problem, calendar=replace(problem.calendar, people=people))


def _bay_down(problem: Problem, _plan: Plan, rng: random.Random) -> Problem:
    """A bay cannot be used for two days; what was in hand there is moved out."""
    bay = rng.choice(problem.bays).id
    bays = dict(problem.calendar.bays)
    bays[bay] &= ~(((1 << 2 * DAY) - 1) << problem.now)
    for task in [task for task in problem.tasks() if task.start is not None and task.bay == bay]:
        problem = _with(problem, task, start=None, person="", bay="")
    return replace(problem, calendar=replace(problem.calendar, bays=bays))


def _rush_job(problem: Problem, _plan: Plan, rng: random.Random) -> Problem:
    job = 1 + max(ahead.job for ahead in problem.jobs)
    person = rng.choice(problem.people)
    skill = frozenset(person.skills[:1])
    chain = (
        Task(job, Kind.DIAGNOSE, 4, problem.now, skills=skill),
        Task(job, Kind.REPAIR, 14, skills=skill),
        Task(job, Kind.ROAD_TEST, 1, capabilities=None),
    )
    rush = JobAhead(job, chain, problem.now + DAY, 4.0, problem.now)
    return replace(problem, jobs=(*problem.jobs, rush))


def _work_longer(problem: Problem, _plan: Plan, rng: random.Random) -> Problem:
    begun = [task for task in problem.tasks() if task.start is not None]
    hit = rng.choice(begun)
    return _with(problem, hit, slots=hit.slots + 12)


def _with(problem: Problem, task: Task, **changes: object) -> Problem:
    """The problem with one step changed; `task` may be as it was before time passed."""
    jobs = []
    for ahead in problem.jobs:
        chain = tuple(
            replace(one, **changes) if (one.job, one.kind) == (task.job, task.kind) else one for one in ahead.tasks
        )
        jobs.append(replace(ahead, tasks=chain))
    return replace(problem, jobs=tuple(jobs))
