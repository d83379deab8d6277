"""Looks a plan over slot by slot, knowing nothing of how it was made: what it finds wrong, in words."""

from __future__ import annotations

from collections.abc import Iterator

from shopboard.planning.tasks import JobAhead, Placed, Plan, Problem, Task


def faults(plan: Plan) -> list[str]:
    """Everything that is wrong with a plan; empty when it is legal and its figures are right."""
    return [*_whole(plan), *_steps(plan), *_order(plan), *_no_overlap(plan), *_figures(plan)]


def _open(mask: int, slot: int) -> bool:
    return bool(mask >> slot & 1)


def _works(problem: Problem, placed: Placed, slot: int) -> bool:
    calendar = problem.calendar
    bay = _open(calendar.bays[placed.bay], slot) if placed.bay else True
    return bay and _open(calendar.people[placed.person], slot)


def _whole(plan: Plan) -> Iterator[str]:
    """Every step once, jobs whole or not at all."""
    left_out = {one.task.job for one in plan.unplaceable}
    seen: dict[Task, int] = {}
    for placed in plan.placed:
        seen[placed.task] = seen.get(placed.task, 0) + 1
    wanted = [task for task in plan.problem.tasks() if task.job not in left_out]
    for task in wanted:
        if seen.pop(task, 0) != 1:
            yield f"{task.name} is not in the plan once"
    for task in seen:
        yield f"{task.name} should not be in the plan"
    yield from (f"{one.task.name} is left out without a reason" for one in plan.unplaceable if not one.why)


def _steps(plan: Plan) -> Iterator[str]:
    problem = plan.problem
    people = {person.id: person for person in problem.people}
    bays = {bay.id: bay for bay in problem.bays}
    for placed in plan.placed:
        task, name = placed.task, placed.task.name
        if placed.person not in people or (placed.bay and placed.bay not in bays):
            yield f"{name}: unknown person or bay"
            continue
        if not set(task.skills) <= set(people[placed.person].skills):
            yield f"{name}: {placed.person} cannot do it"
        if (task.capabilities is None) != (placed.bay == ""):
            yield f"{name}: bay where none belongs, or none where one does"
        elif task.capabilities is not None and not set(task.capabilities) <= set(bays[placed.bay].can):
            yield f"{name}: bay {placed.bay} does not offer what it takes"
        if task.person not in ("", placed.person) or task.bay not in ("", placed.bay):
            yield f"{name}: the choice of person or bay is not kept"
        yield from _hours(problem, placed)


def _hours(problem: Problem, placed: Placed) -> Iterator[str]:
    task, name = placed.task, placed.task.name
    if placed.start < max(problem.now, task.earliest if task.start is None else 0):
        yield f"{name}: begins before it can"
    if task.start is not None:
        first = max(problem.now, task.start)
        while not _works(problem, placed, first):
            first += 1
        if placed.start != first:
            yield f"{name}: pinned to {first}, planned for {placed.start}"
    if not 0 <= placed.start < placed.end <= problem.calendar.end:
        yield f"{name}: off the axis"
        return
    worked = [slot for slot in range(placed.start, placed.end) if _works(problem, placed, slot)]
    if len(worked) != task.slots:
        yield f"{name}: {len(worked)} slots of work where {task.slots} are needed"
    elif worked[0] != placed.start or worked[-1] != placed.end - 1:
        yield f"{name}: begins or ends while nobody works"


def _order(plan: Plan) -> Iterator[str]:
    for ahead in plan.problem.jobs:
        before = None
        for placed in plan.by_job.get(ahead.job, ()):
            if before is not None and placed.start < before.end + placed.task.lag:
                yield f"{placed.task.name}: before the step it follows is done"
            if placed.task.keeps_bay and before is not None and before.bay != placed.bay:
                yield f"{placed.task.name}: the machine cannot be moved to {placed.bay}"
            before = placed
        if tuple(one.task for one in plan.by_job.get(ahead.job, ())) not in ((), ahead.tasks):
            yield f"T-{ahead.job:04d}: steps in another order"


def _stay(plan: Plan, placed: Placed) -> range:
    """The slots in which a step's machine is in its bay."""
    if not placed.task.keeps_bay:
        return range(placed.start, placed.end)
    chain = plan.by_job[placed.task.job]
    index = chain.index(placed)
    return range(chain[index - 1].end if index else plan.problem.now, placed.end)


def _no_overlap(plan: Plan) -> Iterator[str]:
    people: dict[tuple[str, int], Placed] = {}
    bays: dict[tuple[str, int], Placed] = {}
    for placed in plan.placed:
        for slot in range(placed.start, placed.end):
            other = people.setdefault((placed.person, slot), placed)
            if other is not placed:
                yield f"{placed.person} does {placed.task.name} and {other.task.name} in slot {slot}"
        for slot in _stay(plan, placed) if placed.bay else ():
            other = bays.setdefault((placed.bay, slot), placed)
            if other is not placed:
                yield f"{placed.bay} holds {placed.task.name} and {other.task.name} in slot {slot}"


def cost_of(problem: Problem, ahead: JobAhead, over: int) -> float:
    """What a job costs that is over at that slot, straight from the words: lateness and waiting."""
    late = 0 if ahead.promise is None else max(0, over - ahead.promise)
    wait = over - problem.now - sum(task.slots for task in ahead.tasks)
    return ahead.weight * (problem.late * late + problem.waiting * wait)


def _figures(plan: Plan) -> Iterator[str]:
    cost, lateness = 0.0, {}
    for ahead in plan.problem.jobs:
        chain = plan.by_job.get(ahead.job)
        if not chain:
            continue
        cost += cost_of(plan.problem, ahead, chain[-1].end)
        if ahead.promise is not None:
            lateness[ahead.job] = chain[-1].end - ahead.promise
    if abs(cost - plan.cost) > 1e-6 * max(1.0, cost):
        yield f"the cost is {cost}, the plan says {plan.cost}"
    if lateness != dict(plan.lateness):
        yield "lateness is not what the places say"
