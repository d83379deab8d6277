"""The plan as the board has it when something goes wrong: what moves, and that it is said why."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from aids.quick_shop import BOOK, START, QuickShop

from shopboard.places import seen_file
from shopboard.places.plan_kept import keep, kept
from shopboard.places.planned import Planned, Planner
from shopboard.planning.dispatch import first_plan
from shopboard.planning.tasks import Plan, Problem, Unplaceable
from shopboard.records import Operation, Pin, Stage
from shopboard.shop import choices, closures, guards, parts, stock

ZONE = ZoneInfo("Europe/Vienna")
HOURS = dict.fromkeys(("mon", "tue", "wed", "thu", "fri"), "08:00-17:00")


def busy(jobs: int = 6, **settings: Any) -> QuickShop:
    """A shop with jobs ready for a bay, each three hours of work, promised for the coming days."""
    quick = QuickShop(hours=HOURS, **settings)
    for n in range(jobs):
        id = quick.to(Stage.READY, promise=START + timedelta(days=1 + n // 2, hours=7))
        work = Operation(id=f"o{id}", name="a long repair", minutes=170)
        quick.state.jobs[id] = guards.changed(quick.job(id), operations=(work,))
    return quick


def planner(quick: QuickShop) -> Planner:
    return Planner(quick.state, BOOK, ZONE)


def last(made: Planner, quick: QuickShop) -> Planned:
    """The plan when all is worked out, after a short time of improving."""
    return [*made.plan(quick.now, lambda: True, 0.1)][-1]


def replanned(quick: QuickShop, change: Any) -> tuple[Planned, Planned]:
    """The plan before a change of the shop and after."""
    made = planner(quick)
    before = last(made, quick)
    change()
    return before, last(made, quick)


def test_the_first_plan_comes_at_once_and_the_last_has_risks() -> None:
    quick = busy()
    first, *_, done = planner(quick).plan(quick.now, lambda: True, 0.1)
    assert first.plan.placed and not first.risks and not first.done
    assert done.done and set(done.risks) == set(quick.state.jobs)
    assert all(risk.on_time is not None and 0 <= risk.on_time <= 1 for risk in done.risks.values())
    assert done.plan.cost <= first.plan.cost and not done.changed


def test_a_plan_with_more_jobs_in_it_is_better_though_it_costs_more(monkeypatch: pytest.MonkeyPatch) -> None:
    quick = busy()

    def without_the_first_job(problem: Problem) -> Plan:
        made = first_plan(problem)
        task = made.placed[0].task
        kept = tuple(one for one in made.placed if one.task.job != task.job)
        return replace(made, placed=kept, cost=0.0, unplaceable=(Unplaceable(task, "does not fit"),))

    monkeypatch.setattr("shopboard.places.planned.first_plan", without_the_first_job)
    done = last(planner(quick), quick)
    assert done.plan.cost > 0 and not done.plan.unplaceable and set(done.plan.by_job) == set(quick.state.jobs)


def test_a_part_two_days_late() -> None:
    quick = busy(4)
    quick.do(parts.need, 3, "S-1", "seal kit", 1)
    quick.do(parts.order, (1,), "north", START.date() + timedelta(days=1))

    def late() -> None:
        quick.later(minutes=10)
        quick.do(parts.back_order, 1, START.date() + timedelta(days=3))

    before, after = replanned(quick, late)
    old, new = before.next_of(3), after.next_of(3)
    assert old and new and before.start(old).date() == START.date() + timedelta(days=1)
    assert after.start(new).date() >= START.date() + timedelta(days=3)
    (said,) = [words for words in after.changed if words.startswith("T-0003")]
    assert said.startswith("T-0003 repair 2 working days later, Thu 12:00 ") and "(was Tue 12:00" in said
    assert said.endswith(": seal kit due Thu; too late now for its promise Wed")


def test_a_part_that_lies_in_a_bin_is_not_waited_for() -> None:
    quick = busy(4)
    quick.do(parts.need, 3, "S-1", "seal kit", 2)
    waits = last(planner(quick), quick).next_of(3)
    assert waits is not None and waits.task.waits_for == "seal kit, not ordered"
    quick.do(stock.lay, "S-1", 1, name="seal kit", bin="A-1")
    assert (one := last(planner(quick), quick).next_of(3)) and one.task.waits_for  # one is not enough
    quick.do(stock.lay, "S-1", 1, name="seal kit", bin="A-2")
    placed = last(planner(quick), quick).next_of(3)
    assert placed is not None and not placed.task.waits_for and placed.start < waits.start


def test_a_person_is_ill_today() -> None:
    quick = busy()
    until = datetime(2026, 3, 2, 23, tzinfo=UTC)
    before, after = replanned(quick, lambda: quick.do(closures.away, "ana", until, why="ill"))
    today = [one for one in before.plan.of_person("ana") if before.start(one) < until]
    assert today and not [one for one in after.plan.of_person("ana") if after.start(one) < until]
    assert any("Ana is away until the end of Mon 02 Mar (ill)" in words for words in after.changed)


def test_a_bay_is_down() -> None:
    quick = busy()
    until = START + timedelta(days=2)
    made = planner(quick)
    before = last(made, quick)
    bay = next(one.bay for one in before.plan.placed if one.bay)
    quick.do(closures.down, bay, until)
    after = last(made, quick)
    assert not [one for one in after.plan.in_bay(bay) if after.start(one) < until]
    assert any(f"bay {bay} is down until Wed 04 Mar 10:00" in words for words in after.changed)


def test_a_rush_job_comes_in() -> None:
    people = tuple(p for p in QuickShop().state.settings.people if p.id != "bo")
    quick = busy(5, people=people)

    def rush() -> None:
        quick.take_in(machine_down=True, promise=START + timedelta(hours=28))

    before, after = replanned(quick, rush)
    placed = after.next_of(6)
    assert placed is not None and after.start(placed) < max(before.start(one) for one in before.plan.placed)
    assert any("T-0006" in words and "rush job" in words for words in after.changed)


def test_what_starts_within_two_hours_does_not_move() -> None:
    quick = busy()
    before, after = replanned(quick, lambda: quick.take_in(machine_down=True, promise=START + timedelta(hours=5)))
    soon = [one for one in before.plan.placed if before.start(one) < quick.now + timedelta(hours=2)]
    assert soon
    for one in soon:
        same = next(new for new in after.plan.by_job[one.task.job] if new.task.kind is one.task.kind)
        assert (after.start(same), same.person, same.bay) == (before.start(one), one.person, one.bay)


def test_the_night_the_clocks_change() -> None:
    """On 29 March 2026 Vienna's clocks go from 02:00 to 03:00: midnight to 08:00 is seven hours."""
    quick = QuickShop(hours={"sun": "00:00-08:00"})
    quick.now = datetime(2026, 3, 28, 20, tzinfo=UTC)
    quick.to(Stage.READY)
    work = Operation(id="o", name="a long repair", minutes=235)
    quick.state.jobs[1] = guards.changed(quick.job(), operations=(work,))
    made = last(planner(quick), quick)
    repair = made.plan.by_job[1][0]
    assert made.start(repair) == datetime(2026, 3, 28, 23, tzinfo=UTC)  # midnight on the wall
    worked = made.end(repair) - made.start(repair)
    assert worked == repair.task.slots * timedelta(minutes=15) and worked > timedelta(hours=3)
    assert made.end(repair).astimezone(ZONE).hour == made.end(repair).hour + 2  # summer time on the wall


def test_a_public_holiday() -> None:
    """1 May 2026, a Friday, is Austria's state holiday."""
    quick = QuickShop(hours=HOURS, country="AT")
    quick.now = datetime(2026, 4, 30, 12, tzinfo=UTC)
    for _ in range(4):
        quick.to(Stage.READY)
    made = last(planner(quick), quick)
    days = {made.start(one).astimezone(ZONE).date().isoformat() for one in made.plan.placed}
    assert "2026-05-01" not in days and "2026-05-04" in days


def test_a_skill_nobody_has_is_one_clear_line() -> None:
    quick = QuickShop(hours=HOURS)
    quick.to(Stage.READY)
    work = Operation(id="o", name="weld the frame", minutes=60, skill="welding")
    quick.state.jobs[1] = guards.changed(quick.job(), operations=(work,))
    (wrong,) = last(planner(quick), quick).plan.unplaceable
    assert "welding" in wrong.why and "\n" not in wrong.why and len(wrong.why) < 200


def test_nobody_works_here() -> None:
    quick = QuickShop(hours=HOURS, people=QuickShop().state.settings.people[2:])
    quick.take_in()
    made = last(planner(quick), quick)
    assert not made.plan.placed and {one.task.job for one in made.plan.unplaceable} == {1}
    assert made.plan.unplaceable[0].why == "nobody works on machines here: add a technician to shop.toml"


def test_trying_says_what_it_does_to_others_and_changes_nothing() -> None:
    quick = busy()
    made = planner(quick)
    before = last(made, quick)
    pin = Pin(person="bo", start=START + timedelta(hours=24), at=START, by="ana")
    tried = made.try_pin(quick.now, 1, pin, lambda: True)
    assert tried.why_not == "" and tried.placed is not None and tried.placed.person == "bo"
    assert tried.start == START + timedelta(hours=24)
    own = tried.effects[0]
    assert own.job == 1 and own.before == before.ready(1) and own.after is not None and own.after > own.before
    assert quick.job(1).pin is None and made.seen is before.plan
    assert made.try_pin(quick.now, 99, pin, lambda: True).why_not == "this job is closed now"


def test_what_somebody_chooses_goes_before_what_was_about_to_start() -> None:
    quick = busy()
    made = planner(quick)
    before = last(made, quick)
    soon = next(one for one in before.plan.of_person("bo") if before.start(one) < START + timedelta(hours=2))
    other = next(id for id in quick.state.jobs if id != soon.task.job)
    pin = Pin(person="bo", bay=soon.bay, start=before.start(soon) + timedelta(minutes=15), at=START, by="ana")
    tried = made.try_pin(quick.now, other, pin, lambda: True)
    assert tried.why_not == "" and tried.start == pin.start


def test_a_pin_is_kept_by_the_plan() -> None:
    quick = busy()
    quick.do(choices.choose, 2, person="bo", bay="1", start=START + timedelta(hours=25))
    made = last(planner(quick), quick)
    placed = made.next_of(2)
    assert placed and (placed.person, placed.bay, made.start(placed)) == ("bo", "1", START + timedelta(hours=25))


def test_a_plan_kept_is_the_plan_people_saw(tmp_path) -> None:
    quick = busy()
    made = last(planner(quick), quick)
    keep(tmp_path, made, quick.state.settings)
    again = planner(quick)
    again.seen = kept(tmp_path, quick.state.settings, quick.now)
    assert last(again, quick).changed == ()
    keep(tmp_path, replace(made, risks={}, helps={}), quick.state.settings)  # the chances are being drawn anew
    seen = seen_file.read(tmp_path)
    assert seen is not None and {one.job: one.on_time for one in seen.sure} == {
        id: risk.on_time for id, risk in made.risks.items()
    }
    (tmp_path / "plan.seen").write_bytes(b"{torn")
    assert kept(tmp_path, quick.state.settings, quick.now) is None


@pytest.mark.parametrize("level", [0.5, 0.8])
def test_days_are_offered_for_a_machine_not_yet_taken_in(level: float) -> None:
    quick = busy(promise_probability=level)
    job = guards.changed(quick.job(1), id=99, stage=Stage.ARRIVED, promise=None, operations=())
    offered = planner(quick).offer(quick.now, "k", job, quick.state.machines[1])
    assert offered.key == "k" and any(offer.probability >= level for offer in offered.offers)
    assert 99 not in quick.state.jobs
