"""What people do with the plan on the board: take the next job, say why not, move a job, say who is away."""

from __future__ import annotations

from collections.abc import AsyncIterator
from pathlib import Path
from typing import Any

import pytest
from aids.boards import open_board, screen_text, settled, type_keys, until, walk_to
from aids.desk import Desk
from aids.plans import InProcess, give_plan
from aids.shops import Clock, make_shop
from textual.pilot import Pilot

from shopboard.places.plan_steps import next_of
from shopboard.records import Stage, tag
from shopboard.shop import intake
from shopboard.shop.intake import Intake, NewCustomer, NewMachine
from shopboard.trouble import Book


@pytest.fixture
async def board(tmp_path: Path) -> AsyncIterator[tuple[Pilot[Any], InProcess]]:
    """A board of Ana's with four machines here: one in no bay, three arrived."""
    clock = Clock()
    folder = tmp_path / "shop"
    store = make_shop(folder, clock)
    from aids.boards import shipped

    book: Book = shipped()
    for n in range(4):
        given = Intake(
            customer=NewCustomer(name=f"Customer {n}", phone=f"555 010{n}"),
            machine=NewMachine(model="in-line-1", serial=f"S-{n}"),
            complaint="weak [when] hot",
            symptoms=("weak-drive",),
            machine_down=n == 2,
        )
        store.commit("ana", lambda state, now, given=given: intake.take_in(state, now, "ana", given, book=book))
    async with open_board(folder, clock=clock, store=store) as pilot:
        standing = give_plan(pilot.app)
        await until(pilot, lambda: pilot.app.planned is not None, "a plan")
        await settled(pilot)
        yield pilot, standing


async def test_my_next_job_is_taken_with_two_keys(board: tuple[Pilot[Any], InProcess]) -> None:
    pilot, _ = board
    found = next_of(pilot.app)
    assert found is not None and found.job is not None
    await type_keys(pilot, "t")
    shown = screen_text(pilot.app)
    assert f"next for Ana: {tag(found.job)}" in shown and found.why[:40] in shown
    await type_keys(pilot, "enter")
    job = pilot.app.state.jobs[found.job]
    assert (job.stage, job.person, job.bay) == (Stage.DIAGNOSED, "ana", found.bay) and job.bay
    assert pilot.app.place_name == "bench"


async def test_not_this_one_asks_why_and_offers_the_next(board: tuple[Pilot[Any], InProcess]) -> None:
    pilot, _ = board
    found = next_of(pilot.app)
    assert found is not None and found.job is not None
    await type_keys(pilot, "t", "down", "enter")
    assert f"{tag(found.job)}: why not this one?" in screen_text(pilot.app)
    await type_keys(pilot, "=key is not here", "ctrl+s")
    assert pilot.app.state.jobs[found.job].not_this[0].why == "key is not here"
    after = next_of(pilot.app)
    assert after is not None and after.job not in (None, found.job)
    assert f"next for Ana: {tag(after.job)}" in screen_text(pilot.app)


async def test_who_is_no_technician_is_told(board: tuple[Pilot[Any], InProcess]) -> None:
    pilot, _ = board
    pilot.app.who = "cy"
    await type_keys(pilot, "t")
    assert "jobs are planned for technicians" in screen_text(pilot.app)


async def test_without_a_plan_the_board_says_so_and_goes_on(tmp_path: Path) -> None:
    async with open_board(tmp_path / "shop") as pilot:
        await type_keys(pilot, "t")
        assert "no plan yet" in screen_text(pilot.app)
        await type_keys(pilot, "m")
        assert "put the cursor on a job first" in screen_text(pilot.app)


async def test_a_job_is_moved_and_others_are_seen_first(board: tuple[Pilot[Any], InProcess]) -> None:
    pilot, _ = board
    await walk_to(pilot, "Customer 0")
    placed = pilot.app.planned.next_of(1)
    await type_keys(pilot, "m", "enter")
    assert "nothing is chosen yet" in screen_text(pilot.app)
    await type_keys(pilot, "right", "right", "p")
    await until(pilot, lambda: "T-0001 done" in screen_text(pilot.app), "what it does")
    assert pilot.app.state.jobs[1].pin is None
    await type_keys(pilot, "enter")
    pin = pilot.app.state.jobs[1].pin
    assert pin is not None and {pin.person, placed.person} == {"ana", "bo"} and pin.by == "ana"
    assert pin.start is not None and pin.start > pilot.app.planned.start(placed)
    await type_keys(pilot, "m", "l")
    assert pilot.app.state.jobs[1].pin is None


async def test_esc_in_the_middle_changes_nothing(board: tuple[Pilot[Any], InProcess]) -> None:
    pilot, _ = board
    before = pilot.app.state.seq
    await walk_to(pilot, "Customer 0")
    await type_keys(pilot, "m", "right", "escape", "t", "escape", "a", "=an", "escape")
    assert pilot.app.state.seq == before


async def test_somebody_is_away_and_back_and_it_can_be_undone(board: tuple[Pilot[Any], InProcess]) -> None:
    pilot, standing = board
    await type_keys(pilot, "a", "=bo", "enter", "=today", "enter", "enter", "=ill", "enter")
    (kept,) = pilot.app.state.closures.values()
    assert (kept.person, kept.why) == ("bo", "ill")
    made = standing.plan()
    await settled(pilot)
    assert not [one for one in made.plan.of_person("bo") if made.start(one) < kept.until]
    await type_keys(pilot, "u")
    assert not pilot.app.state.closures


async def test_the_whole_shop_closes_early_and_opens_again(board: tuple[Pilot[Any], InProcess]) -> None:
    pilot, standing = board
    pilot.app.who = "cy"
    await type_keys(pilot, "a", "=whole", "enter", "=today", "enter", "=15:00", "enter", "=stocktaking", "enter")
    (kept,) = pilot.app.state.closures.values()
    assert kept.whole_shop and kept.start.isoformat() == "2026-11-24T14:00:00+00:00"
    assert "Saved: The shop is closed from Tue 24 Nov 15:00 until the end of the day" in screen_text(pilot.app)
    made = standing.plan()
    await settled(pilot)
    assert made.plan.placed
    assert not [one for one in made.plan.placed if made.start(one) < kept.until and made.end(one) > kept.start]
    assert "shop closed from Tue 24 Nov 15:00" in screen_text(pilot.app)
    await type_keys(pilot, "a", "=whole", "enter", "=back", "ctrl+s")
    shown = " ".join(screen_text(pilot.app).split())
    assert "The shop is not closed from Tue 24 Nov 15:00 until the end of the day after all" in shown
    assert "shop closed from" not in shown


async def test_a_day_that_is_none_gets_one_line(board: tuple[Pilot[Any], InProcess]) -> None:
    pilot, _ = board
    await type_keys(pilot, "a", "=bo", "enter", "=sometime", "enter")
    assert "“sometime” is not a day" in screen_text(pilot.app)
    await type_keys(pilot, "ctrl+s")
    assert not pilot.app.state.closures


async def test_the_floor_says_what_changed_and_how_sure_a_date_is(tmp_path: Path) -> None:
    clock, folder = Clock(), tmp_path / "shop"
    store = make_shop(folder, clock)
    desk = Desk(store, clock)
    assert desk is not None
    async with open_board(folder, clock=clock, store=store) as pilot:
        standing = give_plan(pilot.app)
        await settled(pilot)
        assert pilot.app.plan_news(pilot.app.now()) == ()
        made = standing.plan()
        await settled(pilot)
        assert made.done and pilot.app.planned.seq == pilot.app.state.seq
