"""Plans by a rule, made as time goes by: nobody stands idle who could work, and who is asked for least goes first."""

from __future__ import annotations

import random
from math import exp

import pytest
from aids.plan_check import faults
from aids.plan_shops import any_shop, axis, busy_shop, everyone

from shopboard.planning.bookings import Bookings
from shopboard.planning.dispatch import ALL, RULES, apparent_tardiness, best_of, dispatch, left_out, make, vary
from shopboard.planning.tasks import Calendar, JobAhead, Kind, Plan, Problem, Task
from shopboard.records import Bay, Person, Role


def idle(plan: Plan) -> list[str]:
    """Steps that could have begun sooner: a slot at which the step was ready and somebody able and a bay were free."""
    problem, found = plan.problem, []
    busy = {who.id: 0 for who in (*problem.people, *problem.bays)}
    for one in plan.placed:
        for who in filter(None, (one.person, one.bay)):
            busy[who] |= ((1 << (one.end - one.start)) - 1) << one.start
    for ahead in problem.jobs:
        done = problem.now
        for placed in sorted(plan.by_job[ahead.job], key=lambda one: one.start):
            task = placed.task
            able = [person.id for person in problem.people if task.skills <= set(person.skills)]
            bays = [bay.id for bay in problem.bays if task.needs_bay and task.capabilities <= set(bay.can)]
            for slot in range(max(done + task.lag, task.earliest), placed.start):
                hands = any(not busy[who] >> slot & 1 for who in able)
                if hands and (not task.needs_bay or any(not busy[bay] >> slot & 1 for bay in bays)):
                    found.append(f"{task.name} could begin at {slot}, begins at {placed.start}")
            done = placed.end
    return found


@pytest.mark.parametrize("rule", RULES)
def test_nobody_who_could_work_stands_idle(rule: str) -> None:
    """What makes a plan a non-delay schedule, by its definition (Pinedo, Scheduling, 2016, ch. 2)."""
    for seed in range(4):
        plan = dispatch(busy_shop(seed, 40, 6, 5, tight=seed % 2 == 0), rule)
        assert not faults(plan) and not idle(plan), (seed, idle(plan)[:3])


def test_the_check_for_idle_hands_notices() -> None:
    plan = dispatch(busy_shop(1, 40, 6, 5, tight=True), "EDD")
    last = max(plan.placed, key=lambda one: one.start)
    later = type(last)(last.task, last.start + 5, last.end + 5, last.person, last.bay)
    moved = tuple(later if one is last else one for one in plan.placed)
    assert idle(Plan(plan.problem, moved, plan.cost, plan.lateness))


@pytest.mark.parametrize("rule", RULES)
def test_every_rule_gives_a_legal_plan_of_any_shop(rule: str) -> None:
    for seed in range(60):
        made = dispatch(any_shop(seed), rule)
        assert not faults(made), (seed, faults(made)[:3])


def test_whoever_can_do_less_is_taken_first_and_then_goes_on_with_what_waits() -> None:
    """Ana knows hydrostats only, Ben everything: both begin at once, he with the engine, and she is free next."""
    skills = {"ana": ("hydrostat",), "ben": ("engine", "hydrostat")}
    crew = tuple(Person(id=who, name=who, roles=(Role.TECHNICIAN,), skills=can) for who, can in skills.items())
    floor = tuple(Bay(id=f"b{n}", name=f"bay {n}") for n in range(3))

    def job(number: int, skill: str, slots: int, promise: int) -> JobAhead:
        task = Task(number, Kind.REPAIR, slots, capabilities=frozenset(), skills=frozenset({skill}))
        return JobAhead(number, (task,), promise)

    jobs = (job(1, "hydrostat", 8, 10), job(2, "engine", 10, 40), job(3, "hydrostat", 20, 60))
    calendar = Calendar(axis(5), everyone(["b0", "b1", "b2"], 5), everyone(["ana", "ben"], 5))
    plan = dispatch(Problem(jobs, floor, crew, calendar), "EDD")
    assert {one.task.job: (one.person, one.start) for one in plan.placed} == {
        1: ("ana", 0),
        2: ("ben", 0),
        3: ("ana", 8),
    }


def test_the_apparent_tardiness_cost_is_as_published() -> None:
    """w/p · exp(−max(0, d − p − t)/(k·p̄)), reckoned by hand (the formula: Vepsalainen and Morton, 1987)."""
    problem = busy_shop(1, 12, 3, 3, tight=True)
    work = next(work for work in Bookings(problem).works if len(work.steps) == 2)
    first, last = work.steps
    at = work.promise - first.slots - last.slots - 6
    rule, weight = apparent_tardiness(1.5), work.ahead.weight
    assert rule(work, first, at, 2.0) == pytest.approx(weight / first.slots * exp(-2.0))
    assert rule(work, first, at + 6, 2.0) == rule(work, first, at + 60, 2.0) == weight / first.slots
    assert apparent_tardiness(1.5, 0.1)(work, first, at, 2.0) == pytest.approx(
        weight / first.slots * (0.1 + 0.9 * exp(-2.0))
    )


def varied(problem: Problem, times: int) -> tuple[float, Plan]:
    """The cost by the best rule, and the plan by so many variations of it."""
    bookings = Bookings(problem)
    empty = bookings.state()
    begun = best_of(bookings, ALL)
    left = iter(range(times))
    made = vary(bookings, begun, empty, random.Random(1).random, lambda: next(left, None) is not None)
    return begun.cost, bookings.plan(bookings.places, left_out(bookings, made.wrong))


def test_varied_rules_make_legal_plans_that_cost_no_more() -> None:
    gained = 0
    for seed in range(60):
        before, plan = varied(any_shop(seed), 10)
        assert not faults(plan), (seed, faults(plan)[:3])
        assert plan.cost <= before + 1e-9, seed
        gained += plan.cost < before
    assert gained >= 6


def test_a_long_job_is_put_off_where_that_makes_room_for_many() -> None:
    """One person; a long job due first delays nine short ones, by due dates. The short ones being equal, the best order
    is that of the ten places which the long one can have that costs least."""
    crew = (Person(id="ana", name="Ana", roles=(Role.TECHNICIAN,)),)
    floor = (Bay(id="b0", name="bay"),)

    def job(number: int, slots: int, promise: int) -> JobAhead:
        return JobAhead(number, (Task(number, Kind.REPAIR, slots, capabilities=frozenset()),), promise)

    jobs = (job(1, 30, 30), *(job(number, 4, 36) for number in range(2, 11)))
    problem = Problem(jobs, floor, crew, Calendar(axis(5), everyone(["b0"], 5), everyone(["ana"], 5)))

    def cost(before: int) -> float:
        ends = [4 * n for n in range(1, before + 1)] + [30 + 4 * n for n in range(before + 1, 10)]
        late = [(end, 36, 4) for end in ends] + [(4 * before + 30, 30, 30)]
        return sum(10.0 * max(0, end - due) + end - slots for end, due, slots in late)

    bookings = Bookings(problem)
    empty = bookings.state()
    first = make(bookings, RULES["EDD"], empty)
    assert first.cost == cost(0)
    left = iter(range(100))
    made = vary(bookings, first, empty, random.Random(3).random, lambda: next(left, None) is not None)
    best = min(map(cost, range(10)))
    assert first.cost > 2 * best
    assert made.cost == best


def test_a_machine_that_needs_the_bay_for_long_holds_up_no_short_job() -> None:
    """The first job's machine cannot leave the bay between its steps, and the bay is promised away from slot 8 on."""
    crew = tuple(Person(id=who, name=who, roles=(Role.TECHNICIAN,)) for who in ("ana", "ben"))
    floor, anywhere = (Bay(id="b0", name="bay"),), frozenset[str]()
    stays = JobAhead(
        1,
        (
            Task(1, Kind.DIAGNOSE, 2, capabilities=anywhere),
            Task(1, Kind.REPAIR, 10, capabilities=anywhere, keeps_bay=True),
        ),
        20,
    )
    short = JobAhead(2, (Task(2, Kind.REPAIR, 4, capabilities=anywhere),), 40)
    pinned = JobAhead(3, (Task(3, Kind.REPAIR, 4, start=8, capabilities=anywhere),), 60)
    calendar = Calendar(axis(5), everyone(["b0"], 5), everyone(["ana", "ben"], 5))
    plan = dispatch(Problem((stays, short, pinned), floor, crew, calendar), "EDD")
    assert not faults(plan)
    assert {one.task: one.start for one in plan.placed if one.task.kind != Kind.DIAGNOSE} == {
        stays.tasks[1]: 14,
        short.tasks[0]: 0,
        pinned.tasks[0]: 8,
    }
