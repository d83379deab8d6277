"""Move a job in the plan: keys change who, where and when, and what that does to others is shown before it counts."""

from __future__ import annotations

from datetime import datetime
from typing import TYPE_CHECKING, ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType

from shopboard.places.lines import BLANK, Line, cell, line, share, wrapped
from shopboard.records import Job, Pin, Role, tag

from .base import Dialog
from .page import Reader

if TYPE_CHECKING:
    from shopboard.places.app import Board
    from shopboard.places.planned import Effect, Tried
    from shopboard.planning.tasks import Placed

#: Slots that one press of an arrow moves a job: half an hour.
STEP = 2


class MoveDialog(Dialog[object]):
    """Returns the Pin chosen, "let go" to leave the job to the plan, or None."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("left", "shift(-1)", show=False),
        Binding("right", "shift(1)", show=False),
        Binding("d", "day", show=False),
        Binding("b", "bay", show=False),
        Binding("p", "person", show=False),
        Binding("l", "let_go", show=False),
        Binding("enter", "confirm", show=False, priority=True),
        Binding("backspace", "leave", show=False),
    ]

    def __init__(self, board: Board, job: Job, placed: Placed) -> None:
        super().__init__(f"{job.tag}: move in the plan", "Enter keeps it, Esc leaves it")
        self._board, self._job, self._placed = board, job, placed
        assert board.planned is not None
        self._calendar = board.planned.plan.problem.calendar
        self._now = board.planned.plan.problem.now
        self._slot: int | None = None
        self._person, self._bay = placed.person, placed.bay
        self._chosen: set[str] = set()
        self._tried: Tried | None = None
        self._asked = 0

    def compose_body(self) -> ComposeResult:
        """What is chosen, and what it does."""
        yield Reader(self._lines, id="page")

    def on_mount(self) -> None:
        self.query_one("#page", Reader).focus()

    # -- keys ---------------------------------------------------------------------------------------------------------

    def action_shift(self, way: int) -> None:
        """Half an hour of work time earlier or later."""
        slot = self._placed.start if self._slot is None else self._slot
        self._slot = min(max(self._now + 1, slot + way * STEP), self._calendar.end - 1)
        self._try()

    def action_day(self) -> None:
        """The next day the shop is open, at opening."""
        slot = self._placed.start if self._slot is None else self._slot
        span = self._calendar.span_of(slot)
        self._slot = min(span.first + span.slots, self._calendar.end - 1)
        self._try()

    def action_bay(self) -> None:
        """The next bay."""
        bays = [bay.id for bay in self._board.state.settings.bays]
        if not self._placed.bay or not bays:
            self.tell("this step needs no bay", "soft")
            return
        self._bay = bays[(bays.index(self._bay) + 1) % len(bays)] if self._bay in bays else bays[0]
        self._chosen.add("bay")
        self._try()

    def action_person(self) -> None:
        """The next technician."""
        people = [p.id for p in self._board.state.settings.people if Role.TECHNICIAN in p.roles]
        self._person = people[(people.index(self._person) + 1) % len(people)] if self._person in people else people[0]
        self._chosen.add("person")
        self._try()

    def action_let_go(self) -> None:
        """Leave the job to the plan again."""
        if self._job.pin is None:
            self.tell("nothing is chosen for it: it is left to the plan already", "soft")
        else:
            self.dismiss("let go")

    def action_confirm(self) -> None:
        """Keep what is chosen, once it is known what it does."""
        pin = self._pin()
        if pin is None:
            self.tell("nothing is chosen yet: arrows move it in time, b the bay, p the person", "wait")
        elif self._tried is None:
            self.tell("still working out what it does: a moment", "wait")
        elif self._tried.why_not:
            self.tell(f"Not kept: {self._tried.why_not}", "late")
        else:
            self.dismiss(pin)

    # -- trying -------------------------------------------------------------------------------------------------------

    def _pin(self) -> Pin | None:
        if self._slot is None and not self._chosen:
            return None
        return Pin(
            person=self._person if "person" in self._chosen else "",
            bay=self._bay if "bay" in self._chosen else "",
            start=self._calendar.moment(self._slot) if self._slot is not None else None,
            at=self._board.now(),
            by=self._board.who,
        )

    def _try(self) -> None:
        self._tried = None
        self._asked += 1
        pin = self._pin()

        def hear(tried: Tried) -> None:
            if tried.pin == pin and self.is_mounted:
                self._tried = tried
                self.tell("")
                self.query_one("#page", Reader).show(self._lines)

        self._board.try_pin(self._job.id, pin, hear)
        self.query_one("#page", Reader).show(self._lines)

    # -- words --------------------------------------------------------------------------------------------------------

    def _when(self, moment: datetime | None) -> str:
        return f"{moment.astimezone(self._board.zone):%a %d %b %H:%M}" if moment else "–"

    def _near(self, moment: datetime | None) -> str:
        from shopboard.places.plan_lines import clock

        return clock(moment, self._board.now(), self._board.zone) if moment else "–"

    def _lines(self, width: int) -> list[Line]:
        settings = self._board.state.settings
        person, bay = settings.person(self._person), settings.bay(self._bay)
        moment = self._calendar.moment(self._placed.start if self._slot is None else self._slot)
        rows = [
            line(None, "when    ", (self._when(moment), "strong"), ("   ← → half an hour, d the next day", "soft")),
            line(None, "who     ", (person.name if person else "–", "strong"), ("   p the next", "soft")),
        ]
        if self._placed.bay:
            rows.append(line(None, "where   ", (bay.name if bay else "–", "strong"), ("   b the next bay", "soft")))
        if self._job.pin is not None:
            rows.append(line(None, ("chosen before; l leaves it to the plan again", "soft")))
        return [*rows, BLANK, *self._does(width)]

    def _does(self, width: int) -> list[Line]:
        if self._pin() is None:
            return [line(None, ("nothing is changed yet", "soft"))]
        if self._tried is None:
            return [line(None, ("working out what this does …", "wait"))]
        if self._tried.why_not:
            return wrapped(f"this cannot be planned: {self._tried.why_not}", width, "late")
        rows: list[Line] = []
        for effect in self._tried.effects:
            own = effect.job == self._job.id
            if own or len(rows) < 12:
                rows.append(self._effect(effect, width))
        if len(self._tried.effects) == 1:
            rows.append(line(None, ("no other job moves", "good")))
        return rows

    def _effect(self, effect: Effect, width: int) -> Line:
        words = f"{tag(effect.job)} done {self._near(effect.after)}"
        if effect.before and effect.after and effect.before != effect.after:
            way = "later" if effect.after > effect.before else "earlier"
            words += f", {way} than {self._near(effect.before)}"
        if effect.chance_after is not None:
            words += f"; on time {share(effect.chance_after)}"
            if effect.chance_before is not None and abs(effect.chance_before - effect.chance_after) >= 0.01:
                words += f", was {share(effect.chance_before)}"
        worse = (effect.chance_after or 0) < (effect.chance_before or 0) - 0.01
        return line(None, (cell(words, width), "late" if worse else ""))
