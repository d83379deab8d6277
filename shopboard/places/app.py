"""The board: wiring of store, places and keys. What happens goes one way: key → action → rule → commit → screen."""

from __future__ import annotations

import gc
from collections.abc import Callable
from datetime import UTC, datetime
from importlib import import_module
from time import monotonic
from typing import TYPE_CHECKING, ClassVar
from zoneinfo import ZoneInfo

from textual.binding import BindingType
from textual.driver import Driver

from shopboard.records import Change, Job, Refused, ShopState, Step, Table, tag
from shopboard.store import Place as Where
from shopboard.store import ShopUnusable, Store, StoreError, own_folder
from shopboard.store.pins import Pins
from shopboard.trouble import Book

from . import let_go, seen_file
from .actions import PLACES, actions_at, bindings_everywhere
from .dialogs import Dialog, PageDialog
from .drafts import Drafts
from .learned_book import BookShelf
from .lines import Role
from .look import keep_look, kept_look
from .place import Place
from .reader import forgiving
from .signals import on_hangup
from .themes import BRIGHT, NIGHT
from .walking import WalkingApp

if TYPE_CHECKING:
    from .receiving import Receiving

#: How often other terminals' changes are looked for, in seconds.
POLL = 0.08


def _utc_now() -> datetime:
    return datetime.now(UTC)


def _collect_from_here() -> None:
    """What the start made stays as long as the board: garbage is looked for among what comes after it."""
    gc.freeze()
    gc.enable()


#: Garbage is looked for once nobody has typed for so long (seconds); it is looked whether that is so this often.
_PAUSE, _TIDY = 0.4, 0.2


class Board(WalkingApp):
    """The app on one open shop."""

    CSS_PATH = "styles/board.tcss"
    TITLE = "shopboard"
    ENABLE_COMMAND_PALETTE = False  # our own is made from the registry
    BINDINGS: ClassVar[list[BindingType]] = [*bindings_everywhere()]
    HORIZONTAL_BREAKPOINTS = [(0, "-narrow"), (110, "-wide")]

    def __init__(
        self,
        store: Store,
        book: Book,
        who: str = "",
        *,
        folder: Where | None = None,
        clock: Callable[[], datetime] = _utc_now,
        reckon: bool = False,
        show_round: bool = False,
    ) -> None:
        mine = own_folder(folder) if folder is not None else None
        super().__init__(who, Pins(mine))
        let_go.of_drawn_widgets()
        self._wear(kept_look())
        self._reckon, self._show_round = folder if reckon else None, show_round
        self.store, self.book, self.clock = store, book, clock
        self.shelf = BookShelf(book)
        self._receiving: Receiving | None = None
        store.state.covers = book.covers  # so that every rule reckons a job as its estimate does
        self.zone = ZoneInfo(store.state.settings.zone)
        self.drafts = Drafts(mine)
        self.holidays = seen_file.holidays(mine, store.state.settings)
        self._away, self.kept_at = store.read_only, folder
        self.kept: dict[str, dict[str, str | tuple[str, ...]]] = {}
        self.job_id: int | None = None
        self._tidied_for = 0.0
        self.place_name = ""
        self.trail: list[str] = []
        self._places: dict[str, Place] = {}

    def _wear(self, look: str) -> None:
        """Begin with this look: one set later has every style read a second time."""
        for theme in (NIGHT, BRIGHT):
            self.register_theme(theme)
        self.set_reactive(Board.theme, look)
        for name, worn in (
            (f"-theme-{look}", True),
            ("-dark-mode", look == NIGHT.name),
            ("-light-mode", look == BRIGHT.name),
        ):
            self.set_class(worn, name, update=False)
        self.stylesheet.set_variables(self.get_css_variables())

    def get_driver_class(self) -> type[Driver]:
        """The terminal's driver, with a reader that nothing typed can break."""
        return forgiving(super().get_driver_class())

    # -- what the places ask --------------------------------------------------------------------------------------

    @property
    def state(self) -> ShopState:
        """The shop as this terminal knows it."""
        return self.store.state

    def book_for(self, job: Job) -> Book:
        """The trouble book as this shop's jobs and the machine's age make it; the book alone until that is reckoned."""
        return self.shelf.for_machine(self.state, self.knowledge, self.state.machines[job.machine])

    def now(self) -> datetime:
        """The present moment, UTC."""
        return self.clock()

    def local_now(self) -> datetime:
        """The present moment in the shop's zone."""
        return self.clock().astimezone(self.zone)

    def tell(self, text: str, role: Role = "") -> None:
        """One line of notice on the screen in front."""
        if isinstance(self.screen, Place | Dialog):
            self.screen.tell(text, role)

    # -- the one way a change happens -----------------------------------------------------------------------------

    def attempt(self, rule: Callable[[ShopState, datetime], Step]) -> tuple[Change | None, str]:
        """Commit what the rule allows: the change, or None and the one line that says why not."""
        try:
            change = self.store.commit(self.who, rule)
        except (Refused, StoreError) as error:
            return None, str(error)
        self.shop_changed()
        return change, ""

    def commit(self, rule: Callable[[ShopState, datetime], Step]) -> Change | None:
        """Commit what the rule allows and tell it, or tell why not."""
        change, refusal = self.attempt(rule)
        if change is None:
            self.tell(f"Not done: {refusal}", "late")
        else:
            self.tell(f"Saved: {change.why}", "good")
        return change

    def shop_changed(self) -> None:
        """Draw the place in front anew."""
        place = self.place_in_front()
        if place is not None and place.is_mounted:
            place.refresh_place()

    def place_in_front(self) -> Place | None:
        """The place on the screen, under any dialog."""
        return self._places.get(self.place_name)

    # -- start, ticks, end ----------------------------------------------------------------------------------------

    def on_mount(self) -> None:
        self.go("floor" if self._show_round else self.first_place())
        self.set_interval(POLL, self._poll)
        on_hangup(self.action_leave)
        self.set_interval(20, self.shop_changed)
        if self._reckon is not None:
            self.call_after_refresh(self.begin_knowing, self._reckon)
        for notice in self.store.notices():
            self.tell(notice, "wait")
        if self.store.read_only:
            self.tell(f"read only: {self.store.read_only}", "late")
        self.begin_with_somebody()
        self.call_after_refresh(_collect_from_here)
        self.set_interval(_TIDY, self._tidy)
        if self._show_round:
            self.call_after_refresh(self.offer_walk)

    def _tidy(self) -> None:
        """Look for garbage while nobody types, so that it is never looked for while somebody does, nor piles up."""
        if self._tidied_for != self._touched and monotonic() - self._touched > _PAUSE:
            self._tidied_for = self._touched
            gc.collect()

    def _poll(self) -> None:
        try:
            changes = self.store.refresh()
        except ShopUnusable as error:
            self.tell(f"other terminals' changes cannot be read: {error}", "late")
            return
        self._tell_of_the_store()
        if changes:
            self.shop_changed()
            last = changes[-1]
            if isinstance(self.screen, Place | Dialog):
                self.screen.tell_news(f"{last.by}: {last.why}")

    def _tell_of_the_store(self) -> None:
        """Say when a store goes away or comes back, and what became of what was under way."""
        if (away := self.store.read_only) != self._away:
            self._away = away
            self.tell(
                f"read only: {away}" if away else "the server is back: changes are saved again",
                "late" if away else "good",
            )
            self.shop_changed()
        for notice in self.store.notices():
            self.tell(notice, "wait")

    def on_unmount(self) -> None:
        self.drafts.flush()
        self.stop_knowing()

    # -- going places ---------------------------------------------------------------------------------------------

    def go(self, name: str) -> None:
        """Show a place; the one before is where Esc leads."""
        if name == self.place_name and self.screen is self._places.get(name):
            self.shop_changed()
            return
        if name not in self._places:
            self._places[name] = self._build(name)
            # Installed, a place keeps its cursor and what is typed while another is in front
            self.install_screen(self._places[name], name)
        if self.place_name and self.place_name != name:
            self.trail = [*[p for p in self.trail if p != name][-8:], self.place_name]
        self.place_name = name
        while len(self.screen_stack) > 2:
            self.pop_screen()
        if len(self.screen_stack) > 1:
            self.switch_screen(self._places[name])
        else:
            self.push_screen(self._places[name])

    def _build(self, name: str) -> Place:
        module = import_module(f".{name}", __package__)  # a place is loaded when somebody goes there
        kind: type[Place] = getattr(module, name.title())
        return kind()

    def open_job(self, job_id: int) -> bool:
        """Show a job on the Bench; a closed one as a page. Says whether there is one."""
        if job_id in self.state.jobs:
            self.job_id = job_id
            self.go("bench")
            self.shop_changed()
        elif job_id in self.state.closed:
            from .history_lines import closed_job_page

            self.push_screen(
                PageDialog(f"{tag(job_id)}, closed", closed_job_page(self.state, self.book, job_id, self.zone))
            )
        else:
            self.tell(f"no job {tag(job_id)} here: press / to find by customer, serial or model", "late")
            return False
        return True

    def part_scanned(self, table: Table, number: int) -> bool:
        """A part on order, or a bin, was scanned: ask how many came."""
        from .receiving import Receiving

        self._receiving = self._receiving or Receiving(self)
        return self._receiving.scanned(table, number)

    def job_here(self) -> Job | None:
        """The open job that the place in front stands for."""
        place = self.place_in_front()
        return place.job_here() if place else None

    # -- actions of every place -----------------------------------------------------------------------------------

    def action_place(self, name: str) -> None:
        """Go to a place."""
        if name == "bench" and (job := self.job_here()) is not None:
            self.job_id = job.id
        self.go(name)

    def action_new_intake(self) -> None:
        """Take in a machine."""
        self.go("counter")

    def action_palette(self) -> None:
        """Every action of the place in front by name."""
        from .dialogs.find import PaletteDialog

        name = self.place_name
        self.push_screen(PaletteDialog(name, PLACES[name][1]), self._act)

    async def _act(self, action: str | None) -> None:
        if action is not None:
            here = any(action == a.id and self.place_name in a.places for a in actions_at(self.place_name))
            await self.run_action(action, self.place_in_front() if here else self)

    def action_look(self) -> None:
        """The other look."""
        self.theme = (NIGHT if self.theme == BRIGHT.name else BRIGHT).name
        keep_look(self.theme)

    def action_help(self) -> None:
        """Help for this place."""
        from .help_lines import help_page

        name = self.place_name or "floor"
        self.push_screen(PageDialog(f"{PLACES[name][1]}: help", help_page(name)))

    def action_undo(self) -> None:
        """Take back the last change of this person."""
        try:
            change = self.store.undo(self.who)
        except (Refused, StoreError) as error:
            self.tell(f"Not undone: {error}", "late")
            return
        self.shop_changed()
        self.tell(f"Undone: {change.why}", "good")

    async def action_back(self) -> None:
        """Go back: out of what one is in here, else to the place before."""
        if (place := self.place_in_front()) is not None and place.go_back():
            return
        if self.trail:
            name = self.trail.pop()
            self.go(name)
            self.trail = [p for p in self.trail if p != name]
            if self.trail and self.trail[-1] == name:
                self.trail.pop()

    def action_leave(self) -> None:
        """Leave the board; a half-typed intake is written to the last letter."""
        for place in self._places.values():
            if place.is_mounted:
                place.keep_draft()
        self.exit()

    def action_help_quit(self) -> None:
        """Ctrl+C does not throw work away."""
        self.tell("Ctrl+Q leaves the board; everything saved is kept", "wait")
