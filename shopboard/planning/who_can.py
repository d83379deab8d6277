"""Who and which bay can do a step; why it can have no place at all: a skill that nobody has, a bay that does not exist,
a choice that cannot be."""

from __future__ import annotations

from collections.abc import Iterable

from shopboard.records import Bay, Person, tag

from .tasks import JobAhead, Problem, Task


def why_not(problem: Problem, ahead: JobAhead, task: Task) -> str | None:
    """Why no plan can hold a step, with what would do; None when somebody can do it somewhere.

    Hours are not looked at here: somebody who can, but is away throughout, shows only while planning.
    """
    return _person_wrong(problem, task) or _bay_wrong(problem, ahead, task) or _stuck(problem, ahead, task)


def _person_wrong(problem: Problem, task: Task) -> str | None:
    able = [person for person in problem.people if task.skills <= set(person.skills)]
    if not task.person:
        return None if able else _nobody(problem, task)
    chosen = next((person for person in problem.people if person.id == task.person), None)
    if chosen is None:
        return f'"{task.person}" does not work on machines here: choose {_names(able or problem.people)}'
    if chosen not in able:
        lacks = ", ".join(sorted(task.skills - set(chosen.skills)))
        others = f"give it to {_names(able)}" if able else "nobody here has it"
        return f"the {task.name} needs {lacks}, which {chosen.name} has not: {others}"
    return None


def _nobody(problem: Problem, task: Task) -> str:
    if not problem.people:
        return "nobody works on machines here: add a technician to shop.toml"
    alone = [skill for skill in sorted(task.skills) if not any(skill in person.skills for person in problem.people)]
    if alone:
        return f"the {task.name} needs {', '.join(alone)}, which nobody has: add the skill to a person in shop.toml"
    return f"the {task.name} needs {', '.join(sorted(task.skills))} in one person: nobody has all of it"


def _bay_wrong(problem: Problem, ahead: JobAhead, task: Task) -> str | None:
    if task.capabilities is None:
        return None
    able = [bay for bay in problem.bays if task.capabilities <= set(bay.can)]
    needs = ", ".join(sorted(task.capabilities))
    if not task.bay:
        if not able:
            return f"the {task.name} needs a bay with {needs}: there is none" if needs else "the shop has no bay"
        if task.keeps_bay and ahead.tasks[0] is task:
            return f"the {task.name} is to stay in its bay, but no bay is named: say where the machine stands"
        return None
    chosen = next((bay for bay in problem.bays if bay.id == task.bay), None)
    if chosen is None:
        return f'bay "{task.bay}" does not exist: there is {_bays(problem.bays)}'
    if chosen not in able:
        return f"the {task.name} needs {needs}, which bay {chosen.id} has not: {_bays(able) or 'no bay'} has it"
    return None


def _stuck(problem: Problem, ahead: JobAhead, task: Task) -> str | None:
    """A machine that cannot be moved, whose steps no single bay can serve."""
    stay = [task]
    for before in reversed(ahead.tasks[: ahead.tasks.index(task)]):
        if not stay[-1].keeps_bay:
            break
        stay.append(before)
    if len(stay) == 1 or any(all(_serves(bay, one) for one in stay) for bay in problem.bays):
        return None
    where = next((f"bay {one.bay}" for one in stay if one.bay), "one bay")
    needs = ", ".join(sorted(frozenset[str]().union(*(one.capabilities or () for one in stay)))) or "another bay"
    return f"{tag(task.job)} cannot be moved, and its steps need {needs}: {where} does not do for all of them"


def _serves(bay: Bay, task: Task) -> bool:
    return task.capabilities is not None and task.bay in ("", bay.id) and task.capabilities <= set(bay.can)


def _names(people: Iterable[Person]) -> str:
    return " or ".join(person.name for person in people)


def _bays(bays: Iterable[Bay]) -> str:
    return ", ".join(f"bay {bay.id} {bay.name}".rstrip() for bay in bays)


def asked_for(problem: Problem) -> dict[tuple[str, str], float]:
    """Slots of work that each person and bay would get if every step were shared by all who can do it."""
    asked = {("p", one.id): 0.0 for one in problem.people} | {("b", one.id): 0.0 for one in problem.bays}
    for task in problem.tasks():
        people = [("p", one.id) for one in problem.people if task.skills <= set(one.skills)]
        bays = [
            ("b", one.id) for one in problem.bays if task.needs_bay and (task.capabilities or set()) <= set(one.can)
        ]
        for able in (people, bays):
            for one in able:
                asked[one] += task.slots / len(able)
    return asked
