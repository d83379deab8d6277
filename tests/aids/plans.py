"""A plan given to a board in a test, made in the same process: what the planning process would send."""

from __future__ import annotations

from typing import Any

import pytest

from shopboard.places.planned import Planned, Planner
from shopboard.planning import search


class InProcess:
    """Stands where the board's planning process stands; answers at once."""

    def __init__(self, board: Any) -> None:
        self.board, self.stdin = board, None
        self.planner = Planner(board.state, board.book, board.zone)

    def plan(self) -> Planned:
        """Plan the shop as it stands, without time to improve, and show it."""
        made = [*self.planner.plan(self.board.now(), lambda: True, 0.0)][-1]
        self.board.post_message(self.board.Answered(made))
        return made

    def kill(self) -> None:
        """There is no process."""

    wait = kill


def by_tries(monkeypatch: pytest.MonkeyPatch, tries: int) -> None:
    """Let every plan be improved by a number of tries instead of for a time: the same shop gives the same plan."""

    monkeypatch.setattr("shopboard.places.planned.used_of", lambda _seconds, _keep_going: search.by_tries(tries))


def give_plan(board: Any) -> InProcess:
    """Give the board a planner that answers at once, and its first plan."""
    from shopboard.places import plan_work

    standing = InProcess(board)

    def ask(request: Any) -> None:
        planner, now = standing.planner, board.now()
        if isinstance(request, plan_work.TryPin):
            board.post_message(board.Answered(planner.try_pin(now, request.job, request.pin, lambda: True)))
        elif isinstance(request, plan_work.OfferDays):
            board.post_message(board.Answered(planner.offer(now, request.key, request.job, request.machine)))

    board._planner, board._ask_planner = standing, ask
    standing.plan()
    return standing
