"""What the shop holds as tables with stable columns, for spreadsheets and other programs.

A column never changes its name or meaning; new ones come last. Days and times are those on the shop's wall.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from datetime import date, datetime
from decimal import Decimal
from zoneinfo import ZoneInfo

from shopboard.records import Customer, Duty, Job, Machine, PartLine, ShopState, tag

#: What may stand in a field; None where nothing does.
Value = str | float | Decimal | date | bool | None

COLUMNS: dict[str, tuple[str, ...]] = {
    "customers": ("id", "name", "phone", "address", "email", "note"),
    "machines": (
        "id", "customer", "phone", "model", "layout", "serial", "hours", "date read", "first seen", "used",
        "severe duty", "value", "note",
    ),
    "jobs": (
        "job", "stage", "since", "arrived", "promised", "customer", "phone", "model", "serial", "hours", "complaint",
        "symptoms", "likely cause", "probability", "bay", "person", "approved up to", "note",
    ),
    "parts": (
        "id", "job", "part number", "name", "quantity", "received", "state", "supplier", "price", "ordered", "expected",
        "order reference", "note",
    ),
    "closed": (
        "job", "stage", "date in", "date out", "customer", "phone", "model", "serial", "hours", "complaint", "cause",
        "correction", "minutes", "total", "paid", "note",
    ),
}  # fmt: skip

Rows = Iterator[tuple[Value, ...]]


class Tables:
    """The tables of one shop. `closed_jobs` gives its closed jobs whole."""

    def __init__(self, state: ShopState, closed_jobs: Iterable[tuple[Job, tuple[PartLine, ...]]]) -> None:
        self._state, self._closed, self._zone = state, closed_jobs, ZoneInfo(state.settings.zone)

    def rows(self, table: str) -> Rows:
        """The rows of a table, in the order of its ids, each with the columns of `COLUMNS`."""
        made: dict[str, Rows] = {
            "customers": self._customers(),
            "machines": self._machines(),
            "jobs": self._jobs(),
            "parts": self._parts(),
            "closed": self._closed_jobs(),
        }
        return made[table]

    def _wall(self, at: datetime | None) -> datetime | None:
        return at.astimezone(self._zone) if at else None

    def _day(self, at: datetime | None) -> date | None:
        return at.astimezone(self._zone).date() if at else None

    def _customers(self) -> Rows:
        for _, one in sorted(self._state.customers.items()):
            yield one.id, one.name, one.phone, one.address, one.email, one.note

    def _machines(self) -> Rows:
        for _, one in sorted(self._state.machines.items()):
            owner = self._owner(one.customer)
            last = one.readings[-1] if one.readings else None
            yield (
                one.id, owner.name, owner.phone, self._model(one), str(one.layout), one.serial,
                last.hours if last else None, self._wall(last.at) if last else None, self._day(one.first_seen),
                one.first_seen_used, one.duty is Duty.SEVERE, one.value, one.note,
            )  # fmt: skip

    def _owner(self, id: int) -> Customer:
        return self._state.customers.get(id) or Customer(id=id, name="")

    def _model(self, machine: Machine) -> str:
        model = self._state.models.get(machine.model)
        return model.name if model else machine.model

    def _whose(self, job: Job) -> tuple[str, str, str, str]:
        owner, machine = self._owner(job.customer), self._state.machines.get(job.machine)
        return owner.name, owner.phone, self._model(machine) if machine else "", machine.serial if machine else ""

    def _jobs(self) -> Rows:
        for _, job in sorted(self._state.jobs.items()):
            likely = job.likely[0] if job.likely else None
            yield (
                job.tag, str(job.stage), self._wall(job.since), self._wall(job.arrived), self._wall(job.promise),
                *self._whose(job), job.hours, job.complaint, " ".join(job.symptoms), likely.name if likely else "",
                likely.probability if likely else None, job.bay, job.person,
                job.approval.limit if job.approval else None, _notes(job),
            )  # fmt: skip

    def _parts(self) -> Rows:
        for _, line in sorted(self._state.parts.items()):
            yield (
                line.id, tag(line.job) if line.job else "", line.number, line.name, line.quantity, line.received,
                str(line.state), line.supplier, line.price, self._wall(line.ordered_at), line.expected,
                line.order_reference, line.note,
            )  # fmt: skip

    def _closed_jobs(self) -> Rows:
        for job, _ in sorted(self._closed, key=lambda whole: whole[0].id):
            found = next((one for one in job.findings if one.confirmed), job.findings[-1] if job.findings else None)
            cause = found.text if found and found.cause == "other" else found.cause if found else ""
            settled = job.settlement
            yield (
                job.tag, str(job.stage), self._wall(job.arrived), self._wall(job.closed_at or job.since),
                *self._whose(job), job.hours, job.complaint, cause, found.correction if found else "",
                sum(spell.minutes for spell in job.spent), settled.total if settled else None,
                settled.paid if settled else None, _notes(job),
            )  # fmt: skip


def _notes(job: Job) -> str:
    return "\n".join(note.text for note in job.notes)
