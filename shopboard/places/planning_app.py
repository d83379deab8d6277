"""How the board comes by its plan: asked for after the first paint and whenever something changes, taken in as a
message; what it does not know yet it does not wait for."""

from __future__ import annotations

import contextlib
import subprocess
from collections.abc import Callable, Mapping
from datetime import date, datetime
from queue import SimpleQueue
from threading import Thread
from time import monotonic
from typing import TYPE_CHECKING, Any

from textual.message import Message

from shopboard.store import Place as Where

from .knowing import KnowingApp

if TYPE_CHECKING:  # they bring what nothing loads before the first paint
    from shopboard.records import Job, Machine, Pin

    from .planned import Offered, Planned, Tried

#: Seconds between looks whether something changed, until a plan grows old, and until progress is shown.
LOOK, OLD, SHOWN = 0.1, 120.0, 0.3


class PlanningApp(KnowingApp):
    """An app that plans: `planned`, None until there is a plan; `unplanned` says why not; `holidays` are the public
    ones as far as they are known: those kept with the last plan, then those that come with the plan."""

    class Answered(Message):
        """The process that plans has answered."""

        def __init__(self, answer: Planned | Tried | Offered | str) -> None:
            super().__init__()
            self.answer = answer

    def __init__(self, *given: Any) -> None:
        super().__init__(*given)
        self.planned: Planned | None = None
        self.unplanned = "no plan yet"
        self.holidays: Mapping[date, str] = {}
        self._planner: subprocess.Popen[bytes] | None = None
        self._planned_seq, self._plan_asked = -1, 0.0
        self._plan_known: bytes | None = None
        self._plan_asks: SimpleQueue[Any] = SimpleQueue()
        self._plan_since: float | None = None
        self._plan_shown = False
        self._news: tuple[str, ...] = ()
        self._news_at: datetime | None = None
        self._waiting: dict[str, Callable[[Any], None]] = {}
        self._wanted: tuple[Any, Callable[[], None]] | None = None

    # -- the process --------------------------------------------------------------------------------------------------

    def start_knowing(self, folder: Where) -> None:
        """Begin to have the closed jobs gone through and the shop planned; returns at once."""
        super().start_knowing(folder)
        self.start_planning(folder)
        self.beginning = False

    def stop_knowing(self) -> None:
        """Let both processes go."""
        super().stop_knowing()
        self.stop_planning()

    def start_planning(self, folder: Where) -> None:
        """Begin to have the shop planned, now and whenever it changes; returns at once."""
        from .plan_work import command

        self._planner = subprocess.Popen(
            command(folder), stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL
        )
        self._plan_asks = SimpleQueue()
        Thread(target=self._hear_plans, args=(self._planner,), daemon=True).start()
        Thread(target=self._tell_planner, args=(self._planner, self._plan_asks), daemon=True).start()
        self._keep_planning()
        self.set_interval(LOOK, self._keep_planning)

    def stop_planning(self) -> None:
        """Let the process go."""
        if self._planner is not None:
            self._plan_asks.put(None)
            self._planner.kill()
            self._planner.wait()
            self._planner = None

    def _hear_plans(self, planner: subprocess.Popen[bytes]) -> None:
        """In a thread: hand on what the process answers, until it ends."""
        from .plan_work import get

        assert planner.stdout is not None
        while (answer := get(planner.stdout)) is not None:
            self.post_message(self.Answered(answer))
        self.post_message(self.Answered("the process that plans has ended: open the board again"))

    @staticmethod
    def _tell_planner(planner: subprocess.Popen[bytes], asks: SimpleQueue[Any]) -> None:
        """In a thread: hand on what is asked, None at the end. A process that is busy takes long to read what closed
        jobs teach, and no key is to wait for that."""
        from .plan_work import put

        assert planner.stdin is not None
        with contextlib.suppress(BrokenPipeError, ValueError):
            while (request := asks.get()) is not None:
                put(request, planner.stdin)

    def _ask_planner(self, request: Any) -> None:
        if self._planner is not None:
            self._plan_asks.put(request)

    # -- the plan -----------------------------------------------------------------------------------------------------

    def _keep_planning(self) -> None:
        """Ask for a plan when something changed, when more is known of past jobs, or when the plan grew old."""
        if self._planner is None:
            return
        known = self.knowledge.packed_lesson("plan") if self.knowledge is not None else None
        fresh = known is not None and known is not self._plan_known
        if fresh or self.state.seq != self._planned_seq or monotonic() - self._plan_asked > OLD:
            from .plan_work import PlanIt

            quiet = fresh and self.state.seq == self._planned_seq
            self._planned_seq, self._plan_asked, self._plan_known = self.state.seq, monotonic(), known
            self._plan_since, self._plan_shown = monotonic(), False
            self._ask_planner(PlanIt(self.now(), known if fresh and known else b"", quiet))
        elif self.solving and not self._plan_shown:
            self._plan_shown = True
            self.shop_changed()

    @property
    def solving(self) -> bool:
        """Whether the plan is being worked out for longer than one would not notice."""
        return self._plan_since is not None and monotonic() - self._plan_since > SHOWN

    def on_planning_app_answered(self, event: PlanningApp.Answered) -> None:
        """Take in a plan, or hand an answer to who asked."""
        from .planned import Offered, Planned, Tried

        answer = event.answer
        if isinstance(answer, str):
            self.unplanned, self._plan_since = answer, None
        elif isinstance(answer, Planned):
            self._take_plan(answer)
        elif isinstance(answer, Tried | Offered):
            key = f"try {answer.job}" if isinstance(answer, Tried) else "offer"
            if (hear := self._waiting.get(key)) is not None:
                hear(answer)

    def _take_plan(self, planned: Planned) -> None:
        before = self.planned
        if not planned.risks and before is not None:  # the chances of a moment ago until they are drawn anew
            from dataclasses import replace

            planned = replace(planned, risks=before.risks, helps=before.helps)
        if planned.done or planned.seq != self.state.seq:
            self._plan_since = None
        self.planned, self.unplanned, self.holidays = planned, "", planned.holidays
        if planned.changed:
            self._news, self._news_at = planned.changed, planned.at
        self.shop_changed()
        (screen, act), self._wanted = self._wanted or (None, None), None
        if act is not None and screen is self.screen:
            act()

    @property
    def plan_comes(self) -> bool:
        """Whether there is no plan yet, but one is being worked out, or will be in a moment."""
        return self.planned is None and (self.beginning or self._plan_since is not None)

    def when_planned(self, act: Callable[[], None]) -> None:
        """Do this once there is a plan, if the same screen is still in front then; the last one asked for counts."""
        self._wanted = (self.screen, act)

    def plan_news(self, now: datetime) -> tuple[str, ...]:
        """What the last re-plan changed and why, while that is news."""
        from .plan_lines import TOLD_FOR

        return self._news if self._news_at is not None and now - self._news_at <= TOLD_FOR else ()

    @property
    def plan_moved(self) -> tuple[datetime, tuple[str, ...]] | None:
        """What the last re-plan that moved anything changed, and when; None where none did since the board is open."""
        return (self._news_at, self._news) if self._news_at is not None else None

    # -- questions ----------------------------------------------------------------------------------------------------

    def try_pin(self, job: int, pin: Pin | None, hear: Callable[[Tried], None]) -> None:
        """Ask what choosing this for a job would do; `hear` gets the answer later."""
        from .plan_work import TryPin

        self._waiting[f"try {job}"] = hear
        self._ask_planner(TryPin(self.now(), job, pin))

    def offer_days(self, key: str, job: Job, machine: Machine, hear: Callable[[Offered], None]) -> None:
        """Ask which days could be promised for a job not yet taken in; `hear` gets the answer later."""
        from .plan_work import OfferDays

        self._waiting["offer"] = hear
        self._ask_planner(OfferDays(self.now(), key, job, machine))

    @property
    def plans(self) -> bool:
        """Whether there is a process to ask."""
        return self._planner is not None
