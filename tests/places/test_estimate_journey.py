"""From the finding to parts that arrive, by keys: estimate, yes, three suppliers, a split, scans; and a no."""

from __future__ import annotations

from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from aids.boards import answer, choose, open_board, question_here, screen_text, take, type_keys, value, walk_to
from aids.journey import Trip, board_of, counter, job_on, step
from aids.parts_shop import parts_shop
from aids.shops import Clock
from textual.pilot import Pilot

from shopboard.places.job_words import reason_words
from shopboard.records import PartLine, PartState, Stage, Table
from shopboard.records.codes import code_for

#: 130 min of its own, floor plate 14, shield 11, shaft 45, the unit off and on 170 by two: 540 min at 60.00 an hour.
#: Parts: the unit 900.00 with a core of 120.00, a filter at 20.00, ten oil at 9.50. No tax here.
LABOUR, TOTAL = Decimal("540.00"), Decimal("1675.00")


async def found(pilot: Pilot[Any]) -> int:
    """A machine taken in, being diagnosed, its cause and correction recorded with the kit; the job."""
    id = await counter(pilot, Trip())
    await step(pilot, "begin the diagnosis")
    await take(pilot, "who does it", "Ana")
    await type_keys(pilot, "d")
    await take(pilot, "cause", "pump pistons and bores worn")
    await answer(pilot, "in your words", "bronze in the filter")
    await take(pilot, "correction", "fit an exchange unit, flush, purge")
    assert question_here(pilot.app).field.label == "ask for its parts"
    told = " ".join(screen_text(pilot.app).split())
    assert "1 × exchange unit (EX-9)" in told and "1 × drive oil filter (F-1)" in told, told
    await type_keys(pilot, "enter")
    return id


def lines_of(pilot: Pilot[Any], id: int) -> dict[str, PartLine]:
    return {line.number: line for line in board_of(pilot).state.parts_of(id)}


def waits(pilot: Pilot[Any], id: int) -> str:
    """Why the job waits, as the Floor says it."""
    board = board_of(pilot)
    return str(reason_words(board.state, job_on(pilot, id), board.now(), board.zone))


async def agreed(pilot: Pilot[Any]) -> int:
    """The same with the yes to what the estimate proposed."""
    id = await found(pilot)
    await type_keys(pilot, "e")
    said = screen_text(pilot.app)
    assert f"{TOTAL} EUR, tax with it" in said and "hydrostat unit off its gearbox: off and on, 2 people" in said, said
    await type_keys(pilot, "a")
    assert value(pilot.app, "amount") == str(TOTAL), "the sum proposed is the estimate's total"
    await type_keys(pilot, "enter", "escape")
    assert job_on(pilot, id).stage is Stage.APPROVAL
    await step(pilot, "record the yes")
    await answer(pilot, "who said yes", "")
    await take(pilot, "how", "by phone")
    await answer(pilot, "up to (EUR)", "")
    assert job_on(pilot, id).stage is Stage.PARTS
    return id


async def order_from(pilot: Pilot[Any], supplier: str, number: str, days: str) -> None:
    """All that is needed from one supplier, in one step."""
    await walk_to(pilot, number)
    await type_keys(pilot, "d")
    assert question_here(pilot.app).field.label == "supplier"
    await take(pilot, "supplier", supplier)
    await answer(pilot, "expected", days)
    await answer(pilot, "order number", "")


@pytest.fixture
async def pilot(tmp_path: Path) -> Any:
    clock = Clock()
    store = parts_shop(tmp_path / "shop", clock)
    async with open_board(tmp_path / "shop", store=store, clock=clock, size=(120, 40)) as driven:
        yield driven


async def test_the_parts_of_the_correction_are_asked_for_with_the_finding(pilot: Pilot[Any]) -> None:
    id = await found(pilot)
    lines = lines_of(pilot, id)
    assert {n: (p.quantity, p.supplier, p.price) for n, p in lines.items()} == {
        "EX-9": (1, "east", Decimal("900.00")),
        "F-1": (1, "north", Decimal("20.00")),
        "OIL": (10, "seal", Decimal("9.50")),
    }
    assert lines["EX-9"].core and lines["EX-9"].core_charge == Decimal("120.00")


async def test_from_the_yes_to_parts_from_three_suppliers_scanned_in(pilot: Pilot[Any]) -> None:
    id = await agreed(pilot)
    await type_keys(pilot, "p")
    await order_from(pilot, "East Units", "EX-9", "+12")
    await order_from(pilot, "North Parts", "F-1", "+2")
    await order_from(pilot, "Seal House", "OIL", "+4")
    assert all(line.state is PartState.ORDERED for line in lines_of(pilot, id).values())
    assert "exchange unit due" in waits(pilot, id) and "+2" in waits(pilot, id)
    # Seal House sends four of the ten now and six in three weeks
    await walk_to(pilot, "OIL")
    await type_keys(pilot, "x")
    await answer(pilot, "new date", "+21")
    await answer(pilot, "how many come then", "6")
    oil = [line for line in board_of(pilot).state.parts_of(id) if line.number == "OIL"]
    assert [(line.quantity, line.state) for line in oil] == [(4, PartState.ORDERED), (6, PartState.BACK_ORDERED)]
    assert job_on(pilot, id).stage is Stage.PARTS and "drive oil due" in waits(pilot, id)
    assert len({(line.supplier, line.expected) for line in board_of(pilot).state.parts_of(id)}) == 4
    # four boxes come; each is scanned where one stands, two of them in one burst
    order = [*lines_of(pilot, id).values()]
    ids = [line.id for line in board_of(pilot).state.parts_of(id)]
    assert len(order) == 3 and len(ids) == 4
    await type_keys(pilot, "f", f"={code_for(Table.PARTS, ids[0])}", "enter")
    assert "receive" in screen_text(pilot.app) and question_here(pilot.app).field.label == "how many came"
    await type_keys(pilot, f"={code_for(Table.PARTS, ids[1])}", "enter")
    assert value(pilot.app, "quantity") in ("", "1"), "a scan types nothing"
    await type_keys(pilot, "enter")
    await type_keys(pilot, "enter")
    states = [board_of(pilot).state.parts[n].state for n in ids]
    assert states.count(PartState.RECEIVED) == 2, f"two scans are two lines: {states}\n{screen_text(pilot.app)}"
    for line in ids[2:]:
        assert job_on(pilot, id).stage is Stage.PARTS
        await type_keys(pilot, f"={code_for(Table.PARTS, line)}", "enter", "enter")
    assert job_on(pilot, id).stage is Stage.READY, screen_text(pilot.app)


async def test_a_no_is_charged_with_what_is_off_put_back(pilot: Pilot[Any]) -> None:
    id = await found(pilot)
    await type_keys(pilot, "v")
    await take(pilot, "which came off", "floor plate")
    await type_keys(pilot, "e")
    on = board_of(pilot).book.covers["floor-plate"].on
    assert f"if the answer is no: {on:.2f} EUR, with what is off put back" in screen_text(pilot.app)
    await type_keys(pilot, "escape")
    await step(pilot, "record the no")
    await answer(pilot, "who said no", "")
    await take(pilot, "how", "by phone")
    await answer(pilot, "why", "too dear")
    job = job_on(pilot, id)
    assert job.stage is Stage.DECLINED and job.covers_off == ("floor-plate",)
    await step(pilot, "put a cover back")
    await take(pilot, "which is back on", "floor plate")
    await step(pilot, "the machine left")
    due = Decimal(f"{on:.2f}")
    assert value(pilot.app, "paid") == str(due), screen_text(pilot.app)
    await answer(pilot, "to pay (EUR)", "")
    await answer(pilot, "on whose word", "")
    left = board_of(pilot).state.load_closed(id)
    assert left is not None and left[0].settlement is not None and left[0].settlement.total == due


async def test_work_is_added_while_it_is_open_and_who_pays_is_said(pilot: Pilot[Any]) -> None:
    id = await found(pilot)
    await type_keys(pilot, "e")
    before = len(job_on(pilot, id).operations)
    assert "while it is open" in screen_text(pilot.app)
    await choose(pilot, "grease")
    assert len(job_on(pilot, id).operations) == before + 1, screen_text(pilot.app)
    await type_keys(pilot, "p")
    await choose(pilot, "warranty")
    assert job_on(pilot, id).payer == "warranty" and "the warranty pays" in screen_text(pilot.app)
    await type_keys(pilot, "y")
    assert "Good day, Orchard Lane Parks" in pilot.app.clipboard
