"""Dialogs of the Measure panel: a result one key records, and a recording being worked out."""

from __future__ import annotations

import asyncio
import contextlib
from collections.abc import Callable
from typing import ClassVar

import msgspec
from textual.app import ComposeResult
from textual.binding import Binding, BindingType

from shopboard.places.lines import Line, bar, line
from shopboard.places.measure_work import Heard, Progress, Refusal, Report, Request, command
from shopboard.places.widgets.line_list import Builder

from .base import Dialog
from .page import Reader


class ResultDialog(Dialog[bool]):
    """A page of lines that Ctrl+S records; `record` returns "" when it was, else the one line that says why not.
    Returns True once recorded."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("ctrl+s", "record", show=False),
        Binding("backspace", "leave", show=False),
    ]

    def __init__(self, title: str, build: Builder, record: Callable[[], str]) -> None:
        super().__init__(title, "Ctrl+S records it, Esc goes back")
        self._build_page, self._record = build, record

    def compose_body(self) -> ComposeResult:
        """The page."""
        yield Reader(self._build_page, id="page")

    def on_mount(self) -> None:
        self.query_one("#page", Reader).focus()

    def action_record(self) -> None:
        """Record it to the job."""
        refusal = self._record()
        if refusal:
            self.tell(f"Not recorded: {refusal}", "late")
        else:
            self.dismiss(True)


class ListenDialog(Dialog[Heard | Refusal]):
    """Works a recording out in a process of its own and shows how far it is; Esc stops it."""

    def __init__(self, title: str, request: Request) -> None:
        super().__init__(title, "Esc stops it")
        self._request = request
        self._at: Progress = Progress(0.0, "starting")

    def compose_body(self) -> ComposeResult:
        """How far it is."""
        yield Reader(self._lines, id="progress", classes="fit")

    def on_mount(self) -> None:
        self.query_one("#progress", Reader).focus()  # keys wait for a screen until something on it has the focus
        self.run_worker(self._listen())

    def _lines(self, width: int) -> list[Line]:
        share, room = self._at.share, max(4, width - 18)
        return [line(None, f"{self._at.at:<11}", (bar(share, room), "bar"), f" {share:4.0%}")]

    async def _listen(self) -> None:
        process = await asyncio.create_subprocess_exec(
            *command(),
            stdin=asyncio.subprocess.PIPE,
            stdout=asyncio.subprocess.PIPE,
            stderr=asyncio.subprocess.DEVNULL,
            limit=2**26,
        )
        try:
            self.dismiss(await self._reports(process))
        except asyncio.CancelledError:  # Esc, or the board is left: nobody waits for it any more
            process.kill()
            raise
        finally:
            await process.wait()

    async def _reports(self, process: asyncio.subprocess.Process) -> Heard | Refusal:
        """Show progress until the process has said what it found."""
        assert process.stdin is not None and process.stdout is not None
        last: Heard | Refusal = Refusal("the recording could not be worked out: is there memory enough for it?")
        with contextlib.suppress(BrokenPipeError, ConnectionResetError):
            process.stdin.write(msgspec.json.encode(self._request) + b"\n")
            await process.stdin.drain()
        async for said in process.stdout:
            report: Report = msgspec.json.decode(said, type=Report)
            if isinstance(report, Progress):
                self._at = report
                self.query_one("#progress", Reader).show(self._lines)
            else:
                last = report
        return last
