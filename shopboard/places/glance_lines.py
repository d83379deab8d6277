"""The shop on one screen of text, and the same as data: the Floor, what is late and why, calls to make."""

from __future__ import annotations

from typing import Any

from shopboard.records import Job

from .floor_lines import Floor, bay_lines, calls_to_make, facts, late_jobs, waiting_lines
from .job_words import likely_words, machine_words, reason_words
from .lines import BLANK, Line, cell, line
from .office_lines import late_because, what_to_say


def glance_lines(floor: Floor, width: int) -> list[Line]:
    """Heading, bays, what waits, late, calls."""
    now = floor.now.astimezone(floor.zone)
    rows = [line(None, (cell(f"{floor.state.settings.name}   {now:%a %d %b %H:%M}   {facts(floor)}", width), "strong"))]
    rows += [*bay_lines(floor, width), BLANK, *waiting_lines(floor, width)]
    if late := late_jobs(floor):
        rows += [BLANK, line(None, ("late, or cannot be on time", "strong"))]
        rows += [_row(job, late_because(floor, job), floor, width) for job in late]
    if calls := calls_to_make(floor):
        rows += [BLANK, line(None, ("calls to make", "strong"))]
        for job in calls:
            customer = floor.state.customers.get(job.customer)
            who = f"{customer.name} {customer.phone}" if customer else "?"
            rows.append(
                line(
                    None,
                    cell(job.tag, 8),
                    cell(f"{who}: {what_to_say(floor.state, job, floor.now, floor.zone)}", width - 8),
                )
            )
    return rows


def _row(job: Job, why: str, floor: Floor, width: int) -> Line:
    return line(None, cell(job.tag, 8), cell(machine_words(floor.state, job), 34) + " ", cell(why, max(10, width - 43)))


def glance_data(floor: Floor) -> dict[str, Any]:
    """The glance as plain data, one stable schema: times in UTC, money as text, minutes and days as numbers."""
    state = floor.state
    late = {job.id: late_because(floor, job) for job in late_jobs(floor)}
    return {
        "shop": state.settings.name,
        "at": floor.now,
        "seq": state.seq,
        "bays": [
            {"bay": bay.id, "name": bay.name, "job": job.tag if (job := state.job_in_bay(bay.id)) else None}
            for bay in state.settings.bays
        ],
        "jobs": [_job(floor, job, late.get(job.id)) for job in floor.jobs],
        "calls": [
            {"job": job.tag, "say": what_to_say(state, job, floor.now, floor.zone)} for job in calls_to_make(floor)
        ],
    }


def _job(floor: Floor, job: Job, late: str | None) -> dict[str, Any]:
    ahead = floor.ahead[job.id]
    return {
        "job": job.tag,
        "machine": machine_words(floor.state, job),
        "complaint": job.complaint,
        "stage": job.stage.value,
        "since": job.since,
        "bay": job.bay or None,
        "person": job.person or None,
        "likely": likely_words(job),
        "waits": reason_words(floor.state, job, floor.now, floor.zone),
        "promise": job.promise,
        "spare_days": ahead.spare,
        "minutes_left": ahead.minutes,
        "late_because": late,
    }
