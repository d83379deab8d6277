"""What a day costs in keys, on the sample shop through a pseudo-terminal: the worst of many runs of each journey.

Words said in any case (names, numbers, the complaint) are not counted; every other key is. Each run begins at a place
and row drawn from a seed, with one slip of the finger; one of them is interrupted by a scan.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path
from random import Random

import pytest
from aids.hand import CTRL_S, DOWN, ENTER, ESC, Hand
from aids.pty_board import PtyBoard, pty_board

from sample_shop import copy_to
from shopboard.records import Machine, ShopState, Table
from shopboard.records.codes import code_for
from shopboard.store import open_shop

RUNS = pytest.mark.parametrize("runs", [2, pytest.param(20, marks=pytest.mark.long)])
#: The most keys a journey may cost.
KNOWN, NEW = 25, 45


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The sample shop with today as its today."""
    folder = tmp_path_factory.mktemp("journeys") / "shop"
    copy_to(folder, datetime.now(UTC))
    return folder


@contextmanager
def state_of(folder: Path) -> Iterator[ShopState]:
    """The shop as it stands now."""
    store = open_shop(folder)
    try:
        yield store.state
    finally:
        store.close()


def somewhere(board: PtyBoard, random: Random) -> None:
    """Any place, any row."""
    board.send(ESC)
    board.send(random.choice("fpo"))
    for _ in range(random.randrange(6)):
        board.send(DOWN)


def interrupted(hand: Hand, random: Random, field: str) -> None:
    """A tag is scanned in the middle of a form; the hand goes back to what it was typing."""
    hand.scan(code_for(Table.JOBS, random.choice((322, 330, 339))))
    hand.sees("BENCH")
    hand.press("n")
    hand.sees(lambda screen: "COUNTER" in screen and f"> {field}" in screen, f"back at {field}")


COMPLAINTS = (
    "slow going up the hill when warm",
    "creeps forward by itself at neutral",
    "bangs when I change direction",
    "shakes under the seat since spring",
    "no drive at all",
)


def away(state: ShopState) -> list[Machine]:
    """Machines with a serial that do not stand here."""
    here = {job.machine for job in state.jobs.values()}
    return [m for m in state.machines.values() if m.id not in here and m.serial and m.readings]


def said(hand: Hand, random: Random, *, scan: bool) -> None:
    """The complaint, the first symptom it suggests, the rest left as it is; the tag is given."""
    hand.sees("> what it does")
    words = random.choice(COMPLAINTS)
    hand.slip(words[:9])
    if scan:
        interrupted(hand, random, "what it does")
    hand.words(words[9:])
    hand.press(ENTER)
    hand.sees("from what was said")
    hand.press(DOWN, ENTER)
    hand.sees("[x]")
    hand.press(CTRL_S)


@RUNS
def test_a_known_machine(shop: Path, runs: int) -> None:
    random, costs = Random(11), []
    with state_of(shop) as state:
        machines = random.sample(away(state), runs)
        names = {m.id: state.customers[m.customer].name for m in machines}
    with pty_board(shop, who="dell") as board:
        for run, machine in enumerate(machines):
            somewhere(board, random)
            hand = Hand(board)
            hand.press("n")
            hand.sees("> who")
            hand.slip(names[machine.id])
            hand.press(ENTER)
            hand.sees("> machine")
            hand.words(machine.serial)
            hand.press(ENTER)
            hand.sees("> hour meter")
            hand.words(str(int((machine.meter() or 0) + random.randrange(5, 60))))
            hand.press(ENTER)
            said(hand, random, scan=run == 1)
            hand.sees("taken in:")
            hand.press(ENTER)
            hand.sees("> who")
            costs.append((hand.keys, hand.looks))
    assert max(costs)[0] <= KNOWN, costs


@RUNS
def test_a_new_machine_of_a_new_customer_with_every_question_answered(shop: Path, runs: int) -> None:
    random, costs = Random(12), []
    with state_of(shop) as state:
        models = [model.name for model in state.models.values()]
    with pty_board(shop, who="dell") as board:
        for run in range(runs):
            somewhere(board, random)
            hand = Hand(board)
            hand.press("n")
            hand.sees("> who")
            hand.slip(f"Quarry Lane Gardens {random.randrange(10**6)}")
            hand.press(ENTER)
            hand.sees("> phone")
            hand.words(f"555 {random.randrange(10**4):04d}")
            hand.press(ENTER)
            hand.sees("> machine")
            hand.words("Zorra 55" if run == 1 else random.choice(models))  # one that nobody listed
            hand.press(*([DOWN] if run == 1 else []), ENTER)
            hand.sees("> serial")
            hand.words(f"Z{random.randrange(10**6)}")
            hand.press(ENTER)
            hand.sees("> hour meter")
            hand.words(str(random.randrange(20, 900)))
            hand.press(ENTER)
            hand.sees("> what it does")
            words = random.choice(COMPLAINTS)
            hand.words(words[:9])
            if run == 0:
                interrupted(hand, random, "what it does")
            hand.words(words[9:])
            hand.press(ENTER)
            hand.sees("from what was said")
            hand.press(DOWN, ENTER)
            hand.sees("[x]")
            hand.press(ENTER)
            the_rest(hand)
            hand.press(CTRL_S)
            hand.sees("taken in:")
            hand.press(ENTER)
            hand.sees("> who")
            costs.append((hand.keys, hand.looks))
    assert max(costs)[0] <= NEW, costs


#: What is typed where, after the questions worth asking; what is left empty is left as it is.
REST = {
    "promised for": "+5",
    "before a call": "150",
    "who pays": "",
    "their order no.": "",
    "machine down?": "",
    "condition": "two dents in the hood",
    "keys": "one, on the board",
    "attachments": "the deck",
}


def the_rest(hand: Hand) -> None:
    """Each question worth asking is answered with the first answer offered; then all that follows."""
    asked = ""
    while not (row := unanswered(hand, asked)).startswith("> promised for"):
        hand.press(DOWN, ENTER)
        asked = row
    for label, words in REST.items():
        hand.sees(f"\n> {label}")
        hand.words(words)
        if label != "attachments":
            hand.press(ENTER)


def unanswered(hand: Hand, before: str) -> str:
    """The open question's row, once it is another one than before that still shows what is asked."""

    def row(screen: str) -> str:
        return next((row for row in screen.split("\n") if row.startswith("> ")), "")

    def another(screen: str) -> bool:
        return row(screen) != before and row(screen).endswith(("?", "…", "blank: none"))

    return row(hand.sees(another, f"a question after {before}"))


#: The most keys that taking the next job, and receiving a part, may cost from any place.
NEXT = RECEIVED = 3


@RUNS
def test_the_next_job_is_taken(shop: Path, runs: int) -> None:
    random, costs = Random(13), []
    with pty_board(shop, who="sabe") as board:
        for _ in range(runs):
            somewhere(board, random)
            hand = Hand(board)
            hand.press("f", "t")
            hand.sees("next for Sabe")
            hand.press(ENTER)
            hand.sees("BENCH")
            costs.append((hand.keys, hand.looks))
            board.send("u")
            board.until(lambda screen: "Undone" in screen or "Not undone" in screen)
    assert max(costs)[0] <= NEXT, costs


def test_a_part_that_came_is_scanned_and_received(shop: Path) -> None:
    random, costs = Random(14), []
    with state_of(shop) as state:
        awaited = [part.id for part in state.parts.values() if part.state in ("ordered", "partly received")]
    with pty_board(shop, who="dell") as board:
        for part in random.sample(awaited, 3):
            somewhere(board, random)
            hand = Hand(board)
            hand.scan(code_for(Table.PARTS, part))
            hand.sees("how many came")
            hand.press(CTRL_S)
            hand.sees("Saved:")
            costs.append((hand.keys, hand.looks))
    assert max(costs)[0] <= RECEIVED, costs


def test_the_first_late_part_is_received_by_keys(shop: Path) -> None:
    with pty_board(shop, who="dell") as board:
        hand = Hand(board)
        hand.press("p", ENTER)
        hand.sees("how many came")
        hand.press(CTRL_S)
        hand.sees("Saved:")
    assert hand.keys <= RECEIVED


def test_the_owner_sees_what_is_late_and_why_without_a_key(shop: Path) -> None:
    with state_of(shop) as state:
        owner = next(p for p in state.settings.people if "owner" in p.roles and "technician" not in p.roles)
    with pty_board(shop, who=owner.id, opens="OFFICE") as board:
        screen = board.until("late, or cannot be on time")
        assert "T-0328" in screen and "called 3 times" in screen.replace("\n", " ")
