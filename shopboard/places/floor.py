"""The Floor: which bay holds what, until when; what waits, and for what."""

from __future__ import annotations

from typing import ClassVar

from textual import on
from textual.app import ComposeResult
from textual.binding import BindingType

from shopboard.records import Job

from . import floor_lines
from .actions import bindings_at
from .dialogs import PageDialog
from .lines import Line
from .place import Place
from .widgets.line_list import LineList, LineView


class JobListPlace(Place):
    """A place whose one list stands for jobs: Enter opens, s steps, h tells the story."""

    def compose_body(self) -> ComposeResult:
        """The list."""
        yield LineList(self._lines, id="jobs")

    def _lines(self, width: int) -> list[Line]:
        raise NotImplementedError

    def __init__(self) -> None:
        super().__init__()
        self._looked: tuple[tuple[int, int, tuple[str, ...]], floor_lines.Floor] | None = None

    def floor(self) -> floor_lines.Floor:
        """The open jobs with what is ahead of each: heading and list of one drawing share one look."""
        board, now = self.board, self.board.now()
        seen = (board.state.seq, int(now.timestamp()), board.plan_news(now))
        if self._looked is None or self._looked[0] != seen or self._looked[1].planned is not board.planned:
            floor = floor_lines.look(board.state, board.book, now, board.zone, board.planned, seen[2], board.holidays)
            self._looked = (seen, floor)
        return self._looked[1]

    def heading_facts(self) -> str:
        """Bays in use, late, calls to make; that the plan is being worked out, if that takes long."""
        return floor_lines.facts(self.floor()) + ("    planning …" if self.board.solving else "")

    def on_mount(self) -> None:
        super().on_mount()
        self.the_list("jobs").focus()

    def redraw(self) -> None:
        """Draw the list anew; the cursor stays on its job."""
        self.the_list("jobs").show(self._lines)

    def job_here(self) -> Job | None:
        """The job under the cursor."""
        key = self.the_list("jobs").key or ""
        number = key.rpartition(":")[2]
        return self.board.state.jobs.get(int(number)) if number.isdigit() and not key.startswith("bay:") else None

    @on(LineList.Chosen)
    def _chosen(self, event: LineList.Chosen) -> None:
        event.stop()
        self.action_open()

    def action_open(self) -> None:
        """Open the job under the cursor on the Bench."""
        job = self.job_here()
        if job is not None:
            self.board.open_job(job.id)
        else:
            self.tell("nothing stands here: put a job in this bay with s on the job", "soft")

    def action_step(self) -> None:
        """What may happen next with the job under the cursor."""
        from . import steps

        steps.ask_step(self.board, self.job_here())

    def action_story(self) -> None:
        """Every change of the job under the cursor."""
        job = self.job_here()
        if job is not None:
            from .history_lines import story_page

            page = story_page(self.board.store.changes(subject=job.id), self.board.zone)
            self.board.push_screen(PageDialog(f"{job.tag}, its history", page))


class Floor(JobListPlace):
    """Bays along the hours, then what waits."""

    place = "floor"
    BINDINGS: ClassVar[list[BindingType]] = [*bindings_at("floor")]

    def compose_body(self) -> ComposeResult:
        """The list, and in its stead the large type for a wall."""
        yield from super().compose_body()
        yield LineView(self._wall, id="wall")

    def redraw(self) -> None:
        """Draw the list anew, or the wall."""
        super().redraw()
        self.query_one("#wall", LineView).show(self._wall)

    def _wall(self, width: int) -> list[Line]:
        if not self.has_class("wall"):
            return []
        from .wall_lines import wall_lines

        return wall_lines(self.floor(), width, self.query_one("#wall", LineView).size.height)

    def action_take_next(self) -> None:
        """Take my next job, or say why not."""
        from . import plan_steps

        plan_steps.take_next(self.board)

    def action_move(self) -> None:
        """Move the job under the cursor in the plan."""
        from . import plan_steps

        plan_steps.move(self.board, self.job_here())

    def action_moved(self) -> None:
        """Everything the plan moved last, and why."""
        from .plan_changes import moved_page

        self.board.push_screen(PageDialog("what the plan moved", moved_page(self.board.plan_moved, self.board.zone)))

    def action_closure(self) -> None:
        """Somebody is away, a bay is down, or the shop is closed."""
        from . import plan_steps

        plan_steps.closure(self.board)

    def action_wall(self) -> None:
        """Show the Floor in large type for a screen on the wall, or as a list again."""
        self.toggle_class("wall")
        self.call_after_refresh(self.redraw)

    def on_resize(self) -> None:
        self.call_after_refresh(self.redraw)

    def go_back(self) -> bool:
        """Esc leaves the large type first."""
        if not self.has_class("wall"):
            return False
        self.action_wall()
        return True

    def _lines(self, width: int) -> list[Line]:
        return floor_lines.floor_lines(self.floor(), width)
