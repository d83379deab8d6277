"""The Counter's question on the date: days that hold, and how surely, once it is known what the machine does."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from shopboard import trouble
from shopboard.records import Customer, Job, Layout, Likely, Machine, Payer, Table

from .counter_what import WhatItDoes
from .fields import Option, Values, many_of, text_of
from .lines import Line, line, share

if TYPE_CHECKING:
    from .planned import Offered

#: So many likely causes carry the draw of how long the repair takes.
_CAUSES = 6


class WhenItIsDone(WhatItDoes):
    """Offers days; `offered` is what was reckoned last, for the answers that `date_key` stood for then."""

    offered: Offered | None = None

    def date_key(self, values: Values) -> str:
        """What the days rest on; "" while too little is known."""
        layout, symptoms = self.layout(values), many_of(values, "symptoms")
        if layout is None or not symptoms:
            return ""
        return repr((layout, symptoms, self.answers(values), text_of(values, "down"), text_of(values, "payer")))

    def date_job(self, values: Values) -> tuple[Job, Machine]:
        """The job and machine as they would be taken in, as far as the plan needs them."""
        layout, now = self.layout(values) or "", self.now
        known = self.machine(values)
        machine = known or Machine(
            id=self.state.next_id(Table.MACHINES),
            customer=1,
            model=self.model_id(values) or "",
            layout=Layout(layout),
        )
        evidence = trouble.Evidence(many_of(values, "symptoms"), self.answers(values))
        ranking = trouble.rank(self.reckoned(values), layout, evidence)
        likely = [Likely(cause=c.id, name=c.name, probability=c.probability) for c in ranking.causes[:_CAUSES]]
        customer: Customer | None = self.customer(text_of(values, "who"))
        job = Job(
            id=self.state.next_id(Table.JOBS),
            customer=customer.id if customer else 0,
            machine=machine.id,
            arrived=now,
            since=now,
            complaint=text_of(values, "complaint"),
            likely=tuple(likely),
            payer=Payer(text_of(values, "payer") or Payer.CUSTOMER),
            machine_down=text_of(values, "down").startswith("yes"),
        )
        return job, machine

    def date_options(self, values: Values, typed: str) -> Sequence[Option]:
        """The days on offer."""
        found = self.offered
        if found is None or found.key != self.date_key(values):
            return ()
        options = [
            Option(
                offer.day.isoformat(),
                f"{offer.day:%a} {offer.day.day} {offer.day:%b}",
                f"holds with {share(offer.probability)}" + ("" if offer.probability >= found.level else ", a risk"),
                "" if offer.probability >= found.level else "wait",
                waits=True,
            )
            for offer in found.offers
        ]
        wanted = typed.strip().lower()
        return [o for o in options if wanted in o.key or wanted in o.label.lower()] if wanted else options

    def date_lines(self, values: Values, width: int) -> Sequence[Line]:
        """The first day that holds, in words; that it is being reckoned, or that none does."""
        key, found = self.date_key(values), self.offered
        if not key or found is None:
            return ()
        if found.key != key:
            return (line(None, ("a day that holds: being reckoned …", "soft")),)
        holds = next((offer for offer in found.offers if offer.probability >= found.level), None)
        if holds is None:
            return (line(None, ("no day of the calendar holds: promise none yet", "wait")),)
        words = f"{holds.day:%a} {holds.day.day} {holds.day:%b} holds with {share(holds.probability)}"
        return (line(None, (words, "good")),)
