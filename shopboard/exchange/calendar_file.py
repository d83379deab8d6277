"""Promised dates as iCalendar (RFC 5545), one event a job, at the clock of the shop's zone."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

from shopboard.records import Job, ShopState, visible

if TYPE_CHECKING:
    from icalendar import Event


def promises(state: ShopState, now: datetime) -> bytes:
    """The promises of all open jobs, soonest first. A job's event keeps its UID from one export to the next, so that a
    calendar moves it and does not show it twice."""
    from icalendar import Calendar

    calendar = Calendar()
    calendar.add("prodid", "-//shopboard//promises//EN")
    calendar.add("version", "2.0")
    calendar.add("method", "PUBLISH")
    calendar.add("x-wr-calname", visible(f"{state.settings.name}: promised"))
    zone = ZoneInfo(state.settings.zone)
    promised = [job for job in state.jobs.values() if job.promise is not None and not job.stage.closed]
    for job in sorted(promised, key=lambda job: (job.promise, job.id)):
        calendar.add_component(_event(state, job, zone, now))
    days = [job.promise.date() for job in promised if job.promise]
    if days:  # the zone's changes of the years that matter, not of all time
        around = timedelta(days=366)
        calendar.add_missing_timezones(first_date=min(days) - around, last_date=max(days) + around)
    told: bytes = calendar.to_ical()
    return told


def uid(job: Job) -> str:
    """The event's name for ever: when the machine came and its tag, which no other job of any shop shares but by
    the rarest chance."""
    return f"{job.arrived.astimezone(UTC):%Y%m%dT%H%M%S%fZ}-{job.id}@shopboard.invalid"


def _event(state: ShopState, job: Job, zone: ZoneInfo, now: datetime) -> Event:
    from icalendar import Event

    assert job.promise is not None
    customer, machine = state.customers.get(job.customer), state.machines.get(job.machine)
    model = state.models.get(machine.model) if machine else None
    what = model.name if model else machine.model if machine else "machine"
    event = Event()
    event.add("uid", uid(job))
    event.add("dtstamp", now.astimezone(UTC))
    event.add("dtstart", job.promise.astimezone(zone))
    event.add("summary", visible(f"{job.tag} promised: {what}{f' of {customer.name}' if customer else ''}"))
    event.add("description", visible(f"{job.stage}: {job.complaint}", lines=True))
    event.add("transp", "TRANSPARENT")
    return event
