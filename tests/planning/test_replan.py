"""Plans made anew near what people saw: what holds still, what moves, and why."""

from __future__ import annotations

import random
from dataclasses import replace

import pytest
from aids.disruptions import KINDS, disrupted, passed
from aids.plan_check import faults
from aids.plan_shops import DAY, any_shop, axis, busy_shop, everyone

from shopboard.planning.dispatch import first_plan
from shopboard.planning.replan import FROZEN, replan
from shopboard.planning.search import by_tries, plan
from shopboard.planning.tasks import Calendar, JobAhead, Kind, Plan, Problem, Replanned, Task
from shopboard.planning.why_moved import told
from shopboard.records import Bay, Person, Role


def made(problem: Problem) -> Plan:
    return plan(problem, random.Random(1), by_tries(300))


def again(problem: Problem, old: Plan, count: int = 300) -> Replanned:
    new = replan(problem, old, random.Random(2), by_tries(count))
    assert not faults(new.plan), faults(new.plan)[:3]
    return new


# -- one fact at a time ---------------------------------------------------------------------------------------------

BAYS = (Bay(id="1", name="lift", can=("lift",)), Bay(id="2", name="yard"))
PEOPLE = (
    Person(id="ana", name="Ana", roles=(Role.TECHNICIAN,), skills=("hydrostat",)),
    Person(id="bo", name="Bo", roles=(Role.TECHNICIAN,)),
)


def shop(*jobs: JobAhead, now: int = 0) -> Problem:
    calendar = Calendar(axis(20), everyone(["1", "2"], 20), everyone(["ana", "bo"], 20))
    return Problem(jobs, BAYS, PEOPLE, calendar, now)


def job(number: int, slots: int, weight: float = 1.0, **more: object) -> JobAhead:
    task = Task(number, Kind.REPAIR, slots, **more)  # type: ignore[arg-type]
    return JobAhead(number, (task, Task(number, Kind.ROAD_TEST, 1, capabilities=None)), 3 * DAY, weight, number)


def without(problem: Problem, what: str, id: str, first: int, end: int) -> Problem:
    masks = dict(getattr(problem.calendar, what))
    masks[id] &= ~(((1 << (end - first)) - 1) << first)
    return replace(problem, calendar=replace(problem.calendar, **{what: masks}))


QUIET = shop(job(1, 20, person="ana"), job(2, 20, person="bo"), job(3, 12, person="ana", earliest=DAY))


def test_nothing_happened_and_nothing_moves() -> None:
    old = made(QUIET)
    new = again(QUIET, old)
    assert new.moves == ()
    assert new.plan.placed == old.placed


def why(new: Replanned, number: int) -> str:
    return next(move.why for move in new.moves if move.task.job == number and move.task.kind is Kind.REPAIR)


def test_a_part_two_days_later() -> None:
    late = replace(QUIET.jobs[2].tasks[0], earliest=3 * DAY, waits_for="seal kit, two days later")
    now = replace(QUIET, jobs=(*QUIET.jobs[:2], replace(QUIET.jobs[2], tasks=(late, QUIET.jobs[2].tasks[1]))))
    new = again(now, made(QUIET))
    assert {move.task.job for move in new.moves} == {3}
    assert why(new, 3) == "seal kit, two days later: not before Thu 26 Nov 08:00"
    road_test = next(move for move in new.moves if move.task.kind is Kind.ROAD_TEST)
    assert road_test.why.startswith("the repair before it is done only Thu 26 Nov 11:00 (seal kit, two days later")
    assert told(road_test, new.plan).startswith("road test of T-0003: Tue 24 Nov")


def test_a_person_ill() -> None:
    jobs = (job(1, 20, earliest=12), job(2, 4, weight=4.0, person="bo"))
    old = made(shop(*jobs))
    who = old.by_job[1][0].person
    new = again(without(shop(*jobs), "people", who, 10, 4 * DAY), old)
    assert f"{'Ana' if who == 'ana' else 'Bo'} is away then" in why(new, 1)


def test_a_bay_down() -> None:
    jobs = (job(1, 20, capabilities=frozenset({"lift"}), earliest=DAY),)
    old = made(shop(*jobs))
    new = again(without(shop(*jobs), "bays", "1", DAY, 2 * DAY), old)
    assert why(new, 1) == "lift is down then"
    assert new.plan.by_job[1][0].start == 2 * DAY


def test_a_machine_that_cannot_be_moved_keeps_its_bay_while_who_works_on_it_is_away() -> None:
    """What was to follow in that bay within two hours gives way, though it would else be held."""
    lift = frozenset({"lift"})
    opened = Task(1, Kind.REPAIR, 2, capabilities=lift, skills=frozenset({"hydrostat"}), bay="1", keeps_bay=True)
    jobs = (JobAhead(1, (opened,), DAY), job(2, 4, capabilities=lift, person="bo"))
    old = made(shop(*jobs))
    assert old.by_job[1][0].start == 0 and old.by_job[2][0].start == 2
    new = again(without(shop(*jobs), "people", "ana", 0, DAY), old)
    assert not new.plan.unplaceable and new.plan.by_job[1][0].start == DAY
    assert why(new, 2) == "T-0001 stands in lift then (T-0001: Ana is away then)"


def test_a_rush_job() -> None:
    lift = frozenset({"lift"})
    jobs = (job(1, 20, capabilities=lift, earliest=12),)
    old = made(shop(*jobs))
    rush = replace(job(9, 16, weight=40.0, capabilities=lift, earliest=12), promise=30)
    new = again(shop(*jobs, rush), old, 800)
    assert why(new, 9) == "came in since the last plan, machine down"
    assert why(new, 1).startswith("rush job T-0009 came in, ")
    assert new.plan.by_job[9][0].start == 12


def test_work_that_takes_longer() -> None:
    jobs = (job(1, 20, person="ana"), job(2, 12, person="ana"))
    old = made(shop(*jobs))
    first = old.placed[0].task.job
    problem = passed(old, 4)
    slow = [
        replace(
            ahead,
            tasks=tuple(
                replace(t, slots=t.slots + 12) if t.start is not None and ahead.job == first else t for t in ahead.tasks
            ),
        )
        for ahead in problem.jobs
    ]
    new = again(replace(problem, jobs=tuple(slow)), old)
    other = 3 - first
    assert why(new, other).startswith(f"Ana is on T-000{first} then (T-000{first}: the repair takes until ")
    assert why(new, other).endswith("3 h longer)")


def test_a_holiday_takes_a_day_off_the_axis_and_the_moments_stay() -> None:
    """Steps are matched by moment, not by slot: after a day is taken out, what lay before it stays where it was."""
    jobs = (job(1, 20, person="ana"), job(2, 10, person="ana", earliest=3 * DAY))
    old = made(shop(*jobs))
    spans = axis(21)
    short = [span for span in spans if span.day != spans[2].day]
    moved = tuple(replace(span, first=index * DAY) for index, span in enumerate(short))
    later = (jobs[0], replace(jobs[1], tasks=(replace(jobs[1].tasks[0], earliest=2 * DAY), jobs[1].tasks[1])))
    problem = replace(shop(*later), calendar=replace(QUIET.calendar, spans=moved))
    new = again(problem, old)
    assert new.moves == ()
    assert new.plan.problem.calendar.moment(new.plan.by_job[2][0].start) == old.problem.calendar.moment(3 * DAY)


def test_what_starts_within_two_hours_stays_also_for_a_rush_job_and_later_work_makes_room() -> None:
    jobs = (job(1, 8, person="ana", earliest=7), job(2, 8, person="ana", earliest=20))
    old = made(shop(*jobs))
    rush = replace(job(9, 12, weight=40.0, person="ana"), promise=1)
    new = again(shop(*jobs, rush), old)
    assert new.plan.by_job[1][0].start == 7 < FROZEN
    assert new.plan.by_job[9][0].start == 15
    assert new.plan.by_job[2][0].start == 27


def test_the_person_away_lets_even_the_next_two_hours_go() -> None:
    jobs = (job(1, 8, earliest=4),)
    old = made(shop(*jobs))
    who = old.by_job[1][0].person
    new = again(without(shop(*jobs), "people", who, 0, DAY), old)
    assert new.plan.by_job[1][0].person != who
    assert "is away then" in why(new, 1)


def test_nothing_to_plan_ends_though_there_is_time_for_ever() -> None:
    empty = replace(QUIET, jobs=())
    assert replan(empty, made(QUIET), random.Random(1), by_tries(10)).plan.placed == ()


def test_a_wish_that_cannot_be_keeps_nobody_else_from_their_places() -> None:
    old = made(QUIET)
    wish = replace(job(4, 8), tasks=(Task(4, Kind.REPAIR, 8, skills=frozenset({"welding"})),))
    new = replan(replace(QUIET, jobs=(*QUIET.jobs, wish)), old, random.Random(2), by_tries(300))
    assert [one.task.job for one in new.plan.unplaceable] == [4]
    assert new.moves == () and new.plan.placed == old.placed


def test_random_shops_lose_no_job_when_time_passes_and_are_legal_again() -> None:
    for seed in range(120):
        old = first_plan(any_shop(seed))
        new = replan(passed(old, 1 + seed % 30), old, random.Random(seed), by_tries(20))
        assert not faults(new.plan), (seed, faults(new.plan)[:3])
        assert not new.plan.unplaceable, (seed, new.plan.unplaceable)


# -- shops of forty jobs --------------------------------------------------------------------------------------------


@pytest.mark.parametrize("kind", KINDS)
def test_disrupted_shops_keep_most_of_what_people_saw_and_say_why(kind: str) -> None:
    for seed in (1, 2):
        old = plan(busy_shop(seed, 40, 6, 5, tight=seed % 2 == 0), random.Random(seed), by_tries(1500))
        problem = disrupted(old, kind, seed)
        new = replan(problem, old, random.Random(seed), by_tries(1500))
        assert not faults(new.plan), faults(new.plan)[:3]
        steps = len(new.plan.placed)
        far = [move for move in new.moves if move.before and abs(move.after.start - move.before.start) > 4]
        other = [move for move in new.moves if move.before and move.after.person != move.before.person]
        assert len(far) <= 0.35 * steps
        assert len(other) <= 0.25 * steps
        assert all(move.why and "\n" not in move.why for move in new.moves)
        moved = {move.task for move in new.moves}
        for placed in new.plan.placed:  # a step people saw that is not among the moves is where it was
            before = [one for one in old.by_job.get(placed.task.job, ()) if one.task.kind is placed.task.kind]
            if placed.task not in moved and before and before[0].start > problem.now:
                assert (before[0].start, before[0].person, before[0].bay) == (
                    placed.start,
                    placed.person,
                    placed.bay,
                )
