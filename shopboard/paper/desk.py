"""What every paper is written from, and the words they share."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from zoneinfo import ZoneInfo

from shopboard.estimate import Graph, graph_of
from shopboard.estimate.of_job import rules_of
from shopboard.records import Customer, Finding, Job, Machine, PartLine, Refused, ShopState, tag
from shopboard.trouble import Book

from .blocks import Words

_MONTHS = ["Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"]

#: Said on every paper that tells somebody to do something.
MAKER_FIRST = (
    "The maker's service manual, the employer's lockout procedure, local codes and qualified people come before "
    "anything printed here."
)


@dataclass(frozen=True)
class Desk:
    """The shop as papers see it: its records, the trouble book, and the moment on its wall."""

    state: ShopState
    book: Book
    now: datetime

    @property
    def zone(self) -> ZoneInfo:
        """The shop's zone."""
        return ZoneInfo(self.state.settings.zone)

    def job(self, number: int) -> tuple[Job, tuple[PartLine, ...]]:
        """A job with its part lines, open or closed. Raises Refused if there never was one."""
        job = self.state.jobs.get(number)
        if job is not None:
            return job, tuple(self.state.parts_of(number))
        filed = self.state.load_closed(number)
        if filed is None:
            raise Refused(f"there is no {tag(number)} here", "look at the tag again")
        return filed

    def customer(self, job: Job) -> Customer:
        """Whose machine it is; a name that says so if the record is missing."""
        return self.state.customers.get(job.customer) or Customer(id=job.customer, name="customer unknown")

    def machine(self, job: Job) -> Machine | None:
        """The machine, None if its record is missing."""
        return self.state.machines.get(job.machine)

    def machine_words(self, job: Job) -> str:
        """Model and serial number."""
        machine = self.machine(job)
        if machine is None:
            return "machine unknown"
        model = self.state.models.get(machine.model)
        return " ".join(filter(None, (model.name if model else machine.model, machine.serial)))

    def graph(self, job: Job) -> Graph:
        """The covers of the job's machine."""
        machine = self.machine(job)
        return graph_of(self.book.covers, machine.layout.value if machine else "")

    def day(self, moment: datetime | date | None) -> str:
        """A day in words, "" for none."""
        if moment is None:
            return ""
        day = moment.astimezone(self.zone).date() if isinstance(moment, datetime) else moment
        return f"{day.day} {_MONTHS[day.month - 1]} {day.year}"

    def time(self, moment: datetime | None) -> str:
        """A day and time on the shop's wall, "" for none."""
        return f"{self.day(moment)}, {moment.astimezone(self.zone):%H:%M}" if moment else ""

    def person(self, id: str) -> str:
        """The name of somebody who works here, the signature itself for one who no longer does."""
        person = self.state.settings.person(id)
        return person.name if person else id

    def supplier(self, id: str) -> str:
        """The name of a supplier, its id for one no longer in shop.toml."""
        supplier = self.state.settings.supplier(id)
        return supplier.name if supplier else id

    def money(self, amount: Decimal) -> str:
        """A sum with its currency."""
        return rules_of(self.state.settings).words(amount)

    def facts(self, job: Job) -> tuple[tuple[str, str], ...]:
        """Who and which machine, as at the top of most papers."""
        customer = self.customer(job)
        return (
            ("customer", ", ".join(filter(None, (customer.name, customer.phone, customer.address)))),
            ("machine", self.machine_words(job)),
            ("hour meter", "" if job.hours is None else f"{job.hours:g} h"),
            ("arrived", self.time(job.arrived)),
            ("promised", self.time(job.promise)),
            ("who pays", f"{job.payer}{f', order {job.order_number}' if job.order_number else ''}"),
            ("old parts", "kept for the customer to see" if job.keep_old_parts else ""),
        )

    def foot(self, job: Job) -> str:
        """The foot of a paper on a job."""
        return f"{job.tag}  printed {self.time(self.now)}"

    def cause(self, finding: Finding) -> str:
        """A finding in words."""
        cause = self.book.causes.get(finding.cause)
        name = cause.name if cause else "" if finding.cause == "other" else finding.cause
        words = ": ".join(filter(None, (name, finding.text)))
        return f"{words} (proved by the repair)" if finding.confirmed else words

    def cautions(self, ids: Iterable[str]) -> tuple[Words, ...]:
        """The maker's manual first, then each caution once."""
        known = self.book.cautions
        first = known["manual-first"].text if "manual-first" in known else MAKER_FIRST
        texts = (first, *(known[id].text for id in ids if id in known))
        return tuple(Words(text, "caution", keep=True) for text in dict.fromkeys(texts))

    def terms(self) -> Words:
        """The shop's terms, subject to local law."""
        own = self.state.settings.terms.strip()
        return Words(f"{own}\nSubject to local law." if own else "Subject to local law.", "small")


def minutes(number: float) -> str:
    """Minutes as printed.

    >>> minutes(7.5), minutes(54.0)
    ('7.5 min', '54 min')
    """
    return f"{number:g} min"


def chance(share: float) -> str:
    """A probability as printed: whole per cent, "<1 %" and ">99 %" at the ends.

    >>> chance(0.618), chance(0.002), chance(0.999)
    ('62 %', '<1 %', '>99 %')
    """
    if 0 < share < 0.01:
        return "<1 %"
    return ">99 %" if 0.99 < share < 1 else f"{share * 100:.0f} %"
