"""Two terminals on one shop: the other's change shows, nothing under one's hands moves, and no change is lost."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from aids.boards import choose, list_here, open_board, question_here, row_here, screen_text, shipped, type_keys, until
from aids.pty_board import pty_board
from aids.shops import Clock, make_shop
from textual.pilot import Pilot

from shopboard.places.app import Board
from shopboard.records import Step
from shopboard.shop import bays, evidence, parts, stages
from shopboard.shop.intake import Intake, NewCustomer, NewMachine, take_in
from shopboard.store import FolderStore, open_shop, verify

JOBS = 30


class Other:
    """The other terminal: Bo's store on the same folder."""

    def __init__(self, folder: Path, clock: Callable[[], datetime]) -> None:
        self.store: FolderStore = open_shop(folder, clock=clock)

    def do(self, rule: Callable[..., Step], *given: Any, **named: Any) -> None:
        """Commit a step signed by Bo."""
        self.store.commit("bo", lambda state, now: rule(state, now, "bo", *given, **named))

    def takes_in(self, name: str, **given: Any) -> None:
        """A machine comes in over there."""
        intake = Intake(
            customer=NewCustomer(name=name, phone=f"555 {name}"),
            machine=NewMachine(model="in-line-1", serial=name),
            complaint=f"will not pull, says {name}",
            **given,
        )
        self.do(take_in, intake, book=shipped())


@pytest.fixture
def other(tmp_path: Path) -> Iterator[Other]:
    make_shop(tmp_path / "shop").close()
    other = Other(tmp_path / "shop", Clock())
    for number in range(1, JOBS + 1):
        other.takes_in(f"Farm {number:02}")
    yield other
    other.store.close()


def board_of(pilot: Pilot[Any]) -> Board:
    assert isinstance(pilot.app, Board)
    return pilot.app


async def caught_up(pilot: Pilot[Any], other: Other) -> None:
    """Wait until this board knows what the other did, and has drawn it."""
    board = board_of(pilot)
    await until(pilot, lambda: board.state.seq >= other.store.state.seq, "the other's change is known here")
    await until(pilot, lambda: _drawn(board) == board.state.seq, "the other's change is drawn")
    await pilot.pause()


def _drawn(board: Board) -> int:
    place = board.place_in_front()
    assert place is not None
    return place.drawn_at


def under_my_hands(pilot: Pilot[Any]) -> tuple[str, int, float, str]:
    """The row under the cursor, its row on the screen, the scroll offset of the lines around it, and the key."""
    found = list_here(pilot.app)
    offset = found._cursor - found.scroll_offset.y
    return row_here(pilot.app), offset, found.scroll_target_y - found._cursor, str(found.key)


async def test_a_change_elsewhere_shows_and_the_cursor_stays_where_it_is(tmp_path: Path, other: Other) -> None:
    async with open_board(tmp_path / "shop") as pilot:
        await type_keys(pilot, *["down"] * 20)
        before = under_my_hands(pilot)
        assert before[1] > 0 and list_here(pilot.app).scroll_offset.y > 0
        other.takes_in("Aaa Urgent", machine_down=True)  # a new first row of the group the cursor is in
        await caught_up(pilot, other)
        assert under_my_hands(pilot) == before
        assert "bo: T-0031 taken in" in screen_text(pilot.app)
        await type_keys(pilot, "home", "down", "down", "down")
        assert "Aaa Urgent" in screen_text(pilot.app)


async def test_a_change_of_the_job_on_the_bench_shows_there(tmp_path: Path, other: Other) -> None:
    async with open_board(tmp_path / "shop") as pilot:
        await type_keys(pilot, "=7", "enter", "down", "down")
        key = list_here(pilot.app).key
        other.do(evidence.remark, 7, "belt looks new")
        await caught_up(pilot, other)
        column = " ".join(row[:21].strip() for row in screen_text(pilot.app).splitlines()[4:])
        assert "belt looks new" in column, column  # where what was said stands, not only in the notice
        assert list_here(pilot.app).key == key


async def test_half_typed_text_its_cursor_and_selection_stay(tmp_path: Path, other: Other) -> None:
    async with open_board(tmp_path / "shop") as pilot:
        await type_keys(pilot, "n", "=half a name", "shift+left", "shift+left")
        field = question_here(pilot.app).input
        before = (field.value, field.cursor_position, field.selection)
        assert field.selected_text == "me"
        other.takes_in("Elsewhere")
        await caught_up(pilot, other)
        assert (field.value, field.cursor_position, field.selection) == before and field.has_focus
        assert "next tag T-0032" in screen_text(pilot.app)
        await type_keys(pilot, "end", "=!")
        assert field.value == "half a name!"


async def test_half_typed_text_in_a_dialog_stays_too(tmp_path: Path, other: Other) -> None:
    async with open_board(tmp_path / "shop") as pilot:
        await type_keys(pilot, "=7", "enter", "w", "=half a remark")
        other.do(evidence.remark, 7, "from the yard")
        await caught_up(pilot, other)
        assert question_here(pilot.app).input.value == "half a remark"
        await type_keys(pilot, "enter")
        assert [note.text for note in board_of(pilot).state.jobs[7].notes] == ["from the yard", "half a remark"]
        assert "Saved: T-0007, remark: half a remark" in screen_text(pilot.app)
    assert verify(tmp_path / "shop") == ()


async def test_the_second_to_take_a_bay_is_told_and_what_was_chosen_stays(tmp_path: Path, other: Other) -> None:
    async with open_board(tmp_path / "shop") as pilot:
        await type_keys(pilot, "=7", "enter", "s")
        await choose(pilot, "put into a bay")
        assert question_here(pilot.app).options[0].label == "lift"
        other.do(bays.put, 8, "1")
        await caught_up(pilot, other)
        await type_keys(pilot, "enter", "enter")
        told = " ".join(screen_text(pilot.app).replace("│", " ").split())
        assert "lift holds T-0008 (arrived): swap the two, or leave T-0007 in the queue" in told
        state = board_of(pilot).state
        assert state.jobs[7].bay == "" and state.jobs[8].bay == "1"


async def test_two_who_answer_the_same_job_lose_nothing(tmp_path: Path, other: Other) -> None:
    """Bo's answer, symptom and part arrive while Ana's answer is open; all four stand afterwards."""
    async with open_board(tmp_path / "shop") as pilot:
        await type_keys(pilot, "=7", "enter", "a")
        mine = str(list_here(pilot.app).key)
        await type_keys(pilot, "enter")
        theirs = next(c for c in shipped().checks.values() if "in-line" in c.layouts and c.id != mine)
        other.do(evidence.tick, 7, ("weak-drive",), book=shipped())
        other.do(evidence.answer, 7, theirs.id, next(iter(theirs.outcomes)), book=shipped())
        other.do(parts.need, 7, "N-1", "belt", 1)
        await type_keys(pilot, "home", "enter")  # without waiting for the news
        await caught_up(pilot, other)
        job = board_of(pilot).state.jobs[7]
        assert {answer.check for answer in job.answers} == {mine, theirs.id}
        assert job.symptoms == ("weak-drive",) and [p.name for p in board_of(pilot).state.parts_of(7)] == ["belt"]
    assert verify(tmp_path / "shop") == ()


async def test_a_step_that_was_done_elsewhere_meanwhile_is_told(tmp_path: Path, other: Other) -> None:
    async with open_board(tmp_path / "shop") as pilot:
        await type_keys(pilot, "=7", "enter", "s")
        await choose(pilot, "begin the diagnosis")
        other.do(stages.diagnose, 7, "bo")
        await type_keys(pilot, "enter")
        await until(pilot, lambda: board_of(pilot).state.jobs[7].person == "ana", "Ana's step is known here")
        # Ana named herself: her step became a hand-over of what Bo had begun, and both stand in the story
        assert board_of(pilot).state.jobs[7].stage.value == "being diagnosed"
        assert "Saved: T-0007 is being diagnosed by Ana." in screen_text(pilot.app)
        story = [(change.by, change.why) for change in board_of(pilot).store.changes(subject=7)]
        assert story[1:] == [("bo", "T-0007 is being diagnosed by Bo."), ("ana", "T-0007 is being diagnosed by Ana.")]


async def test_undo_of_what_another_has_built_on_is_refused_and_named(tmp_path: Path, other: Other) -> None:
    async with open_board(tmp_path / "shop") as pilot:
        await type_keys(pilot, "=7", "enter", "w", "=mine", "enter")
        other.do(evidence.remark, 7, "theirs")
        await type_keys(pilot, "u")
        await until(pilot, lambda: "Not undone:" in screen_text(pilot.app), "the refusal is told")
        assert "theirs" in screen_text(pilot.app)
        assert [note.text for note in board_of(pilot).state.jobs[7].notes] == ["mine", "theirs"]


async def test_a_job_collected_elsewhere_leaves_the_bench_without_harm(tmp_path: Path, other: Other) -> None:
    async with open_board(tmp_path / "shop") as pilot:
        await type_keys(pilot, "=7", "enter", "w", "=too late", "tab")
        other.store.undo("bo", seq=7)  # the intake of job 7 is taken back over there: the job is no more
        await caught_up(pilot, other)
        await type_keys(pilot, "enter")
        assert "T-0007" in screen_text(pilot.app) and 7 not in board_of(pilot).state.jobs
        await type_keys(pilot, "escape", "s", "a", "d", "t", "h", "b", "f")
        assert "FLOOR" in screen_text(pilot.app)


def test_two_boards_in_two_terminals(tmp_path: Path) -> None:
    folder, now = tmp_path / "shop", datetime.now(UTC)
    store = make_shop(folder, Clock(now))
    for name in ("Alder", "Birch"):
        intake = Intake(
            customer=NewCustomer(name=name),
            machine=NewMachine(model="in-line-1", serial=name),
            complaint="will not pull",
        )
        store.commit("ana", lambda state, at, intake=intake: take_in(state, at, "ana", intake, book=shipped()))
    store.close()
    with pty_board(folder) as ana, pty_board(folder, who="bo") as bo:
        ana.send("nhalf a name")
        ana.until("half a name")
        bo.send("1\rwwritten in the yard\r")
        bo.until("Saved: T-0001, remark: written in the yard")
        screen = ana.until("bo: T-0001, remark: written in the yard")
        assert "half a name" in screen
        ana.send(" goes on")
        ana.until("half a name goes on")
        ana.send("\x1b")
        ana.until(lambda screen: "COUNTER" not in screen)
        for board, words in ((ana, "from the counter"), (bo, "from the bench")):
            board.send(f"2\rw{words}\r")
        for board, words in ((ana, "from the counter"), (bo, "from the bench")):
            board.until(f"Saved: T-0002, remark: {words}")
    store = open_shop(folder)
    assert sorted(note.text for note in store.state.jobs[2].notes) == ["from the bench", "from the counter"]
    store.close()
    assert verify(folder) == ()


async def test_news_may_come_while_a_place_has_no_notice_yet(tmp_path: Path, other: Other) -> None:
    async with open_board(tmp_path / "shop") as pilot:
        place = board_of(pilot).place_in_front()
        assert place is not None and place.is_mounted
        await place.query_one("#notice").remove()
        other.takes_in("Late Farm")
        await until(pilot, lambda: board_of(pilot).state.seq >= other.store.state.seq, "the other's change is known")
        await until(pilot, lambda: place.drawn_at == other.store.state.seq, "the place is drawn all the same")
