"""Pages of the Bench: what book and shop say of a cause, and the tree, which holds up no key while it is reckoned."""

from __future__ import annotations

from pathlib import Path
from threading import Event
from types import SimpleNamespace
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from aids.boards import open_board, screen_text, shipped, type_keys, until, walk_to
from aids.desk import Desk
from aids.mended import mended
from aids.shops import Clock, make_shop
from rich.cells import cell_len

from shopboard.places import tree_lines
from shopboard.places.app import Board
from shopboard.places.book_says import brief, says, says_data, says_lines
from shopboard.places.knowledge import Material
from shopboard.places.learned_book import lesson
from shopboard.places.lines import plain
from shopboard.shop import evidence
from shopboard.shop.intake import Intake, take_in
from shopboard.store import open_shop
from shopboard.trouble import ClosedResult, Learned, learn
from shopboard.trouble.learning import outcome_shares, weight_shares

BOOK = shipped()
CAUSE = "cable-stretched"
NAME = BOOK.causes[CAUSE].name


def _learned(short: int = 5, others: int = 6) -> Learned:
    told = [ClosedResult("in-line", (CAUSE,), answers=(("pedal-travel", "short"),), family="f")] * short
    told += [ClosedResult("in-line", ("pump-worn",), answers=(("pedal-travel", "full"),))] * others
    return learn(BOOK, [*told, ClosedResult("split", ("pump-worn",))], "in-line", family="f")


# -- the lines --------------------------------------------------------------------------------------------------------


def test_it_says_the_book_the_shop_and_what_is_reckoned_with() -> None:
    learned = _learned()
    told = says(BOOK, learned, "in-line", CAUSE)
    assert told.common.book == weight_shares(BOOK, "in-line")[CAUSE]
    assert (told.common.seen, told.common.of, told.common.now) == (5, 11, learned.of(CAUSE)[""].now)
    rows = {(row.finding, row.outcome): row for row in told.rows}
    short, slack = rows["pedal-travel", "short"], rows["pedal-travel", "slack"]
    assert (short.seen, short.of, slack.seen, slack.of) == (5, 5, 0, 5)
    assert slack.word == "usually" and short.word == ""  # as the file has it
    assert short.book == outcome_shares(BOOK, CAUSE, "pedal-travel")["short"] < 0.05 < 0.3 < short.now
    assert slack.now < slack.book
    quiet = rows["weak-drive", ""]
    assert (quiet.of, quiet.now) == (0, pytest.approx(quiet.book))
    assert told.rows[0].finding == "pedal-travel"  # what was seen here stands first
    assert brief(learned, CAUSE).startswith("book says 1 %, this shop 5 of 11 found, now ")


def test_every_named_sign_of_the_layout_stands_there_and_none_of_another() -> None:
    for layout in ("in-line", "split", "transaxle", "gear"):
        for cause in (c for c in BOOK.causes.values() if layout in c.layouts):
            found = {row.finding for row in says(BOOK, None, layout, cause.id).rows}
            named = {s for s in cause.shows if layout in BOOK.symptoms[s].layouts}
            named |= {c for c in cause.answers if layout in BOOK.checks[c].layouts}
            assert found == named
    with pytest.raises(KeyError):
        says(BOOK, None, "gear", "pump-worn")


@pytest.mark.parametrize("width", [30, 60, 76, 150])
def test_the_page_fits_and_holds_every_figure(width: int) -> None:
    learned = _learned()
    lines = says_lines(says(BOOK, learned, "in-line", CAUSE), 90, "", "", width)
    assert all(cell_len(line.text) <= width for line in lines)
    text = plain(lines)
    assert "5 of 11" in text and "5 of 5" in text and "90 days" in " ".join(text.split())
    assert "from 11 closed jobs on this layout, 5 of them of this family, and 1 closed job on others" in " ".join(
        text.split()
    )


def test_without_jobs_it_says_why_and_shows_the_book() -> None:
    alone = " ".join(plain(says_lines(says(BOOK, None, "in-line", CAUSE), 90, "", "not reckoned yet", 99)).split())
    assert "this shop's own jobs: not reckoned yet; what follows is the book alone" in alone and "80 % usually" in alone
    none = says(BOOK, learn(BOOK, [], "in-line"), "in-line", CAUSE)
    assert brief(None, CAUSE) == brief(learn(BOOK, [], "in-line"), CAUSE) == brief(_learned(), "none-of-these") == ""
    text = " ".join(plain(says_lines(none, 90, "", "", 76)).split())
    assert "no closed job of this shop teaches yet" in text


def test_the_data_are_the_figures_of_the_page() -> None:
    told = says(BOOK, _learned(), "in-line", CAUSE)
    data = says_data(told)
    assert data[0] == {"cause": CAUSE, "finding": None, "outcome": None, "book": told.common.book, "seen": 5, "of": 11,
                       "now": told.common.now}  # fmt: skip
    assert [row["finding"] for row in data[1:]] == [row.finding for row in told.rows]


# -- on the board -----------------------------------------------------------------------------------------------------


def _shop_with_lessons(folder: Path) -> Clock:
    clock = Clock()
    desk = Desk(make_shop(folder, clock), clock)
    for _ in range(4):
        mended(desk, BOOK, CAUSE, ("pedal-travel", "short"))
    clock.pass_(days=91)
    desk.take_in("Lake Golf", "weak", "weak-drive")
    desk.store.close()
    return clock


def _knowing(board: Board, clock: Clock) -> Any:
    """As much of what closed jobs teach as the Bench asks for."""
    closed = {job.id: (job, lines) for job, lines in board.store.closed_jobs()}
    books = lesson(Material(board.state, BOOK, clock(), ZoneInfo("Europe/Berlin"), closed, frozenset(closed)))
    return SimpleNamespace(seq=board.state.seq, lesson=lambda name: books, weights_for=lambda *_: {})


def _said(app: Any) -> str:
    return " ".join(screen_text(app).replace("│", " ").split())


async def test_x_says_so_before_and_after_the_jobs_are_gone_through(tmp_path: Path) -> None:
    clock = _shop_with_lessons(tmp_path / "shop")
    async with open_board(tmp_path / "shop", clock=clock) as pilot:
        board = pilot.app
        assert isinstance(board, Board)
        await type_keys(pilot, "=5", "enter", "tab")
        before = board.book_for(board.state.jobs[5])
        assert before is board.book and "book +" not in _said(board)
        await walk_to(pilot, "none of these")
        await type_keys(pilot, "x")
        assert "put the cursor on a cause of the book first" in _said(board)
        await walk_to(pilot, evidence.ranking(board.state, board.state.jobs[5], before).causes[0].name[:12])
        await type_keys(pilot, "x")
        assert "this shop's own jobs: not reckoned yet" in _said(board)
        await type_keys(pilot, "escape")
        board.knowledge = _knowing(board, clock)
        board.shop_changed()
        await until(pilot, lambda: "likely book + 4 jobs" in _said(board), "the ranking from the shop's jobs")
        assert board.book_for(board.state.jobs[5]) is not before
        await walk_to(pilot, NAME[:12])
        assert "this shop 4 of 4 found" in _said(board)
        await type_keys(pilot, "x")
        assert f"{NAME}, in-line" in _said(board) and "4 of 4" in _said(board)


async def test_x_says_what_the_machines_age_does(tmp_path: Path) -> None:
    clock = _shop_with_lessons(tmp_path / "shop")
    store = open_shop(tmp_path / "shop", clock=clock)
    intake = Intake(customer=1, machine=1, complaint="weak", symptoms=("weak-drive",), hours=520.0)
    job = store.commit("ana", lambda s, now: take_in(s, now, "ana", intake, book=BOOK)).subject
    async with open_board(tmp_path / "shop", clock=clock, store=store) as pilot:
        board = pilot.app
        assert isinstance(board, Board)
        plain_book = _knowing(board, clock)
        board.knowledge = SimpleNamespace(**vars(plain_book) | {"weights_for": lambda *_: {CAUSE: 2.5}})  # type: ignore
        await type_keys(pilot, f"={job}", "enter", "tab")
        await walk_to(pilot, NAME[:12])
        await type_keys(pilot, "x", "end")
        told = "At 520 h this shop saw it 2.5 times as often as at all ages"
        await until(pilot, lambda: told in _said(board), "the sentence on the machine's age")
        aged = board.book_for(board.state.jobs[job])
        board.knowledge = plain_book
        assert aged.causes[CAUSE].weight > 2 * board.book_for(board.state.jobs[job]).causes[CAUSE].weight


async def test_x_without_a_job_does_nothing(tmp_path: Path) -> None:
    async with open_board(tmp_path / "shop") as pilot:
        await type_keys(pilot, "b", "x", "t")
        assert "No job on the Bench" in _said(pilot.app)


async def test_the_tree_is_reckoned_beside_the_keys(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    clock = _shop_with_lessons(tmp_path / "shop")
    go_on, asked, real = Event(), [], tree_lines.tree_page

    def slow(*args: Any, **named: Any) -> Any:
        asked.append(args)
        assert go_on.wait(30)
        return real(*args, **named)

    monkeypatch.setattr(tree_lines, "tree_page", slow)
    async with open_board(tmp_path / "shop", clock=clock) as pilot:
        await type_keys(pilot, "=5", "enter", "t")
        assert "reckoning the tree" in _said(pilot.app)
        await type_keys(pilot, "escape")  # nobody has to wait for it
        assert "weak drive: the path" not in _said(pilot.app)
        await type_keys(pilot, "t")
        go_on.set()
        await until(pilot, lambda: "> " in screen_text(pilot.app) and "min)" in screen_text(pilot.app), "the tree")
        assert "reckoning" not in _said(pilot.app) and len(asked) == 2


async def test_a_symptom_the_layout_does_not_have_is_told_in_the_trees_place(tmp_path: Path) -> None:
    clock = Clock()
    desk = Desk(make_shop(tmp_path / "shop", clock), clock)
    desk.take_in("Lake Golf", "rattles", "pulls-aside")
    desk.store.close()
    assert "in-line" not in BOOK.symptoms["pulls-aside"].layouts
    async with open_board(tmp_path / "shop", clock=clock) as pilot:
        await type_keys(pilot, "=1", "enter", "t")
        await until(pilot, lambda: "no symptom of in-line" in _said(pilot.app), "why there is no tree")
