"""The guided walk: eight things to try on the sample shop, each told at the foot of the screen until it is done."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, NamedTuple

from .dialogs import ChooseDialog, Dialog
from .lines import Line, cell, line, wrapped

if TYPE_CHECKING:
    from .app import Board


class Leg(NamedTuple):
    """One thing to try: what to press and what for, and whether it is done."""

    words: str
    done: Callable[[Walk], bool]


class Walk:
    """Where the walk stands: it begins at the first leg and is over after the last."""

    def __init__(self, board: Board) -> None:
        self.board = board
        self.at = 0
        self.jobs_before = max(board.state.jobs, default=0)
        self.said_before = 0

    @property
    def place(self) -> str:
        """The place in front, "" under a dialog."""
        return "" if isinstance(self.board.screen, Dialog) else self.board.place_name

    @property
    def job(self) -> int:
        """The job taken in on the walk, 0 until there is one."""
        newest = max(self.board.state.jobs, default=0)
        return newest if newest > self.jobs_before else 0

    def answers(self) -> int:
        """How many answers that job has."""
        job = self.board.state.jobs.get(self.job)
        return len(job.answers) if job else 0

    def go_on(self) -> bool:
        """Go past every leg that is done; says whether that moved it."""
        before = self.at
        while self.at < len(LEGS) and LEGS[self.at].done(self):
            self.at += 1
            self.said_before = self.answers()
        return self.at != before

    def words(self) -> str:
        """What stands at the foot of the screen, "" when the walk is over."""
        return f"walk {self.at + 1} of {len(LEGS)}: {LEGS[self.at].words}" if self.at < len(LEGS) else ""


def _answered(*fields: str) -> Callable[[Walk], bool]:
    def done(walk: Walk) -> bool:
        counter = walk.board.place_in_front()
        values = getattr(counter, "_values", {}) if walk.board.place_name == "counter" else {}
        return bool(walk.job) or all(values.get(field) for field in fields)

    return done


LEGS: tuple[Leg, ...] = (
    Leg("the Floor: bays along the hours, below it what waits and why. Press n, a machine comes to the counter",
        lambda walk: walk.place == "counter"),
    Leg("type a name, such as danforth, and Enter; Enter again takes the machine, then its hours and Enter",
        _answered("who", "machine", "hours")),
    Leg("type what it does, such as: slow on the hill when warm. Enter; then Down and Enter tick a symptom",
        _answered("complaint", "symptoms")),
    Leg("under the symptoms stand the first likely causes. Ctrl+S takes the machine in",
        lambda walk: bool(walk.job)),
    Leg("its tag is given. Choose to open it on the Bench",
        lambda walk: walk.place == "bench"),
    Leg("on the right the checks that tell most for their minutes. Enter answers the one under the cursor",
        lambda walk: bool(walk.job) and walk.answers() > walk.said_before),
    Leg("see how the causes moved; t shows the tree, e the estimate, ? what every key does. Then press o",
        lambda walk: walk.place == "office"),
    Leg("the owner's minute: late and why, whom to call, what to say. Press f for the Floor",
        lambda walk: walk.place == "floor"),
)  # fmt: skip

OVER = "That was the walk. u takes back your last change; `shopboard new FOLDER` begins your own shop"


def offer_lines(width: int) -> list[Line]:
    """Whether to be shown round."""
    return [
        line("walk", cell("yes, show me round: eight steps, two minutes", width)),
        line("alone", cell("no, I look round by myself (Ctrl+G shows me round later)", width)),
    ]


def _about(width: int) -> list[Line]:
    return wrapped("This is a sample shop: everything in it is invented, and nothing you do here can do harm.", width)


def offer() -> ChooseDialog:
    """The question asked at the first start on the sample shop."""
    return ChooseDialog("A walk through the board?", offer_lines, above=_about)
