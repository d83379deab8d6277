"""One machine from the counter to collected, by keys alone: what a person would press, reading the screen."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from random import Random
from typing import Any

from textual.pilot import Pilot

from aids.boards import answer, choose, form_here, question_here, row_here, screen_text, take, type_keys
from shopboard.places.app import Board
from shopboard.records import Job

#: What a customer may say; any symptom of the book may be ticked for it.
COMPLAINTS = (
    "slow going up the hill when warm",
    "creeps off by itself when I let go of the pedal",
    "bangs when I change from forward to reverse",
    "it shakes under the seat since the spring",
    "no drive at all, engine runs",
    "pulls to the left, worse after an hour",
    "gears grind and it jumps out of range",
)


@dataclass
class Trip:
    """What is drawn for one machine, and what its story must say afterwards: (who, a pattern for why)."""

    complaint: str = COMPLAINTS[0]
    layout: str = "in-line"
    symptom: int = 0
    outcomes: tuple[int, ...] = (1, 1)
    check_outcome: int = 0
    cause: int = 0
    story: list[tuple[str, str]] = field(default_factory=list)

    @classmethod
    def drawn(cls, random: Random) -> Trip:
        """Another machine, complaint and set of answers."""
        return cls(
            complaint=random.choice(COMPLAINTS),
            layout=random.choice(("in-line", "split", "transaxle", "gear")),
            symptom=random.randrange(6),
            outcomes=(random.randrange(4), random.randrange(4)),
            check_outcome=random.randrange(3),
            cause=random.randrange(4),
        )

    def said(self, who: str, why: str) -> None:
        """The journal must tell this next."""
        self.story.append((who, why))


def board_of(pilot: Pilot[Any]) -> Board:
    """The board that is driven."""
    board = pilot.app
    assert isinstance(board, Board)
    return board


def job_on(pilot: Pilot[Any], id: int) -> Job:
    """The job as this board knows it."""
    return board_of(pilot).state.jobs[id]


async def whole_job(pilot: Pilot[Any], trip: Trip) -> int:
    """Take the machine in and see it collected; returns the job's number."""
    id = await counter(pilot, trip)
    await triage(pilot, trip, id)
    await money_and_parts(pilot, trip, id)
    await repair(pilot, trip, id)
    await out(pilot, trip, id)
    return id


async def counter(pilot: Pilot[Any], trip: Trip) -> int:
    """The intake, with two questions answered, up to the Bench."""
    board = board_of(pilot)
    await type_keys(pilot, "n", "=Orchard Lane Parks", "enter")
    await answer(pilot, "phone", "555 0142")
    await answer(pilot, "machine", trip.layout)
    await answer(pilot, "serial", "K-20")
    await answer(pilot, "hour meter", "1412")
    await answer(pilot, "what it does", trip.complaint)
    await type_keys(pilot, *["down"] * (trip.symptom + 1), "enter")
    ticked = form_here(board).row("symptoms").ticked
    assert len(ticked) == 1, screen_text(board)
    await type_keys(pilot, "enter")
    for outcome in trip.outcomes:
        row = question_here(board)
        assert row.field.id.startswith("ask"), f"no second question for {ticked}\n{screen_text(board)}"
        await take(pilot, row.field.label, row.options[min(outcome, len(row.options) - 1)].label)
    said = " ".join(screen_text(board).split())  # a line may wrap anywhere
    assert "likely:" in said and "none of these" in said, screen_text(board)
    await type_keys(pilot, "ctrl+s")
    tag = re.search(r"T-(\d{4,}) taken in", screen_text(board))
    assert tag, screen_text(board)
    trip.said("ana", rf"^T-{tag[1]} taken in: Test {trip.layout} K-20 of Orchard Lane Parks, 1412 h: {trip.complaint}")
    id = int(tag[1])
    assert len(job_on(pilot, id).answers) <= len(trip.outcomes) and "unsure" not in trip.outcomes
    await choose(pilot, f"open T-{tag[1]} on the Bench")
    return id


async def triage(pilot: Pilot[Any], trip: Trip, id: int) -> None:
    """Causes with probabilities and reasons, the diagnosis begun, a check recorded, the cause found."""
    board = board_of(pilot)
    assert re.search(r"\d %", screen_text(board)) and "none of these" in screen_text(board), screen_text(board)
    await type_keys(pilot, "tab", "home")
    while "two faults" in row_here(board) or "none of these" in row_here(board):
        await type_keys(pilot, "down")
    assert "for:" in screen_text(board) and "against:" in screen_text(board), screen_text(board)
    await type_keys(pilot, "tab")
    await step(pilot, "begin the diagnosis")
    await take(pilot, "who does it", "Ana")
    trip.said("ana", rf"T-{id:04d} is being diagnosed by Ana")
    if "no check left" in screen_text(board):
        await type_keys(pilot, "a")
    await type_keys(pilot, "home", "enter")
    if "answer which check?" in screen_text(board):
        await type_keys(pilot, "enter")
    await type_keys(pilot, "home", *["down"] * trip.check_outcome)
    outcome = row_here(board)
    await type_keys(pilot, "enter")
    trip.said("ana", rf"T-{id:04d}, .*: {re.escape(outcome)}")
    await type_keys(pilot, "d")
    row = question_here(board)
    cause = row.options[min(trip.cause, len(row.options) - 2)].label
    await take(pilot, "cause", cause)
    await answer(pilot, "in your words", "seen with the plate off")
    await take(pilot, "correction", question_here(board).options[0].label)
    trip.said("ana", rf"T-{id:04d}, found: {re.escape(cause)} \(seen with the plate off\); to do: ")


async def money_and_parts(pilot: Pilot[Any], trip: Trip, id: int) -> None:
    """A part requested, the yes, the part ordered and received."""
    await type_keys(pilot, "r")
    await answer(pilot, "part", "seal kit, large")
    await answer(pilot, "part number", "K20-77")
    await answer(pilot, "how many", "")
    await take(pilot, "supplier", "North Parts")
    await answer(pilot, "price each (EUR)", "38.50")
    trip.said("ana", rf"T-{id:04d} needs 1 × seal kit, large \(K20-77\)")
    await step(pilot, "ask for approval")
    await answer(pilot, "sum asked for (EUR)", "4000")
    trip.said("ana", rf"T-{id:04d}: approval asked for, 4000.00 EUR")
    await step(pilot, "record the yes")
    await answer(pilot, "who said yes", "")
    await take(pilot, "how", "by phone")
    await answer(pilot, "up to (EUR)", "")
    trip.said("ana", rf"T-{id:04d}: Orchard Lane Parks said yes to 4000.00 EUR \(by phone\)")
    await type_keys(pilot, "p")
    await choose(pilot, "seal kit, large")
    await take(pilot, "supplier", "North Parts")
    await answer(pilot, "expected", "+2")
    await answer(pilot, "order number", "A-9")
    trip.said("ana", rf"Ordered from North Parts: 1 × seal kit, large for T-{id:04d}, expected .* \(A-9\)")
    await choose(pilot, "seal kit, large")
    await answer(pilot, "how many came", "")
    trip.said("ana", rf"T-{id:04d}: received 1 × seal kit, large; no part is missing any more")


async def repair(pilot: Pilot[Any], trip: Trip, id: int) -> None:
    """Into a bay, repaired, the work and the cause confirmed."""
    board = board_of(pilot)
    await type_keys(pilot, "b")
    await step(pilot, "put into a bay")
    await take(pilot, "into which bay", question_here(board).options[0].label)
    trip.said("ana", rf"T-{id:04d} goes into ")
    await step(pilot, "start the repair")
    await take(pilot, "who does it", "Ana")
    trip.said("ana", rf"T-{id:04d} is in repair, Ana on it")
    await step(pilot, "fit a part")
    await type_keys(pilot, "enter")
    trip.said("ana", rf"T-{id:04d}: 1 × seal kit, large fitted")
    for operation in job_on(pilot, id).operations:
        await step(pilot, "mark work as done")
        await type_keys(pilot, "enter")
        trip.said("ana", rf"T-{id:04d}: {re.escape(operation.name)} done")
    await step(pilot, "confirm the cause")
    await type_keys(pilot, "enter")
    trip.said("ana", rf"T-{id:04d}.*confirmed|T-{id:04d}.*proved")
    await step(pilot, "book time")
    await answer(pilot, "minutes", "95")
    await answer(pilot, "on what", "the repair")
    trip.said("ana", rf"T-{id:04d}: 95 min spent on the repair")
    await step(pilot, "finish the repair")
    trip.said("ana", rf"T-{id:04d} is repaired and ready for its road test")


async def out(pilot: Pilot[Any], trip: Trip, id: int) -> None:
    """Road tested and collected."""
    board = board_of(pilot)
    await step(pilot, "record the road test")
    assert "CAUTION" in screen_text(board), screen_text(board)
    for question in ("passed?", "interlocks proved?", "brake proved?"):
        await take(pilot, question, "yes")
    await answer(pilot, "note", "climbs the ramp warm")
    trip.said("ana", rf"T-{id:04d}, road test passed, interlocks and brake proved.*climbs the ramp warm")
    await step(pilot, "let it be collected")
    await answer(pilot, "total with tax (EUR)", "")
    await answer(pilot, "paid now (EUR)", "")
    await answer(pilot, "on whose word", "")
    trip.said("ana", rf"T-{id:04d} collected: 4000.00 EUR, paid")
    assert id not in board.state.jobs and id in board.state.closed, screen_text(board)


async def step(pilot: Pilot[Any], title: str) -> None:
    """Choose a step from the menu of the job in front."""
    await type_keys(pilot, "s")
    await choose(pilot, title)
