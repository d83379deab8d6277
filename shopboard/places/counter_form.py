"""The Counter's questions: who, which machine, hours, complaint, symptoms, what to ask now, promise and money."""

from __future__ import annotations

import re
from collections.abc import Sequence
from datetime import datetime
from decimal import Decimal
from zoneinfo import ZoneInfo

from shopboard import trouble
from shopboard.records import Customer, Machine, Payer, Refused, ShopState
from shopboard.shop.intake import Intake, NewCustomer, NewMachine, recent_job
from shopboard.trouble import Book, Check, suggest_symptoms

from .fields import (
    Field,
    Option,
    Values,
    many_of,
    moment_on,
    needed,
    read_day,
    read_money,
    read_number,
    reads,
    text_of,
)
from .form_parts import words
from .job_words import day_words
from .lines import Line, line, share, wrapped

_NEW = "new: "
_QUESTIONS = 3
_NUMBERED = re.compile(r"\((\d+)\)\s*$")
#: How alike (0 … 100) a name must be to be offered.
_ALIKE = 60.0


class CounterForm:
    """Builds the questions for one shop and reads the answers into an Intake."""

    def __init__(self, state: ShopState, book: Book, now: datetime, zone: ZoneInfo) -> None:
        self.state, self.book, self.now, self.zone = state, book, now, zone

    # -- the questions --------------------------------------------------------------------------------------------

    def fields(self) -> list[Field]:
        """All questions, in the order of the talk."""
        return [*self._who(), *self._machine(), *self._trouble(), *self._terms()]

    def _who(self) -> list[Field]:
        return [
            Field("who", "who", hint="name or phone", options=self._customers, check=needed("who brings it?")),
            Field("phone", "phone", hint="to call about the estimate", asked=self._new_customer),
        ]

    def _machine(self) -> list[Field]:
        return [
            Field(
                "machine",
                "machine",
                "choice",
                hint="theirs, or type a model",
                options=self._machines,
                check=self._machine_known,
                tells=self._machine_tells,
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
                options=words("the meter was replaced", "no: read it again"),
                asked=self._meter_lower,
                check=self._meter_answered,
            ),
        ]

    def _trouble(self) -> list[Field]:
        return [
            Field(
                "complaint",
                "what it does",
                hint="in the customer's own words",
                check=needed("what does it do? write what the customer says"),
            ),
            Field(
                "symptoms",
                "symptoms",
                "many",
                hint="down, Enter ticks; Enter alone goes on",
                options=self._symptoms,
                tells=self._likely,
            ),
            *(self._ask(n) for n in range(_QUESTIONS)),
        ]

    def _ask(self, n: int) -> Field:
        def question(values: Values) -> str:
            asked = self.questions(values, n + 1)
            return asked[n].name if len(asked) > n else ""

        return Field(
            f"ask{n}", "and" if n else "ask", "choice", hint=question,
            options=lambda values, typed: self._outcomes(values, typed, n),
            asked=lambda values: len(self.questions(values, n + 1)) > n,
            tells=self._likely,
        )  # fmt: skip

    def _terms(self) -> list[Field]:
        today = self.now.astimezone(self.zone).date()
        decimals = self.state.settings.decimals
        money = reads(lambda t: read_money(t, "sum before a call", decimals))
        return [
            Field("promise", "promised for", hint="fri, tomorrow, +3, 2026-11-27; blank: none",
                  check=reads(lambda t: read_day(t, "promised for", today)), tells=self._likely),
            Field("spend", "before a call", hint="what may be spent, such as 150", check=money),
            Field("payer", "who pays", "choice", options=words(*(p.value for p in Payer)), start=Payer.CUSTOMER.value),
            Field("order", "their order no.", hint="the customer's own number, if any"),
            Field("down", "machine down?", "choice", options=words("no", "yes, work waits for it"), start="no"),
            Field("condition", "condition", hint="dents, leaks, fuel, what is missing"),
            Field("keys", "keys", hint="how many, where they hang"),
            Field("attachments", "attachments", hint="deck, loader, blade that came with it"),
        ]  # fmt: skip

    # -- who ------------------------------------------------------------------------------------------------------

    def _customers(self, _values: Values, typed: str) -> Sequence[Option]:
        if not typed.strip():
            return ()
        alike = sorted(((self._likeness(c, typed), c) for c in self.state.customers.values()), key=lambda p: -p[0])
        known = [
            Option(_customer_key(c), c.name, f"{c.phone}  {c.address}") for score, c in alike[:5] if score >= _ALIKE
        ]
        return [*known, Option(typed.strip(), typed.strip(), "a new customer")]

    @staticmethod
    def _likeness(customer: Customer, typed: str) -> float:
        from rapidfuzz import fuzz, utils  # only once somebody types a name

        digits = "".join(c for c in typed if c.isdigit())
        phone = "".join(c for c in customer.phone if c.isdigit())
        if len(digits) >= 3 and digits in phone:
            return 100.0
        name, wanted = utils.default_process(customer.name), utils.default_process(typed)
        if not wanted:
            return 0.0
        start = 100.0 if any(word.startswith(wanted) for word in name.split()) or name.startswith(wanted) else 0.0
        return max(start, fuzz.WRatio(name, wanted) if len(wanted) > 2 else 0.0)

    def customer(self, text: str) -> Customer | None:
        """The known customer that the text names by its number in brackets."""
        found = _NUMBERED.search(text)
        customer = self.state.customers.get(int(found[1])) if found else None
        return customer if customer and _customer_key(customer) == text.strip() else None

    def _new_customer(self, values: Values) -> bool:
        who = text_of(values, "who")
        return bool(who) and self.customer(who) is None

    # -- which machine --------------------------------------------------------------------------------------------

    def _machines(self, values: Values, typed: str) -> Sequence[Option]:
        customer = self.customer(text_of(values, "who"))
        wanted = typed.strip().lower()
        theirs = [m for m in self.state.machines.values() if customer and m.customer == customer.id]
        known = [Option(self._machine_key(m), self._machine_key(m), self._meter_words(m)) for m in theirs]
        new = [Option(_NEW + m.name, _NEW + m.name, m.layout.value) for m in self.state.models.values()]
        options = [*known, *new]
        if any(option.key.lower() == wanted for option in options):
            return [option for option in options if option.key.lower() == wanted]
        return [option for option in options if all(word in option.label.lower() for word in wanted.split())]

    def _machine_key(self, machine: Machine) -> str:
        model = self.state.models.get(machine.model)
        return f"{model.name if model else machine.model} {machine.serial} ({machine.id})".replace("  ", " ")

    def _meter_words(self, machine: Machine) -> str:
        meter = machine.meter()
        return f"last {meter:,.0f} h" if meter is not None else "meter never read"

    def machine(self, values: Values) -> Machine | None:
        """The known machine chosen."""
        text = text_of(values, "machine")
        found = _NUMBERED.search(text)
        machine = self.state.machines.get(int(found[1])) if found else None
        return machine if machine and self._machine_key(machine) == text else None

    def _new_machine(self, values: Values) -> bool:
        return text_of(values, "machine").startswith(_NEW)

    def _model_id(self, values: Values) -> str | None:
        name = text_of(values, "machine").removeprefix(_NEW).strip().lower()
        return next((m.id for m in self.state.models.values() if m.name.lower() == name), None)

    def _machine_known(self, typed: str, values: Values) -> str:
        if self.machine(values) is not None or (typed.startswith(_NEW) and self._model_id(values)):
            return ""
        if not self.state.models:
            return "no model is known yet: add it to models.toml first"
        return "which machine? choose one of theirs, or “new:” and a model of the list (add a model in models.toml)"

    def layout(self, values: Values) -> str | None:
        """The layout of the machine chosen."""
        machine = self.machine(values)
        if machine is not None:
            return machine.layout.value
        model = self.state.models.get(self._model_id(values) or "")
        return model.layout.value if model else None

    def _machine_tells(self, values: Values, width: int) -> Sequence[Line]:
        machine = self.machine(values)
        if machine is None:
            return ()
        rows: list[Line] = []
        here = next((j for j in self.state.jobs.values() if j.machine == machine.id), None)
        if here is not None:
            rows += wrapped(f"  it stands here already as {here.tag}, {here.stage}", width, "late")
        recent = recent_job(self.state, machine.id, self.now)
        if recent is not None:
            days = (self.now - recent.closed_at).days
            rows += wrapped(f"  COMEBACK? left {days} days ago after: {recent.complaint}", width, "late")
        past = [c for c in self.state.closed.values() if c.machine == machine.id]
        for closed in past[-3:][::-1]:
            causes = ", ".join(self.book.causes[c].name if c in self.book.causes else c for c in closed.causes)
            rows += wrapped(
                f"  {day_words(closed.closed_at, self.now, self.zone)}: {causes or closed.complaint}", width, "soft"
            )
        return rows

    def _hours_tell(self, values: Values, width: int) -> Sequence[Line]:
        machine = self.machine(values)
        if machine is None or not machine.readings:
            return ()
        last = machine.readings[-1]
        return wrapped(f"  last {last.hours:,.0f} h, {day_words(last.at, self.now, self.zone)}", width, "soft")

    def _hours(self, values: Values) -> float | None:
        typed = text_of(values, "hours")
        try:
            return read_number(typed, "hour meter", "h") if typed else None
        except ValueError:
            return None

    def _meter_lower(self, values: Values) -> bool:
        machine, hours = self.machine(values), self._hours(values)
        meter = machine.meter() if machine else None
        return hours is not None and meter is not None and hours < meter

    @staticmethod
    def _meter_answered(typed: str, _values: Values) -> str:
        if typed == "the meter was replaced":
            return ""
        return "it shows less than last time: read it again, or say that the meter was replaced"

    # -- what it does ---------------------------------------------------------------------------------------------

    def _symptoms(self, values: Values, typed: str) -> Sequence[Option]:
        layout = self.layout(values)
        known = {k: s for k, s in self.book.symptoms.items() if layout is None or layout in s.layouts}
        ticked = [k for k in many_of(values, "symptoms") if k in self.book.symptoms]
        suggested = [k for k, _ in suggest_symptoms(self.book, text_of(values, "complaint")) if k in known]
        if typed.strip():
            words = typed.lower().split()
            order = [k for k, s in known.items() if all(w in s.name.lower() for w in words)]
            order += [k for k, _ in suggest_symptoms(self.book, typed) if k in known]
        else:
            order = [*ticked, *suggested, *known]
        return [
            Option(k, self.book.symptoms[k].name, "from what was said" if k in suggested else "")
            for k in dict.fromkeys(order)
        ]

    def questions(self, values: Values, most: int = _QUESTIONS) -> list[Check]:
        """The questions worth asking now, each the best given the answers to those before."""
        layout, symptoms = self.layout(values), many_of(values, "symptoms")
        asked: list[Check] = []
        if layout is None or not symptoms:
            return asked
        for n in range(most):
            found = self._best_question(layout, symptoms, values, asked)
            if found is None or (n and not text_of(values, f"ask{n - 1}")):
                break
            asked.append(found)
        return asked

    def _best_question(
        self, layout: str, symptoms: tuple[str, ...], values: Values, asked: list[Check]
    ) -> Check | None:
        answers = tuple(self._answers(values, asked))
        skip = {check.id for check in asked}
        seen = trouble.Evidence(symptoms, answers)
        best = trouble.next_checks(self.book, layout, seen, limit=60, at="counter")
        ids = [c.check for c in best if c.where == "counter"]
        ids += [c for s in symptoms if s in self.book.symptoms for c in self.book.symptoms[s].ask]
        for id in ids:
            check = self.book.checks.get(id)
            if check is not None and id not in skip and layout in check.layouts and check.where == "counter":
                return check
        return None

    def _outcomes(self, values: Values, typed: str, n: int) -> Sequence[Option]:
        asked = self.questions(values, n + 1)
        if len(asked) <= n:
            return ()
        names = [outcome.name for outcome in asked[n].outcomes.values()]
        options = [Option(name, name) for name in names] + [
            Option("unsure", "unsure"),
            Option("not asked", "not asked"),
        ]
        wanted = typed.strip().lower()
        narrowed = [o for o in options if wanted in o.label.lower()]
        return narrowed or options

    def _answers(self, values: Values, asked: Sequence[Check]) -> list[tuple[str, str]]:
        pairs = []
        for n, check in enumerate(asked):
            said = text_of(values, f"ask{n}")
            outcome = next((o.id for o in check.outcomes.values() if o.name == said), None)
            if outcome or said == "unsure":
                pairs.append((check.id, outcome or "unsure"))
        return pairs

    def answers(self, values: Values) -> tuple[tuple[str, str], ...]:
        """The answers given, as pairs of check and outcome."""
        return tuple(self._answers(values, self.questions(values)))

    def _likely(self, values: Values, width: int) -> Sequence[Line]:
        layout, symptoms = self.layout(values), many_of(values, "symptoms")
        if layout is None or not symptoms:
            return ()
        ranking = trouble.rank(self.book, layout, trouble.Evidence(symptoms, self.answers(values)))
        first = ",  ".join(f"{c.name} {share(c.probability)}" for c in ranking.causes[:3])
        rows = wrapped(f"  likely: {first},  none of these {share(ranking.none_of_these)}", width, "mark")
        for text in ranking.contradictions:
            rows += wrapped(f"  {text}", width, "wait")
        return rows

    def said_lines(self, values: Values, width: int) -> list[Line]:
        """For wide terminals: what the answers so far say."""
        rows = [line(None, ("first word", "strong")), *self._likely(values, width)]
        return [*rows, *self._machine_tells(values, width)]

    # -- the answers as an intake ---------------------------------------------------------------------------------

    def intake(self, values: Values) -> Intake:
        """The Intake that the answers make. Raises Refused when one cannot be read."""
        customer, machine = self.customer(text_of(values, "who")), self.machine(values)
        model = self._model_id(values)
        if machine is None and model is None:
            raise Refused("no machine chosen", "choose one of theirs, or “new:” and a model")
        try:
            return Intake(
                customer=customer.id
                if customer
                else NewCustomer(name=text_of(values, "who"), phone=text_of(values, "phone")),
                machine=machine.id if machine else NewMachine(model=model or "", serial=text_of(values, "serial")),
                hours=self._hours(values),
                new_meter=text_of(values, "meter") == "the meter was replaced",
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

    def _promise(self, values: Values) -> datetime | None:
        typed, today = text_of(values, "promise"), self.now.astimezone(self.zone).date()
        return moment_on(read_day(typed, "promised for", today), self.zone) if typed else None

    def _spend(self, values: Values) -> Decimal | None:
        typed = text_of(values, "spend")
        return read_money(typed, "sum before a call", self.state.settings.decimals) if typed else None


def _customer_key(customer: Customer) -> str:
    return f"{customer.name} ({customer.id})"
