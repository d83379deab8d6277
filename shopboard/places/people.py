"""Who is at this terminal: choosing, PINs, and the lock that a setting or a key turns."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from time import monotonic
from typing import TYPE_CHECKING

from textual import events

from shopboard.records import Refused, Role, visible
from shopboard.store import StoreError
from shopboard.store.pins import SHORTEST, Pins

from .dialogs import ChooseDialog
from .help_lines import people_lines
from .planning_app import PlanningApp

if TYPE_CHECKING:
    from .dialogs.pin import LockScreen

#: How often it is looked whether the terminal was left alone, in seconds.
_LOOK = 1.0

_NEW_PIN = (
    f"At least {SHORTEST} characters. Left empty, you have no PIN. A PIN keeps others from signing as you at a "
    "terminal; it does not keep anybody from the files."
)


class PeopleApp(PlanningApp):
    """An app that knows who signs, asks their PIN and can be locked. `self.who` is "" while nobody signs."""

    def __init__(self, who: str, pins: Pins) -> None:
        super().__init__()
        self.who, self.pins = who, pins
        self._lock: LockScreen | None = None
        self._later: list[Callable[[], object]] = []
        self._touched = monotonic()
        self._touched_at: datetime | None = None

    def person_name(self) -> str:
        """The name of who signs changes on this terminal."""
        person = self.state.settings.person(self.who)
        return person.name if person else visible(self.who)

    def first_place(self) -> str:
        """Where the board opens: the Office for who owns the shop and mends nothing, else the Floor."""
        person = self.state.settings.person(self.who)
        roles = person.roles if person else ()
        return "office" if Role.OWNER in roles and Role.TECHNICIAN not in roles else "floor"

    # -- who -----------------------------------------------------------------------------------------------------

    def begin_with_somebody(self) -> None:
        """Ask who is here, or for the PIN of who was named when the board was opened."""
        self._touch()
        self.set_interval(_LOOK, self._look_at_idle)
        if not self.who:
            self.action_who()
        elif self._has_pin(self.who):
            self.action_lock()

    def action_who(self) -> None:
        """Ask who works at this terminal."""
        self.push_screen(ChooseDialog("Who is at this terminal?", people_lines(self.state)), self._chosen)

    def _chosen(self, who: str | None) -> None:
        if not who:
            self._nobody()
        elif who != self.who and self._has_pin(who):
            name = self._called(who)
            from .dialogs.pin import PinDialog

            dialog = PinDialog(f"{name}: your PIN", ["PIN"], lambda pin: self._try(who, pin))
            self.push_screen(dialog, lambda right: self._is(who) if right else self._nobody())
        else:
            self._is(who)

    def _is(self, who: str) -> None:
        self.who = who
        self.shop_changed()

    def _nobody(self) -> None:
        if not self.who:
            self.tell("nobody signs changes yet: press i and choose who you are", "wait")

    def _called(self, who: str) -> str:
        person = self.state.settings.person(who)
        return person.name if person else visible(who)

    def _has_pin(self, who: str) -> bool:
        try:
            return self.pins.has(who)
        except StoreError:
            return True  # a try then says in one line what is wrong with the file

    def _try(self, who: str, pin: str) -> str:
        try:
            self.pins.check(who, pin, self.now())
        except (Refused, StoreError) as error:
            return str(error)
        return ""

    # -- a new PIN -----------------------------------------------------------------------------------------------

    def action_pin(self) -> None:
        """Set, change or take away the PIN of who is here."""
        if self.state.settings.person(self.who) is None:
            self.tell("only who stands in shop.toml can have a PIN: press i and say who you are", "wait")
            return
        had = self._has_pin(self.who)
        questions = [*(["your PIN now"] if had else []), "new PIN", "once more"]
        from .dialogs.pin import PinDialog

        dialog = PinDialog(f"{self.person_name()}: a PIN", questions, self._set_pin, above=_NEW_PIN)
        self.push_screen(dialog, self._pin_told)

    def _set_pin(self, *typed: str) -> str:
        new, again = typed[-2:]
        if new != again:
            return "the two new ones differ: type them again"
        refusal = self._try(self.who, typed[0]) if len(typed) > 2 else ""
        if refusal:
            return refusal
        try:
            if new:
                self.pins.set(self.who, new)
            else:
                self.pins.clear(self.who)
        except (Refused, StoreError) as error:
            return str(error)
        return ""

    def _pin_told(self, done: bool | None) -> None:
        if done:
            self.tell("Your PIN is set" if self._has_pin(self.who) else "You have no PIN", "good")

    # -- the lock ------------------------------------------------------------------------------------------------

    @property
    def locked(self) -> bool:
        """Whether the terminal is locked."""
        return self._lock is not None

    def action_lock(self) -> None:
        """Cover everything until somebody who works here opens it; what is half typed stays under it."""
        if self.locked:
            return
        if not self.state.settings.people:
            self.tell("nobody is named in shop.toml, so nobody could open it again", "wait")
            return
        from .dialogs.pin import LockScreen

        self._lock = LockScreen(people_lines(self.state), self.who, self._has_pin, self._try)
        self.push_screen(self._lock, self._unlocked)

    def _unlocked(self, who: str | None) -> None:
        self._lock = None
        self._touch()
        if who:
            self._is(who)
        self.call_after_refresh(self._catch_up)

    def _catch_up(self) -> None:
        """Do what waited, without waiting for it: what closes a screen may not be awaited here."""
        later, self._later = self._later, []
        for act in later:
            act()

    def when_unlocked(self, act: Callable[[], object]) -> None:
        """Do this once the lock is off: under it nothing opens or closes."""
        self._later.append(act)

    def scanned(self, digits: str) -> None:
        """A scan opens nothing on a locked terminal."""
        if not self.locked:
            super().scanned(digits)

    async def on_event(self, event: events.Event) -> None:
        """Remember when somebody was last at the keys."""
        if isinstance(event, (events.Key, events.Paste, events.MouseEvent)):
            self._touch()
        await super().on_event(event)

    def _touch(self) -> None:
        self._touched, self._touched_at = monotonic(), self.now()

    def _look_at_idle(self) -> None:
        """Lock after the shop's setting. Two clocks are asked: one stands still while a machine sleeps, the other may
        be set."""
        minutes = self.state.settings.lock_minutes
        if not minutes or self.locked or self._touched_at is None:
            return
        alone = max(monotonic() - self._touched, (self.now() - self._touched_at).total_seconds())
        if alone >= minutes * 60:
            self.action_lock()
