"""The Counter's questions on who comes with which machine, found while one types."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from datetime import datetime
from zoneinfo import ZoneInfo

from shopboard.memory import IntakeWarning
from shopboard.records import Customer, Layout, Machine, ShopState
from shopboard.shop.intake import recent_job
from shopboard.trouble import Book

from . import fields
from .fields import Field, Option, Values, needed, read_number, reads, text_of
from .form_parts import words
from .job_words import day_words
from .lines import Line, wrapped

_NEW, _NOT_LISTED = "new: ", "not listed: "
REPLACED, CHANGED = "the meter was replaced", "yes, it changed hands"
_NUMBERED = re.compile(r"\((\d+)\)\s*$")
#: How alike (0 … 100) a name must be to be offered.
_ALIKE = 60.0
_ALIKE_MODEL = 65.0
#: So many components that fail early are told of one model.
_WARNED = 2


class WhoComes:
    """Questions and look-ups on customer and machine."""

    def __init__(self, state: ShopState, book: Book, now: datetime, zone: ZoneInfo) -> None:
        self.state, self.book, self.now, self.zone = state, book, now, zone
        #: What fails early on a model at an age [h], as far as closed jobs have been gone through.
        self.warnings_for: Callable[[str, float | None], Sequence[IntakeWarning]] = lambda model, hours: ()

    def who_fields(self) -> list[Field]:
        """Who brings it."""
        return [
            Field("who", "who", hint="name or phone", options=self._customers, check=needed("who brings it?")),
            Field("phone", "phone", hint="to call about the estimate", asked=self._new_customer),
        ]

    def machine_fields(self) -> list[Field]:
        """Which machine, and what its hour meter shows."""
        return [
            Field(
                "machine",
                "machine",
                "choice",
                hint="theirs, or type a model",
                options=self._machines,
                check=self._machine_known,
                tells=self.machine_tells,
            ),
            Field(
                "owner",
                "changed hands?",
                "choice",
                options=words(CHANGED, "no: choose another machine"),
                asked=self._new_owner,
                check=_says(CHANGED, "it belongs to another customer: say that it changed hands"),
            ),
            Field("serial", "serial", hint="from the plate; scan it or leave blank", asked=self._new_machine),
            Field(
                "hours",
                "hour meter",
                hint="such as 1412; blank if it cannot be read",
                check=reads(lambda t: read_number(t, "hour meter", "h")),
                tells=self._hours_tell,
            ),
            Field(
                "meter",
                "meter replaced?",
                "choice",
                options=words(REPLACED, "no: read it again"),
                asked=self._meter_lower,
                check=_says(
                    REPLACED, "it shows less than last time: read it again, or say that the meter was replaced"
                ),
            ),
        ]

    def _customers(self, _values: Values, typed: str) -> Sequence[Option]:
        if not typed.strip():
            return ()
        if (chosen := self.customer(typed)) is not None:
            return (_customer_option(chosen),)
        named = [c for c in self.state.customers.values() if self._named(c, typed)]
        known = [_customer_option(c) for c in sorted(named, key=lambda c: c.name)[:5]]
        alike = [_customer_option(c) for c in self._alike(typed) if c not in named]
        # Enter takes the first: a customer only where the words typed are theirs, else the new one; never a likeness.
        return [*known, Option(typed.strip(), typed.strip(), "a new customer"), *alike]

    @staticmethod
    def _named(customer: Customer, typed: str) -> bool:
        """Whether every word typed begins a word of the name, or the digits typed stand in the phone number."""
        digits = "".join(c for c in typed if c.isdigit())
        if len(digits) >= 3 and digits in "".join(c for c in customer.phone if c.isdigit()):
            return True
        name = customer.name.casefold().split()
        return all(any(word.startswith(part) for word in name) for part in typed.casefold().split())

    def _alike(self, typed: str) -> list[Customer]:
        """Customers whose names only look like what was typed, the likest first."""
        from rapidfuzz import fuzz, utils  # only once somebody types a name

        wanted = utils.default_process(typed)
        if len(wanted) <= 2:
            return []
        scores = [(fuzz.WRatio(utils.default_process(c.name), wanted), c) for c in self.state.customers.values()]
        likest = sorted((pair for pair in scores if pair[0] >= _ALIKE), key=lambda pair: -pair[0])
        return [customer for _, customer in likest[:3]]

    def customer(self, text: str) -> Customer | None:
        """The known customer that the text names by its number in brackets."""
        found = _NUMBERED.search(text)
        customer = self.state.customers.get(int(found[1])) if found else None
        return customer if customer and _customer_key(customer) == text.strip() else None

    def _new_customer(self, values: Values) -> bool:
        who = text_of(values, "who")
        return bool(who) and self.customer(who) is None

    def _machines(self, values: Values, typed: str) -> Sequence[Option]:
        customer = self.customer(text_of(values, "who"))
        wanted = typed.strip().lower()
        theirs = [m for m in self.state.machines.values() if customer and m.customer == customer.id]
        known = [Option(self._machine_key(m), self._machine_key(m), self._meter_words(m)) for m in theirs]
        if len(wanted) >= 3:
            others = (m for m in self.state.machines.values() if m not in theirs and wanted in m.serial.lower())
            known += [Option(self._machine_key(m), self._machine_key(m), self._owner_words(m)) for m in others]
        new = [Option(_NEW + m.name, _NEW + m.name, m.layout.value) for m in self.state.models.values()]
        options = [*known, *new, *self._not_listed(typed)]
        if any(option.key.lower() == wanted for option in options):
            return [option for option in options if option.key.lower() == wanted]
        found = [option for option in options if all(word in option.label.lower() for word in wanted.split())]
        return found if any(not option.waits for option in found) else [*self._alike_models(wanted), *found]

    def _alike_models(self, wanted: str) -> list[Option]:
        """Models whose names only look like what was typed, the likest first."""
        from rapidfuzz import fuzz  # only once somebody mistypes a model

        scores = [(fuzz.ratio(m.name.lower(), wanted), m) for m in self.state.models.values() if len(wanted) > 2]
        likest = sorted((pair for pair in scores if pair[0] >= _ALIKE_MODEL), key=lambda pair: -pair[0])
        return [Option(_NEW + m.name, _NEW + m.name, m.layout.value, waits=True) for _, m in likest[:3]]

    @staticmethod
    def _not_listed(typed: str) -> list[Option]:
        """For a model that the shop does not keep: its name as typed, and what is bolted to what."""
        model = typed.strip().removeprefix(_NOT_LISTED)
        model, comma, layout = model.rpartition(", ")
        model = model if comma and layout in tuple(Layout) else typed.strip().removeprefix(_NOT_LISTED)
        keys = [f"{_NOT_LISTED}{model}, {layout}" for layout in Layout] if len(model) >= 2 else []
        return [Option(key, key, waits=True) for key in keys]

    def unlisted(self, values: Values) -> tuple[str, Layout] | None:
        """Name and layout of a new machine's model that the shop does not keep."""
        text = text_of(values, "machine")
        model, _, layout = text.removeprefix(_NOT_LISTED).rpartition(", ")
        return (model, Layout(layout)) if text.startswith(_NOT_LISTED) and model and layout in tuple(Layout) else None

    def _machine_key(self, machine: Machine) -> str:
        model = self.state.models.get(machine.model)
        return f"{model.name if model else machine.model} {machine.serial} ({machine.id})".replace("  ", " ")

    def _owner_words(self, machine: Machine) -> str:
        owner = self.state.customers.get(machine.customer)
        return f"so far with {owner.name}" if owner else "owner unknown"

    def _new_owner(self, values: Values) -> bool:
        machine, customer = self.machine(values), self.customer(text_of(values, "who"))
        return machine is not None and (customer is None or machine.customer != customer.id)

    def _meter_words(self, machine: Machine) -> str:
        here = next((j for j in self.state.jobs.values() if j.machine == machine.id), None)
        if here is not None:
            return f"here already as {here.tag}"
        meter = machine.meter()
        return f"last {meter:,.0f} h" if meter is not None else "meter never read"

    def machine(self, values: Values) -> Machine | None:
        """The known machine chosen."""
        text = text_of(values, "machine")
        found = _NUMBERED.search(text)
        machine = self.state.machines.get(int(found[1])) if found else None
        return machine if machine and self._machine_key(machine) == text else None

    def _new_machine(self, values: Values) -> bool:
        return text_of(values, "machine").startswith((_NEW, _NOT_LISTED))

    def model_id(self, values: Values) -> str | None:
        """The model named for a new machine; None for one that is known, or while it is open."""
        name = text_of(values, "machine").removeprefix(_NEW).strip().lower()
        return next((m.id for m in self.state.models.values() if m.name.lower() == name), None)

    def _machine_known(self, typed: str, values: Values) -> str:
        if self.machine(values) or self.unlisted(values) or (typed.startswith(_NEW) and self.model_id(values)):
            return ""
        return "which machine? choose one of theirs, “new:” and a model, or type its model's name and choose the layout"

    def layout(self, values: Values) -> str | None:
        """The layout of the machine chosen."""
        machine = self.machine(values)
        if machine is not None:
            return machine.layout.value
        if (other := self.unlisted(values)) is not None:
            return other[1].value
        model = self.state.models.get(self.model_id(values) or "")
        return model.layout.value if model else None

    def machine_tells(self, values: Values, width: int) -> Sequence[Line]:
        """What the counter should know of this machine at once."""
        machine = self.machine(values)
        if machine is None:
            return self._early_tell(self.model_id(values) or "", self.hours_of(values), width)
        rows: list[Line] = []
        here = next((j for j in self.state.jobs.values() if j.machine == machine.id), None)
        if here is not None:
            rows += wrapped(f"it stands here already as {here.tag}, {here.stage}", width, "late", indent="    ")
        recent = recent_job(self.state, machine.id, self.now)
        if recent is not None:
            days = (self.now - recent.closed_at).days
            rows += wrapped(f"COMEBACK? left {days} days ago after: {recent.complaint}", width, "late", indent="    ")
        hours = self.hours_of(values)
        rows += self._early_tell(machine.model, hours if hours is not None else machine.age(), width)
        past = [c for c in self.state.closed.values() if c.machine == machine.id]
        for closed in past[-3:][::-1]:
            causes = ", ".join(self.book.causes[c].name if c in self.book.causes else c for c in closed.causes)
            when = day_words(closed.closed_at, self.now, self.zone)
            rows += wrapped(f"{when}: {causes or closed.complaint}", width, "soft", indent="    ")
        return rows

    def _early_tell(self, model: str, hours: float | None, width: int) -> list[Line]:
        """What fails early on a model, with figures, what to look at and its covers; nothing of models like others."""
        rows: list[Line] = []
        for warning in self.warnings_for(model, hours)[:_WARNED]:
            past = hours is not None and hours >= warning.early.before
            rest = "; this machine is past that age" if past else ""
            rows += wrapped(f"FAILS EARLY: {warning.said}{rest}", width, "late", indent="    ")
            rows += wrapped(warning.look_said, width, "late", indent="    ")
        return rows

    def _hours_tell(self, values: Values, width: int) -> Sequence[Line]:
        machine = self.machine(values)
        if machine is None or not machine.readings:
            return ()
        last = machine.readings[-1]
        when = day_words(last.at, self.now, self.zone)
        return wrapped(f"last {last.hours:,.0f} h, {when}", width, "soft", indent="    ")

    def hours_of(self, values: Values) -> float | None:
        """The hours typed; None while there is no number."""
        typed = text_of(values, "hours")
        try:
            return read_number(typed, "hour meter", "h") if typed else None
        except ValueError:
            return None

    def _meter_lower(self, values: Values) -> bool:
        machine, hours = self.machine(values), self.hours_of(values)
        meter = machine.meter() if machine else None
        return hours is not None and meter is not None and hours < meter


def _customer_option(customer: Customer) -> Option:
    return Option(_customer_key(customer), customer.name, f"{customer.phone}  {customer.address}")


def _customer_key(customer: Customer) -> str:
    return f"{customer.name} ({customer.id})"


def _says(answer: str, otherwise: str) -> fields.Check:
    """A check that exactly this was answered."""
    return lambda typed, _values: "" if typed == answer else otherwise
