"""The shop on one screen of text, and the same as data: the Floor, what is late and why, calls to make."""

from __future__ import annotations

from typing import Any

from shopboard.records import Job

from .floor_lines import Floor, bay_lines, calls_to_make, facts, late_jobs, waiting_lines
from .job_words import Words, likely_words, machine_words, reason_words
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


def _row(job: Job, why: Words, floor: Floor, width: int) -> Line:
    return line(None, cell(job.tag, 8), cell(machine_words(floor.state, job), 34) + " ", why.cell(max(10, width - 43)))


def glance_data(floor: Floor) -> dict[str, Any]:
    """What `glance --json` prints. Moments are ISO 8601 in UTC; what is not known or not there is null.

    - `shop`: its name; `at`: the moment of the glance; `seq`: the number of the last change in it
    - `bays`: one for each bay, with `bay` (id), `name` and `job` (the tag of the machine in it)
    - `jobs`: one for each machine that stands here, with `job` (tag), `machine` (model and customer), `complaint` (in
      the customer's words), `stage`, `since` (when it came into that stage), `bay` and `person` (ids), `likely` (the
      cause found or likely, in words), `waits` (what for, in words), `promise` (moment), `spare_days` (working days
      to spare before the promise, negative when too late), `minutes_left` (work left) and `late_because` (in words)
    - `calls`: one for each customer to ring, with `job` (tag) and `say` (what to tell)
    """
    state = floor.state
    late = {job.id: str(late_because(floor, job)) for job in late_jobs(floor)}
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
        "likely": str(likely_words(job)),
        "waits": str(reason_words(floor.state, job, floor.now, floor.zone)),
        "promise": job.promise,
        "spare_days": ahead.spare,
        "minutes_left": ahead.minutes,
        "late_because": late,
    }
