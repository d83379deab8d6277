"""The words the places use for a job: whose machine, what it waits for, how it stands with its promise."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import NamedTuple
from zoneinfo import ZoneInfo

from rich.cells import cell_len

from shopboard.planning.outlook import Outlook
from shopboard.records import ClosedJob, Job, PartLine, PartState, ShopState, Stage

from .lines import Role, cell, share

#: Stages in the order the Floor lists what waits, with the heading over them.
WAITING: tuple[tuple[Stage, str], ...] = (
    (Stage.ARRIVED, "arrived"),
    (Stage.DIAGNOSED, "being diagnosed, not in a bay"),
    (Stage.READY, "ready for a bay"),
    (Stage.REPAIR, "in repair, not in a bay"),
    (Stage.PARTS, "waiting for parts"),
    (Stage.APPROVAL, "waiting for approval"),
    (Stage.ROAD_TEST, "road test"),
    (Stage.COLLECT, "ready to collect"),
    (Stage.DECLINED, "declined, still standing here"),
)

NOT_HERE = (PartState.NEEDED, PartState.ORDERED, PartState.PARTLY_RECEIVED, PartState.BACK_ORDERED)


def machine_words(state: ShopState, job: Job | ClosedJob) -> str:
    """Model and whose machine: "Heron 22, Kestrel Vineyard"."""
    machine = state.machines.get(job.machine)
    model = state.models.get(machine.model) if machine else None
    customer = state.customers.get(job.customer)
    name = model.name if model else (machine.model if machine else "machine unknown")
    return f"{name}, {customer.name if customer else 'customer unknown'}"


class Words(NamedTuple):
    """A few words on a job; `tail` is what must stay readable when the rest is cut."""

    text: str
    tail: str = ""

    def __str__(self) -> str:
        return f"{self.text}{self.tail}"

    def cell(self, width: int) -> str:
        """The words on `width` cells, the tail whole."""
        room = max(0, width - cell_len(self.tail))
        return cell(str(self), width) if cell_len(str(self)) <= width else cell(self.text, room) + self.tail


def likely_words(job: Job) -> Words:
    """What is found, else the likeliest cause with its probability, else what the customer said."""
    if job.findings:
        finding = job.findings[-1]
        return Words(finding.text or finding.cause.replace("-", " "))
    if job.likely:
        return Words(job.likely[0].name, f" {share(job.likely[0].probability)}")
    return Words(job.complaint)


def work_words(job: Job) -> Words:
    """What is being done, else what is likely."""
    todo = [op for op in job.operations if not op.done]
    return Words(todo[0].name) if todo else likely_words(job)


def awaited(state: ShopState, job: Job) -> list[PartLine]:
    """The part lines of a job that are not here yet, the latest expected first; what lies free in a bin is here."""
    lines = [part for part in state.parts_of(job.id) if part.state in NOT_HERE]
    lines = [part for part in lines if part.state is not PartState.NEEDED or not state.lies_here(part)]
    return sorted(lines, key=lambda part: (part.expected is None, part.expected), reverse=True)


def day_words(moment: datetime | None, now: datetime, zone: ZoneInfo) -> str:
    """A day near now by name ("Wed"), further off by date ("3 Dec"); "–" for none."""
    if moment is None:
        return "–"
    day, today = moment.astimezone(zone).date(), now.astimezone(zone).date()
    if day == today:
        return "today"
    if timedelta(0) < day - today < timedelta(days=7):
        return f"{day:%a}"
    return f"{day.day} {day:%b}" + (f" {day:%Y}" if abs((day - today).days) > 300 else "")


def ago_words(moment: datetime, now: datetime) -> str:
    """How long ago: "20 min", "3 h", "4 d".

    >>> from datetime import UTC
    >>> ago_words(datetime(2026, 1, 1, tzinfo=UTC), datetime(2026, 1, 1, 3, 10, tzinfo=UTC))
    '3 h'
    """
    minutes = max(0, int((now - moment).total_seconds() // 60))
    if minutes < 60:
        return f"{minutes} min"
    return f"{minutes // 60} h" if minutes < 48 * 60 else f"{minutes // (24 * 60)} d"


def spare_words(ahead: Outlook) -> tuple[str, Role]:
    """Days to spare before the promise, said so that it needs no colour."""
    if ahead.late:
        return "late", "late"
    if ahead.spare is None:
        return "no date", "soft"
    if ahead.spare < 0:
        return f"−{-ahead.spare} d late" if ahead.spare > -10 else f"−{-ahead.spare} d", "late"
    if ahead.parts_unknown:
        return "undated", "wait"
    return f"+{ahead.spare} d", "wait" if ahead.spare == 0 else ""


def reason_words(state: ShopState, job: Job, now: datetime, zone: ZoneInfo) -> Words:
    """What a job waits for or what is likely, as its row on the Floor says it; that work waits for the machine stands
    last."""
    words = _waits_for(state, job, now, zone)
    return Words(words.text, f"{words.tail}, down") if job.machine_down else words


def _waits_for(state: ShopState, job: Job, now: datetime, zone: ZoneInfo) -> Words:
    if job.stage is Stage.ARRIVED:
        said = likely_words(job)
        return said if job.machine_down else Words(said.text, f"{said.tail}, {ago_words(job.arrived, now)}")
    if job.stage is Stage.PARTS:
        return parts_words(awaited(state, job), now, zone)
    if job.stage is Stage.APPROVAL and job.approval is not None:
        calls = len(job.approval.calls)
        called = "not called" if not calls else "called once" if calls == 1 else f"called {calls} times"
        return Words(f"{job.approval.asked} asked", f", {called}")
    if job.stage is Stage.COLLECT:
        return Words(f"ready since {day_words(job.since, now, zone)}")
    if job.stage is Stage.DECLINED:
        return Words(job.declined_why or "declined")
    return work_words(job)


def parts_words(lines: list[PartLine], now: datetime, zone: ZoneInfo) -> Words:
    """The part that holds a job up longest: name, when due, how late."""
    if not lines:
        return Words("all parts here")
    part = lines[0]
    more = f" +{len(lines) - 1}" if len(lines) > 1 else ""
    if part.state is PartState.NEEDED:
        return Words(part.name, f" not ordered{more}")
    if part.expected is None:
        return Words(part.name, f" no date{more}")
    days = (now.astimezone(zone).date() - part.expected).days
    due = datetime(part.expected.year, part.expected.month, part.expected.day, tzinfo=zone)
    return Words(part.name, f" {days} d late{more}" if days > 0 else f" due {day_words(due, now, zone)}{more}")
