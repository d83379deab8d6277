"""The next job against the plan and the rules themselves, over random shops: the first step of a person's plan whose
steps by the plain rules (into a bay, begin) are all allowed."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from random import Random
from zoneinfo import ZoneInfo

import pytest
from aids.quick_shop import BOOK, START, QuickShop

from shopboard.planning.calendar import shop_calendar
from shopboard.planning.dispatch import first_plan
from shopboard.planning.durations import paces
from shopboard.planning.next_job import next_job, skipped_by
from shopboard.planning.problem import Known, reckon
from shopboard.planning.tasks import Kind, Plan
from shopboard.planning.waiting import Waiting
from shopboard.records import Job, Refused, ShopState, Stage
from shopboard.shop import bays, choices, closures, parts, stages, take

ZONE = ZoneInfo("Europe/Vienna")
HOURS = dict.fromkeys(("mon", "tue", "wed", "thu", "fri"), "08:00-17:00")
STAGES = (Stage.ARRIVED, Stage.DIAGNOSED, Stage.APPROVAL, Stage.READY, Stage.REPAIR, Stage.ROAD_TEST, Stage.COLLECT)


def random_shop(random: Random) -> QuickShop:
    """Jobs in all stages, some promised, some down, some lacking parts; somebody may be away, a bay down."""
    quick = QuickShop(hours=HOURS)
    for _ in range(random.randint(1, 8)):
        stage = random.choice(STAGES)
        free = [bay.id for bay in quick.state.settings.bays if quick.state.job_in_bay(bay.id) is None]
        if stage is Stage.REPAIR and not free:
            stage = Stage.READY
        promise = START + timedelta(hours=random.randint(1, 90)) if random.random() < 0.7 else None
        bay = random.choice(free) if free else "2"
        try:
            id = quick.to(stage, bay=bay, promise=promise, machine_down=random.random() < 0.2)
        except Refused:
            continue
        if random.random() < 0.3 and stage in (Stage.DIAGNOSED, Stage.READY):
            quick.do(parts.need, id, "S-1", "seal", 1)
        if free and quick.job(id).stage in (Stage.ARRIVED, Stage.DIAGNOSED, Stage.READY) and random.random() < 0.3:
            quick.do(bays.put, id, bay)
    if random.random() < 0.3:
        quick.do(closures.away, random.choice(("ana", "bo")), START + timedelta(hours=random.randint(1, 30)))
    if random.random() < 0.2:
        quick.do(closures.down, random.choice(("1", "2", "3")), START + timedelta(hours=random.randint(1, 30)))
    for job in list(quick.state.jobs.values()):
        if random.random() < 0.1:
            quick.do(choices.not_this, job.id, "no key", by=random.choice(("ana", "bo")))
    return quick


def plan_of(quick: QuickShop) -> Plan:
    known = Known(paces(()), Waiting())
    calendar = shop_calendar(quick.state.settings, quick.now)
    return first_plan(reckon(quick.state, BOOK, calendar, known, quick.now, ZONE).problem)


def kept(state: ShopState, *jobs: Job) -> ShopState:
    return replace(state, jobs={**state.jobs, **{job.id: job for job in jobs}})


def allowed(quick: QuickShop, job: Job, person: str, bay: str) -> bool:
    """Whether the plain rules, one after the other, let this person begin the job in this bay."""
    state, now = quick.state, quick.now
    if state.away(person, now) or (bay and bay != job.bay and state.down(bay, now)):
        return False
    try:
        if bay and bay != job.bay:
            state = kept(state, *bays.put(state, now, person, job.id, bay).puts)
        if job.stage in (Stage.ARRIVED, Stage.DIAGNOSED):
            stages.diagnose(state, now, person, job.id, person)
        elif job.stage in (Stage.READY, Stage.REPAIR):
            stages.start_repair(state, now, person, job.id, person)
        elif job.stage is Stage.ROAD_TEST:
            stages.may_road_test(state, job, now)
        else:
            return False
    except Refused:
        return False
    return True


def expected(quick: QuickShop, plan: Plan, person: str) -> int | None:
    for placed in plan.of_person(person):
        job = quick.state.jobs[placed.task.job]
        steps = [one for one in plan.placed if one.task.job == job.id]
        if placed is not min(steps, key=lambda one: one.start):
            continue
        if any(no.by == person for no in job.not_this):
            continue
        if job.person == person and job.stage in (Stage.DIAGNOSED, Stage.REPAIR):
            return job.id
        bays = [bay.id for bay in quick.state.settings.bays] if placed.bay else [""]
        if any(allowed(quick, job, person, bay) for bay in bays):
            return job.id
    return None


def compare(seeds: range) -> tuple[int, int]:
    """How many states were compared, and in how many somebody had a job to begin."""
    states = begun = 0
    for seed in seeds:
        quick = random_shop(Random(seed))
        plan = plan_of(quick)
        states += 1
        for person in ("ana", "bo"):
            found = next_job(
                quick.state, plan, person, quick.now, ZONE,
                lambda job, who, bay, quick=quick: take.can_start(quick.state, quick.now, job, who, bay),
                skipped_by(quick.state, person, quick.now, ZONE),
            )  # fmt: skip
            assert found.job == expected(quick, plan, person), f"seed {seed}, {person}"
            assert found.why and "\n" not in found.why
            if found.job is not None and "already: go on" not in found.why:
                begun += 1
                quick.refuses(take.take, found.job, "cy", found.bay, why="Cy is not a technician", by="dee")
                take.take(quick.state, quick.now, person, found.job, person, found.bay)
    return states, begun


def test_it_is_the_first_of_the_plan_that_the_rules_allow() -> None:
    states, begun = compare(range(150))
    assert states == 150 and begun > 60


@pytest.mark.long
def test_it_is_so_in_a_thousand_states() -> None:
    states, begun = compare(range(1000, 2100))
    assert states >= 1000 and begun > 400


# -- the deciding fact ------------------------------------------------------------------------------------------------


def said(quick: QuickShop, person: str = "ana") -> str:
    plan = plan_of(quick)
    return next_job(
        quick.state, plan, person, quick.now, ZONE,
        lambda job, who, bay: take.can_start(quick.state, quick.now, job, who, bay),
    ).why  # fmt: skip


def test_a_machine_that_work_waits_for() -> None:
    quick = QuickShop(hours=HOURS)
    quick.take_in(machine_down=True)
    assert "comes first: work waits for this machine" in said(quick) + said(quick, "bo")


def test_a_part_that_came_today() -> None:
    quick = QuickShop(hours=HOURS)
    quick.to(Stage.READY)
    quick.do(parts.need, 1, "S-1", "seal kit", 1)
    quick.do(parts.order, (1,), "north", None)
    quick.later(minutes=20)
    quick.do(parts.receive, 1, 1)
    texts = said(quick) + said(quick, "bo")
    assert "T-0001 can start: seal kit came today" in texts


def test_a_promise_that_presses() -> None:
    quick = QuickShop(hours=HOURS)
    quick.take_in(promise=START + timedelta(hours=6))
    texts = said(quick) + said(quick, "bo")
    assert "promised for today" in texts and ("too late by" in texts or "to spare" in texts)


def test_what_stands_before_it_and_cannot_start() -> None:
    quick = QuickShop(hours=HOURS)
    for bay in ("1", "2", "3"):
        quick.to(Stage.COLLECT, bay=bay)
    quick.take_in(promise=START + timedelta(hours=5))
    texts = said(quick) + said(quick, "bo")
    assert "nothing of yours can start now. T-0004: " in texts and "(ready to collect)" in texts


def test_nothing_planned() -> None:
    assert said(QuickShop(hours=HOURS)) == "nothing is planned for you"


def test_the_plan_knows_kinds() -> None:
    quick = QuickShop(hours=HOURS)
    quick.take_in()
    kinds = [one.task.kind for one in plan_of(quick).placed]
    assert kinds == [Kind.DIAGNOSE, Kind.REPAIR, Kind.ROAD_TEST]
