"""Plans for random shops, looked over slot by slot by an independent validator."""

from __future__ import annotations

import random
from dataclasses import replace

import pytest
from aids.plan_check import faults
from aids.plan_shops import DAY, any_shop, axis, busy_shop, everyone

from shopboard.planning.dispatch import RULES, dispatch, first_plan
from shopboard.planning.search import by_tries, plan
from shopboard.planning.tasks import Calendar, JobAhead, Kind, Plan, Problem, Task, Unplaceable
from shopboard.records import Bay, Person, Role

SHOPS = 520


@pytest.mark.parametrize("part", range(4))
def test_every_plan_of_a_random_shop_is_legal_and_no_worse_than_the_first(part: int) -> None:
    for seed in range(part, SHOPS, 4):
        problem = any_shop(seed)
        first = first_plan(problem)
        better = plan(problem, random.Random(seed), by_tries(60))
        assert not faults(first), (seed, faults(first)[:3])
        assert not faults(better), (seed, faults(better)[:3])
        assert {one.task.job for one in better.unplaceable} <= {one.task.job for one in first.unplaceable}, seed
        assert better.worth <= first.worth or better.cost == pytest.approx(first.cost), seed


def test_the_random_shops_have_in_them_what_can_happen() -> None:
    tasks = [task for seed in range(SHOPS) for task in any_shop(seed).tasks()]
    for what in ("keeps_bay", "person", "bay", "lag"):
        assert sum(1 for task in tasks if getattr(task, what)) > 100, what
    assert sum(1 for task in tasks if task.start is not None) > 100
    plans = [first_plan(any_shop(seed)) for seed in range(100)]
    assert any(one.end - one.start > one.task.slots for made in plans for one in made.placed)  # gone on with later
    placed = sum(len(made.placed) for made in plans)
    assert placed > 0.6 * sum(len([*made.problem.tasks()]) for made in plans)


@pytest.mark.parametrize("rule", RULES)
def test_every_rule_gives_a_legal_plan(rule: str) -> None:
    made = dispatch(busy_shop(3, 40, 6, 5, tight=True), rule)
    assert not faults(made)
    assert not made.unplaceable


def test_the_search_beats_the_rules_and_gives_the_same_plan_for_the_same_seed() -> None:
    by_rule = by_search = 0.0
    for seed in range(1, 5):
        problem = busy_shop(seed, 40, 6, 5, tight=True)
        by_rule += min(dispatch(problem, rule).cost for rule in RULES)
        one, two = (plan(problem, random.Random(5), by_tries(1500)) for _ in range(2))
        assert not faults(one)
        assert one.placed == two.placed
        by_search += one.cost
    assert by_search < 0.98 * by_rule


def test_no_time_at_all_still_gives_a_plan_as_good_as_the_first() -> None:
    problem = busy_shop(5, 40, 6, 5, tight=True)
    made = plan(problem, random.Random(1), lambda: 1.0)
    assert made.cost <= first_plan(problem).cost and not faults(made)


def test_nothing_to_plan_is_an_empty_plan() -> None:
    empty = replace(any_shop(1), jobs=())
    made = plan(empty, random.Random(1), by_tries(10))
    assert (made.placed, made.cost, made.unplaceable) == ((), 0.0, ())


# -- the validator notices ------------------------------------------------------------------------------------------


def legal() -> Plan:
    made = first_plan(busy_shop(6, 12, 3, 3, tight=True))
    assert not faults(made)
    return made


def changed(made: Plan, index: int, **fields: object) -> Plan:
    placed = [*made.placed]
    placed[index] = replace(placed[index], **fields)  # type: ignore[arg-type]
    return replace(made, placed=tuple(placed))


def test_the_validator_notices_a_step_moved_lengthened_or_lost() -> None:
    made = legal()
    for index, one in enumerate(made.placed):
        assert faults(changed(made, index, end=one.end + 1))
        assert faults(changed(made, index, start=one.start - 1, end=one.end - 1))
        assert faults(replace(made, placed=made.placed[:index] + made.placed[index + 1 :]))


def test_the_validator_notices_the_wrong_person_bay_and_figures() -> None:
    made = legal()
    for index, one in enumerate(made.placed):
        for person in made.problem.people:
            if not one.task.skills <= set(person.skills):
                assert faults(changed(made, index, person=person.id))
        for bay in made.problem.bays:
            if one.task.capabilities is None or not one.task.capabilities <= set(bay.can):
                assert faults(changed(made, index, bay=bay.id))
    assert faults(replace(made, cost=made.cost + 1))
    assert faults(replace(made, lateness={**made.lateness, 1: 10**6}))


def test_the_validator_notices_work_while_nobody_is_there() -> None:
    made = legal()
    one = made.placed[0]
    for who in ("people", "bays"):
        masks = dict(getattr(made.problem.calendar, who))
        masks[one.person if who == "people" else one.bay] &= ~(1 << one.start)
        calendar = replace(made.problem.calendar, **{who: masks})
        assert faults(replace(made, problem=replace(made.problem, calendar=calendar)))


# -- one thing at a time --------------------------------------------------------------------------------------------


def small(*jobs: JobAhead, hours: dict[str, int] | None = None, now: int = 0) -> Problem:
    bays = (Bay(id="1", name="lift", can=("lift",)), Bay(id="2", name="yard"))
    people = (
        Person(id="ana", name="Ana", roles=(Role.TECHNICIAN,), skills=("hydrostat",)),
        Person(id="bo", name="Bo", roles=(Role.TECHNICIAN,)),
    )
    masks = everyone(["ana", "bo"], 10) | (hours or {})
    return Problem(jobs, bays, people, Calendar(axis(10), everyone(["1", "2"], 10), masks), now)


def repair(job: int, slots: int, **more: object) -> Task:
    return Task(job, Kind.REPAIR, slots, **more)  # type: ignore[arg-type]


def test_work_that_meets_closing_time_goes_on_the_next_day() -> None:
    made = first_plan(small(JobAhead(1, (repair(1, 10, earliest=30, person="ana"),))))
    one = made.placed[0]
    assert (one.start, one.end) == (30, 40)
    calendar = made.problem.calendar
    assert calendar.words(one.start) == "Mon 23 Nov 15:30"
    assert calendar.words(one.end, end=True) == "Tue 24 Nov 09:00"


def test_a_half_day_person_goes_on_the_next_morning_and_the_bay_stays_taken() -> None:
    mornings = sum(((1 << 16) - 1) << (DAY * n) for n in range(10))
    first = JobAhead(1, (repair(1, 20, person="ana", bay="1"),), weight=4.0)
    second = JobAhead(2, (repair(2, 4, bay="1"),))
    made = first_plan(small(first, second, hours={"ana": mornings}))
    where = {one.task.job: (one.start, one.end) for one in made.placed}
    assert where[1] in ((0, 40), (36, 56)) or where[1][0] == 4
    assert not faults(made)
    better = plan(made.problem, random.Random(1), by_tries(50))
    assert {one.task.job: (one.start, one.end) for one in better.placed} == {2: (0, 4), 1: (4, 44)}


def test_a_machine_that_cannot_be_moved_keeps_its_bay() -> None:
    stays = JobAhead(1, (repair(1, 4, earliest=50, bay="1", keeps_bay=True),))
    other = JobAhead(2, (repair(2, 4, capabilities=frozenset({"lift"})),))
    made = plan(small(stays, other), random.Random(1), by_tries(50))
    assert {one.task.job: one.start for one in made.placed} == {1: 50, 2: 54}


def test_a_pinned_start_is_kept_and_work_under_way_goes_on() -> None:
    begun = JobAhead(1, (repair(1, 6, person="bo", bay="2", start=5),))
    rush = JobAhead(2, (repair(2, 6, person="bo"),), promise=0, weight=4.0)
    made = plan(small(begun, rush, now=5), random.Random(1), by_tries(50))
    assert {one.task.job: one.start for one in made.placed} == {1: 5, 2: 11}


IMPOSSIBLE = {
    "welding, which nobody has": repair(1, 4, skills=frozenset({"welding"})),
    'bay "9" does not exist: there is bay 1 lift, bay 2 yard': repair(1, 4, bay="9"),
    "which bay 2 has not: bay 1 lift has it": repair(1, 4, bay="2", capabilities=frozenset({"lift"})),
    "a bay with hoist: there is none": repair(1, 4, capabilities=frozenset({"hoist"})),
    "which Bo has not: give it to Ana": repair(1, 4, person="bo", skills=frozenset({"hydrostat"})),
    '"cy" does not work on machines here: choose Ana or Bo': repair(1, 4, person="cy"),
    "no bay is named": repair(1, 4, keeps_bay=True),
    "does not fit before Fri 04 Dec 17:00": repair(1, 400),
}


@pytest.mark.parametrize("said", IMPOSSIBLE)
def test_an_impossible_wish_gets_one_clear_line_and_the_rest_is_planned(said: str) -> None:
    made = first_plan(small(JobAhead(1, (IMPOSSIBLE[said],)), JobAhead(2, (repair(2, 4),))))
    assert [one.why for one in made.unplaceable if said in one.why and "\n" not in one.why] != [], made.unplaceable
    assert [one.task.job for one in made.placed] == [2]


def test_nobody_there_is_told() -> None:
    made = first_plan(small(JobAhead(1, (repair(1, 4, skills=frozenset({"hydrostat"})),)), hours={"ana": 0}))
    assert "nobody who can do the repair of T-0001 is there" in made.unplaceable[0].why


def test_two_pins_on_one_hour_are_told() -> None:
    first, second = (JobAhead(n, (repair(n, 4, person="bo", start=8),)) for n in (1, 2))
    made = first_plan(small(first, second))
    assert made.unplaceable == (
        Unplaceable(
            second.tasks[0],
            "the repair of T-0002 is pinned to Mon 23 Nov 10:00, where the repair of T-0001 already is: "
            "take one of the two pins away",
        ),
    )


def test_a_promise_gone_by_is_late_and_planned_all_the_same() -> None:
    made = first_plan(small(JobAhead(1, (repair(1, 4),), promise=-10)))
    assert dict(made.lateness) == {1: 14}
