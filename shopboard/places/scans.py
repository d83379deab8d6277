"""What a scanned code, a typed number or a found word opens."""

from __future__ import annotations

import gc
from abc import abstractmethod
from datetime import datetime
from functools import partial
from zoneinfo import ZoneInfo

from textual import events
from textual.timer import Timer

from shopboard.records import ShopState, Table, tag
from shopboard.records.codes import read_code

from .dialogs.choose import ChooseDialog
from .find_lines import visits_of
from .finding import Finder, hit_of, job_of_record
from .gate import GatedApp
from .lines import Role

#: How many look-ups the notice names, the last one first: of a burst of scans none goes unseen.
_NAMED = 3
#: Seconds between two slices of closed jobs made ready for finding, so that no key waits for them; and until the first:
#: by then the first screen stands.
_BETWEEN_SLICES, _FIRST_SLICE = 0.02, 0.4


#: What a record is called in a notice.
_NAMES = {Table.MACHINES: "machine", Table.PARTS: "part", Table.CUSTOMERS: "customer", Table.STOCK: "bin"}


class ScanningApp(GatedApp):
    """An app that looks up each code and typed number. Subclasses open jobs, find and tell."""

    zone: ZoneInfo

    def __init__(self) -> None:
        super().__init__()
        self.lookups: list[str] = []
        self._finder: Finder | None = None
        self._growing: Timer | None = None

    @property
    @abstractmethod
    def state(self) -> ShopState:
        """The shop as this terminal knows it."""

    @abstractmethod
    def tell(self, text: str, role: Role = "") -> None:
        """One line of notice on the screen in front."""

    @abstractmethod
    def open_job(self, job_id: int) -> bool:
        """Show a job; says whether there is one."""

    @abstractmethod
    def now(self) -> datetime:
        """The present moment, UTC."""

    # -- finding --------------------------------------------------------------------------------------------------

    def on_mount(self) -> None:
        self._finder = Finder(self.state)
        self.set_timer(_FIRST_SLICE, self._begin_to_grow)

    def _begin_to_grow(self) -> None:
        self._growing = self.set_interval(_BETWEEN_SLICES, self._grow)

    def _grow(self) -> None:
        if self._finder is not None and self._finder.grow() and self._growing is not None:
            self._growing.stop()
            gc.freeze()  # rows by the ten thousand stay: whoever looks for garbage need not walk them

    def action_find(self, typed: str = "") -> None:
        """Find anything."""
        from .dialogs.find import FindDialog

        finder = self._finder or Finder(self.state)
        self.push_screen(FindDialog(finder, self.state, self.now(), self.zone, typed), self._found)

    def _found(self, key: str | None) -> None:
        if key is None:
            return
        hit = hit_of(key)
        if hit.table is Table.JOBS:
            self.open_job(hit.id)
            return
        customer = self.state.customers[hit.id]
        build = partial(visits_of, self.state, customer, self.now(), self.zone)
        self.push_screen(ChooseDialog(customer.name, build), self._found)

    def part_scanned(self, table: Table, number: int) -> bool:
        """A code was scanned; says whether it was that of a part to receive, or of a bin, and was dealt with."""
        return False

    # -- codes ----------------------------------------------------------------------------------------------------

    def scanned(self, digits: str) -> None:
        """Look up what a scanned or typed number names."""
        found = read_code(digits)
        if found is None and len(digits) <= 6:
            found = (Table.JOBS, int(digits))
        if found is None:
            self._looked_up(digits)
            self.action_find(digits)
            return
        table, number = found
        self._looked_up(tag(number) if table is Table.JOBS else f"{_NAMES.get(table, table.value)} {number}")
        if self.part_scanned(table, number):
            return
        while len(self.screen_stack) > 2 and getattr(self.screen, "gives_way", False):
            self.pop_screen()
        if len(self.screen_stack) > 2:
            self.tell(f"{self._lookup_words()}: finish or leave this first (Esc)", "wait")
            return
        job_id = number if table is Table.JOBS else job_of_record(self.state, table, number)
        if job_id is None:
            self.tell(f"{self._lookup_words()}: no open job has it", "wait")
        elif self.open_job(job_id):
            self.tell(self._lookup_words(), "soft")

    def _looked_up(self, name: str) -> None:
        self.lookups = [*self.lookups[1 - _NAMED :], name]

    def _lookup_words(self) -> str:
        *before, last = self.lookups
        return f"looked up {last}" + (f" (before it {', '.join(reversed(before))})" if before else "")

    def scanning(self, digits: str) -> None:
        """Show the digits collected so far."""
        self.tell(f"number {digits}  Enter looks it up, Esc forgets it" if digits else "", "mark")

    async def on_paste(self, event: events.Paste) -> None:
        """Text pasted where no field takes it."""
        self.tell("nothing here takes pasted text: n starts an intake, / finds", "wait")
