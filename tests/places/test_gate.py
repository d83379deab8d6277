"""Through a real pseudo-terminal: scans, fast hands, paste, and what is left of a half-typed intake after the end."""

from __future__ import annotations

import signal
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

import pytest
from aids.hostile import TEXTS, hostile_shop
from aids.pty_board import PtyBoard, pty_board
from aids.shops import Clock

from shopboard.records import Table
from shopboard.records.codes import code_for
from shopboard.store import open_shop, verify

ONE, TWO, FOUR = (code_for(Table.JOBS, number) for number in (1, 2, 4))
BURST = f"{ONE}\r{TWO}\r{FOUR}\r"
LOOKED_UP = "looked up T-0004 (before it T-0002, T-0001)"
DOWN, ESCAPE, CTRL_N, CTRL_P, CTRL_Q = "\x1b[B", "\x1b", "\x0e", "\x10", "\x11"


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A shop with a few jobs, made now, since the board has the real clock."""
    hostile_shop(tmp_path / "shop", "Alder Farm", Clock(datetime.now(UTC))).close()
    return tmp_path / "shop"


@pytest.fixture
def board(folder: Path) -> Iterator[PtyBoard]:
    with pty_board(folder) as board:
        yield board


def changes(folder: Path) -> int:
    """How many changes the shop's journal holds."""
    store = open_shop(folder)
    try:
        return store.state.seq
    finally:
        store.close()


# -- scans ----------------------------------------------------------------------------------------------------------


def test_three_scans_at_every_place_are_three_look_ups_and_press_nothing(board: PtyBoard, folder: Path) -> None:
    before = changes(folder)
    for place in ("floor", "bench", "parts", "office"):
        board.send(place[0])
        board.until(lambda screen, name=place.upper(): screen.startswith(f" {name}"))
        board.send(BURST)
        board.until(lambda screen: LOOKED_UP in screen and "BENCH" in screen and "T-0004  Alder Farm" in screen)
        assert changes(folder) == before


def test_three_scans_into_the_intake_are_look_ups_and_leave_its_text_whole(board: PtyBoard) -> None:
    board.send("nMill at the weir")
    board.until("Mill at the weir")
    board.send(BURST)
    board.until(lambda screen: LOOKED_UP in screen and "BENCH" in screen)
    board.send("n")
    screen = board.until("COUNTER")
    assert "Mill at the weir " in board.until("Mill at the weir"), screen
    assert ONE not in screen and FOUR not in screen


def test_three_scans_into_a_dialog_leave_it_and_its_text(board: PtyBoard, folder: Path) -> None:
    before = changes(folder)
    board.send(f"{ONE}\rwhalf a remark")
    board.until("half a remark")
    board.send(BURST)
    screen = board.until(lambda screen: LOOKED_UP in screen.replace("\n", " ") and "finish or leave this" in screen)
    assert "half a remark " in screen and FOUR not in screen and "T-0001: write a remark" in screen
    assert changes(folder) == before


def test_three_scans_over_a_dialog_fire_none_of_its_keys(board: PtyBoard, folder: Path) -> None:
    before = changes(folder)
    for opener in ("s", "/", "?", CTRL_P, "h"):
        board.send(f"{ONE}\r")
        board.until(lambda screen: "T-0001  Test in-line" in screen and "┌" not in screen)
        board.send(opener)
        board.until("┌")
        board.send(BURST)
        screen = board.until(lambda screen: "looked up T-0004" in screen and "(before it T-0002, T-0001)" in screen)
        if "┌" in screen:  # a menu stays; what has nothing to lose gave way
            board.send(ESCAPE)
            board.until(lambda screen: "┌" not in screen)
        assert changes(folder) == before


def test_other_numbers(board: PtyBoard) -> None:
    board.send("2\r")
    board.until(lambda screen: "BENCH" in screen and "looked up T-0002" in screen)
    board.send("777\r")
    board.until("no job T-0777 here")
    board.send("5\r")
    board.until("T-0005, closed")
    board.send(f"{code_for(Table.MACHINES, 4)}\r")
    board.until(lambda screen: "looked up machine 4" in screen and "T-0004  Alder Farm" in screen)
    board.send(f"{code_for(Table.PARTS, 1)}\r")
    board.until(lambda screen: "looked up part 1" in screen and "T-0001  Test in-line" in screen)
    wrong = ONE[:-1] + str((int(ONE[-1]) + 1) % 10)
    board.send(f"{wrong}\r")
    board.until(lambda screen: "Find by tag" in screen and wrong in screen and "nothing here" in screen)


# -- fast hands -----------------------------------------------------------------------------------------------------


def test_n_and_a_whole_intake_typed_at_once(board: PtyBoard) -> None:
    said = "slow going up the hill when warm, since the spring"
    board.send(f"nThe weir mill\r555 0142\rin-line\rK-9\r1412\r{said}\r")
    screen = board.until(said)
    for line in ("who               The weir mill", "phone             555 0142", "serial            K-9"):
        assert line in board.until(line), screen


def test_what_is_typed_after_a_key_that_asks_lands_in_the_question(board: PtyBoard) -> None:
    board.send(f"{ONE}\r")
    board.until("T-0001  Test in-line")
    for key in ("d", "r", "y", "w", "m", "/", CTRL_P):
        board.send(f"{key}quick hands")
        board.until(lambda screen: "┌" in screen and "quick hands" in screen)
        board.send(ESCAPE)
        board.until(lambda screen: "┌" not in screen)


def test_what_is_typed_after_a_menu_walks_that_menu(board: PtyBoard) -> None:
    board.send(f"{ONE}\rs{DOWN}{DOWN}{DOWN}\r")
    opened = board.until(lambda screen: "Ctrl+S is done" in screen)
    board.send(ESCAPE)
    board.until(lambda screen: "Ctrl+S" not in screen)
    board.send("s")
    board.until("what next?")
    for key in (DOWN, DOWN, DOWN, "\r"):
        board.send(key)
    slowly = board.until(lambda screen: "Ctrl+S is done" in screen)
    title = next(line for line in slowly.splitlines() if "Ctrl+S is done" in line)
    assert title in opened


def test_a_remark_from_key_to_saved_in_one_burst(board: PtyBoard, folder: Path) -> None:
    before = changes(folder)
    board.send(f"{ONE}\rwleft a note for the morning\r")
    board.until("Saved: T-0001, remark: left a note for the morning")
    assert changes(folder) == before + 1


def test_bytes_that_are_no_text_break_nothing(board: PtyBoard) -> None:
    board.send("n")
    board.until("COUNTER")
    board.send(b"a\xff\xfe\xe9 \xc3")
    board.send(b"\xa9t\xc3\xa9")
    board.until("a\ufffd\ufffd\ufffd été")


# -- paste ----------------------------------------------------------------------------------------------------------


def bracketed(text: str) -> str:
    return f"\x1b[200~{text}\x1b[201~"


def test_paste_with_and_without_a_field(board: PtyBoard) -> None:
    board.send(bracketed("some words\nof a letter"))
    board.until("nothing here takes pasted text")
    board.send(bracketed(f"{TWO}\n"))
    board.until(lambda screen: "looked up T-0002" in screen and "BENCH" in screen)
    board.send("w" + bracketed("first line\nsecond [bold]line[/bold]") + " typed")
    board.until("first line second [bold]line[/bold] typed")


@pytest.mark.parametrize("kind", ["escapes", "controls", "right to left"])
def test_no_acting_byte_of_peoples_text_reaches_the_terminal(kind: str, tmp_path: Path) -> None:
    folder = tmp_path / "shop"
    hostile_shop(folder, TEXTS[kind], Clock(datetime.now(UTC))).close()
    with pty_board(folder) as board:
        board.send("1\r")
        board.until("looked up T-0001")
        board.send("w" + bracketed(TEXTS[kind].replace("\x1b", "")) + "!")
        board.until("!")
        board.send(ESCAPE)
        board.until(lambda screen: "Ctrl+S is done" not in screen)
        board.send("p")
        board.until("PARTS")
    # SGR and title codes of the text itself; the board's own are longer or other ones
    for bad in (b"\x1b[31mred", b"\x1b]0;evil", b"\x1bc", b"\x00", b"\x7f", b"\xc2\x9b", "\u202e".encode()):
        assert bad not in board.raw, bad


# -- the end, and after it ------------------------------------------------------------------------------------------


def half_typed(board: PtyBoard) -> None:
    """Type half an intake."""
    board.send("nThe weir mill\r555 0142\rin-line\r\r\rgrinds in re")
    board.until("grinds in re")


def offered_again(folder: Path) -> None:
    """The half-typed intake comes back at the next start, whole."""
    with pty_board(folder) as board:
        board.send("n")
        screen = board.until("half-typed intake is here again")
        for words in ("The weir mill", "555 0142", "Test in-line", "grinds in re"):
            assert words in screen, screen
    assert verify(folder) == ()


@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGHUP])
def test_a_polite_end_keeps_every_letter(number: int, folder: Path) -> None:
    with pty_board(folder) as board:
        half_typed(board)
        board.kill(number)
        assert board.wait() == 0
    assert b"\x1b[?1049l" in board.raw, "the terminal is not given back"
    offered_again(folder)


def test_a_closed_window_keeps_every_letter(folder: Path) -> None:
    with pty_board(folder) as board:
        half_typed(board)
        board.close_terminal()
        board.wait()
    offered_again(folder)


def test_kill_nine_keeps_what_had_come_to_rest(folder: Path) -> None:
    with pty_board(folder) as board:
        half_typed(board)
        draft = folder / "drafts" / "intake-ana.json"
        board.until(lambda _: draft.exists() and "grinds in re" in draft.read_text("utf-8"), "the draft on disk")
        board.kill(signal.SIGKILL)
        assert board.wait() == -signal.SIGKILL
    offered_again(folder)


def test_leaving_by_the_key_keeps_the_draft_too_and_emptying_it_does_not(folder: Path) -> None:
    with pty_board(folder) as board:
        half_typed(board)
        board.send(CTRL_Q)
        assert board.wait() == 0
    offered_again(folder)
    with pty_board(folder) as board:
        board.send("n")
        board.until("half-typed intake is here again")
        board.send(CTRL_N)
        board.until("the form is empty again")
        board.send(CTRL_Q)
        assert board.wait() == 0
    with pty_board(folder) as board:
        board.send("n")
        screen = board.until("COUNTER")
        assert "weir" not in screen and "here again" not in screen


def test_keys_typed_though_the_terminal_said_that_nobody_is_here(board: PtyBoard) -> None:
    board.send("\x1b[O")  # the window lost the focus
    board.until("·Lift" if "Lift" in board.terminal.text else "·")
    board.send("n")
    board.until("COUNTER")
    board.send("the weir mill")
    board.until("the weir mill")


def test_a_click_beside_everything_takes_no_keys_away(board: PtyBoard) -> None:
    board.send("\x1b[<0;3;1M\x1b[<0;3;1m")  # on the heading
    board.send("?")
    board.until("keys at the Floor")
    board.send("\x1b")
    board.send("j")
    board.until(lambda screen: screen.count("\n>") == 1)
    board.send("n")
    board.until("COUNTER")
    board.send("\x1b[<0;3;1M\x1b[<0;3;1m")
    board.send("the weir mill")
    board.until("the weir mill")
