"""The same planning problem as a constraint model for an independent solver, for comparison only."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from ortools.sat.python import cp_model

from aids.plan_check import cost_of
from shopboard.planning.tasks import Placed, Plan, Problem, Task


@dataclass(frozen=True)
class Solved:
    """What the solver found: cost (None: nothing), proved lower bound, places, and whether it proved them best."""

    cost: float | None
    bound: float
    placed: tuple[Placed, ...]
    optimal: bool


def solve(
    problem: Problem,
    seconds: float,
    hint: Plan | None = None,
    keep: Mapping[Task, Placed] | None = None,
    seed: int = 1,
    horizon: int = 0,
    makespan: bool = False,
) -> Solved:
    """Solve with everybody there all day (calendars are not modelled); `keep` holds steps where they are, `makespan`
    asks for the least end of all instead of the least cost."""
    end = horizon or problem.calendar.end
    model = cp_model.CpModel()
    people: dict[str, list[cp_model.IntervalVar]] = {one.id: [] for one in problem.people}
    bays: dict[str, list[cp_model.IntervalVar]] = {one.id: [] for one in problem.bays}
    starts: dict[Task, cp_model.IntVar] = {}
    chosen: dict[Task, dict[str, cp_model.IntVar]] = {}
    hints = {one.task: one for one in hint.placed} if hint else {}
    for task in problem.tasks():
        first = max(problem.now, task.earliest)
        start = starts[task] = model.new_int_var(first, end - task.slots, "")
        chosen[task] = {}
        able = [one.id for one in problem.people if task.skills <= set(one.skills)]
        _choose(model, people, chosen[task], start, task.slots, able)
        if task.capabilities is not None:
            fit = [one.id for one in problem.bays if task.capabilities <= set(one.can)]
            _choose(model, bays, chosen[task], start, task.slots, fit)
        if keep and task in keep:
            place = keep[task]
            model.add(start == place.start)
            for name in (place.person, place.bay):
                if name:
                    model.add(chosen[task][name] == 1)
        if task in hints:
            model.add_hint(start, hints[task].start)
            for name, literal in chosen[task].items():
                model.add_hint(literal, name in (hints[task].person, hints[task].bay))
    for intervals in (*people.values(), *bays.values()):
        model.add_no_overlap(intervals)
    _objective(model, problem, starts, end, makespan)
    return _run(model, problem, starts, chosen, seconds, seed)


def _choose(
    model: cp_model.CpModel,
    where: dict[str, list[cp_model.IntervalVar]],
    chosen: dict[str, cp_model.IntVar],
    start: cp_model.IntVar,
    slots: int,
    names: list[str],
) -> None:
    for name in names:
        chosen[name] = model.new_bool_var("")
        where[name].append(model.new_optional_fixed_size_interval_var(start, slots, chosen[name], ""))
    model.add_exactly_one(chosen[name] for name in names)


def _objective(
    model: cp_model.CpModel, problem: Problem, starts: Mapping[Task, cp_model.IntVar], end: int, makespan: bool
) -> None:
    terms = []
    whole = model.new_int_var(0, end, "")
    for ahead in problem.jobs:
        for before, after in zip(ahead.tasks, ahead.tasks[1:], strict=False):
            model.add(starts[after] >= starts[before] + before.slots + after.lag)
        over = starts[ahead.tasks[-1]] + ahead.tasks[-1].slots
        model.add(whole >= over)
        work = sum(task.slots for task in ahead.tasks)
        terms.append(round(ahead.weight * problem.waiting) * (over - problem.now - work))
        if ahead.promise is not None:
            late = model.new_int_var(0, max(0, end - ahead.promise), "")
            model.add(late >= over - ahead.promise)
            terms.append(round(ahead.weight * problem.late) * late)
    model.minimize(whole if makespan else sum(terms))


def _run(
    model: cp_model.CpModel,
    problem: Problem,
    starts: Mapping[Task, cp_model.IntVar],
    chosen: Mapping[Task, Mapping[str, cp_model.IntVar]],
    seconds: float,
    seed: int,
) -> Solved:
    solver = cp_model.CpSolver()
    solver.parameters.max_time_in_seconds = seconds
    solver.parameters.num_workers = 2
    solver.parameters.random_seed = seed
    status = solver.solve(model)
    if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        return Solved(None, solver.best_objective_bound, (), False)
    placed = []
    persons = {one.id for one in problem.people}
    for task, start in starts.items():
        names = [name for name, literal in chosen[task].items() if solver.boolean_value(literal)]
        who = next(name for name in names if name in persons)
        where = next((name for name in names if name not in persons), "")
        begin = solver.value(start)
        placed.append(Placed(task, begin, begin + task.slots, who, where))
    return Solved(solver.objective_value, solver.best_objective_bound, tuple(placed), status == cp_model.OPTIMAL)


def as_plan(problem: Problem, solved: Solved) -> Plan:
    """What the solver found, as a plan."""
    over = {placed.task.job: placed.end for placed in sorted(solved.placed, key=lambda one: one.end)}
    lateness = {ahead.job: over[ahead.job] - ahead.promise for ahead in problem.jobs if ahead.promise is not None}
    order = {task: index for index, task in enumerate(problem.tasks())}
    placed = tuple(sorted(solved.placed, key=lambda one: (one.task.job, order[one.task])))
    cost = sum(cost_of(problem, ahead, over[ahead.job]) for ahead in problem.jobs)
    return Plan(problem, placed, cost, lateness)


def improve_by_parts(problem: Problem, start: Plan, seconds: float, seed: int) -> Plan:
    """The solver as sub-solver: again and again some jobs are set free and all others held, until the time is over.

    Which jobs: those whose steps lie nearest to a moment drawn at random.
    """
    import random
    import time

    rng = random.Random(seed)
    best = start
    until = time.perf_counter() + seconds
    while (left := until - time.perf_counter()) > 0.5:
        moment = rng.choice(best.placed).start
        by_time = sorted(best.by_job, key=lambda job: min(abs(one.start - moment) for one in best.by_job[job]))
        free = set(by_time[:10])
        keep = {one.task: one for one in best.placed if one.task.job not in free}
        horizon = min(problem.calendar.end, max(one.end for one in best.placed) + 100)
        found = solve(problem, min(3.0, left), best, keep, rng.randrange(1 << 20), horizon)
        if found.cost is not None and found.cost < best.cost - 1e-6:
            best = as_plan(problem, found)
    return best
