"""The Counter's questions: who, which machine, hours, complaint, symptoms, what to ask now, promise and money."""

from __future__ import annotations

from datetime import datetime
from decimal import Decimal

from shopboard.records import Payer, Refused
from shopboard.shop.intake import Intake, NewCustomer, NewMachine

from .counter_dates import WhenItIsDone
from .counter_who import CHANGED, REPLACED
from .fields import Field, Values, many_of, moment_on, read_day, read_money, reads, text_of
from .form_parts import words
from .lines import Line, line


class CounterForm(WhenItIsDone):
    """Builds the questions for one shop and reads the answers into an Intake."""

    def fields(self) -> list[Field]:
        """All questions, in the order of the talk."""
        return [*self.who_fields(), *self.machine_fields(), *self.trouble_fields(), *self._terms()]

    def _terms(self) -> list[Field]:
        today = self.now.astimezone(self.zone).date()
        decimals = self.state.settings.decimals
        money = reads(lambda t: read_money(t, "sum before a call", decimals))
        return [
            Field("promise", "promised for", hint="fri, tomorrow, +3, 2026-11-27; blank: none",
                  check=reads(lambda t: read_day(t, "promised for", today)), options=self.date_options,
                  tells=self.date_tells, eager=False),
            Field("spend", "before a call", hint="what may be spent, such as 150", check=money),
            Field("payer", "who pays", "choice", options=words(*(p.value for p in Payer)), start=Payer.CUSTOMER.value),
            Field("order", "their order no.", hint="the customer's own number, if any"),
            Field("down", "machine down?", "choice", options=words("no", "yes, work waits for it"), start="no"),
            Field("condition", "condition", hint="dents, leaks, fuel, what is missing"),
            Field("keys", "keys", hint="how many, where they hang"),
            Field("attachments", "attachments", hint="deck, loader, blade that came with it"),
        ]  # fmt: skip

    def date_tells(self, values: Values, width: int) -> list[Line]:
        """What is said under the question for the date."""
        return [*self.date_lines(values, width), *self.likely_lines(values, width)]

    def said_lines(self, values: Values, width: int) -> list[Line]:
        """For wide terminals: what the answers so far say."""
        rows = [line(None, ("first word", "strong")), *self.date_tells(values, width)]
        return [*rows, *self.machine_tells(values, width)]

    def intake(self, values: Values) -> Intake:
        """The Intake that the answers make. Raises Refused when one cannot be read."""
        customer, machine = self.customer(text_of(values, "who")), self.machine(values)
        new = self._new(values)
        if machine is None and new is None:
            raise Refused("no machine chosen", "choose one of theirs, or “new:” and a model")
        try:
            return Intake(
                customer=customer.id
                if customer
                else NewCustomer(name=text_of(values, "who"), phone=text_of(values, "phone")),
                machine=machine.id if machine else new or 0,
                hours=self.hours_of(values),
                new_meter=text_of(values, "meter") == REPLACED,
                new_owner=text_of(values, "owner") == CHANGED,
                complaint=text_of(values, "complaint"),
                symptoms=many_of(values, "symptoms"),
                answers=self.answers(values),
                condition=text_of(values, "condition"),
                keys=text_of(values, "keys"),
                attachments=text_of(values, "attachments"),
                payer=Payer(text_of(values, "payer") or Payer.CUSTOMER),
                order_number=text_of(values, "order"),
                machine_down=text_of(values, "down").startswith("yes"),
                promise=self._promise(values),
                spend_before_call=self._spend(values),
            )
        except ValueError as error:
            raise Refused(str(error)) from None

    def _new(self, values: Values) -> NewMachine | None:
        serial, model, other = text_of(values, "serial"), self.model_id(values), self.unlisted(values)
        if other is not None:
            return NewMachine(model=other[0], layout=other[1], serial=serial)
        return NewMachine(model=model, serial=serial) if model else None

    def _promise(self, values: Values) -> datetime | None:
        typed, today = text_of(values, "promise"), self.now.astimezone(self.zone).date()
        return moment_on(read_day(typed, "promised for", today), self.zone) if typed else None

    def _spend(self, values: Values) -> Decimal | None:
        typed = text_of(values, "spend")
        return read_money(typed, "sum before a call", self.state.settings.decimals) if typed else None
