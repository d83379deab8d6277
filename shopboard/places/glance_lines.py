"""The shop on one screen of text, and the same as data: the Floor, what is late and why, calls to make."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from shopboard.records import Job

from . import plan_lines
from .floor_lines import Floor, at_risk, bay_lines, calls_to_make, facts, late_jobs, waiting_lines
from .job_words import likely_words, machine_words, reason_words, spare_words
from .lines import BLANK, Line, cell, line, share, wrapped
from .office_lines import late_because, what_to_say

if TYPE_CHECKING:
    from .glance_plan import How


def glance_lines(floor: Floor, width: int, how: How | None = None) -> list[Line]:
    """Heading, bays, what waits, late, at risk, calls, and by which plan; `how` says where that comes from."""
    now = floor.now.astimezone(floor.zone)
    rows = [line(None, (cell(f"{floor.state.settings.name}   {now:%a %d %b %H:%M}   {facts(floor)}", width), "strong"))]
    rows += [*bay_lines(floor, width), BLANK, *waiting_lines(floor, width)]
    if late := late_jobs(floor):
        rows += [BLANK, line(None, ("late, or cannot be on time", "strong"))]
        rows += [_row(job, floor, width) for job in late]
    if risky := at_risk(floor):
        level = share(floor.state.settings.promise_probability)
        rows += [BLANK, line(None, (f"at risk: less sure than {level} to be on time", "strong"))]
        rows += [_row(job, floor, width) for job in risky]
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
    return [*rows, *_by_which_plan(floor, how, width)]


def _row(job: Job, floor: Floor, width: int) -> Line:
    words, _ = spare_words(floor.ahead[job.id])
    sure = plan_lines.chance(floor.planned, job)
    told = f"{words.removesuffix(' late')} {share(sure):>5}" if sure is not None else words
    why = late_because(floor, job).cell(max(10, width - 57))
    return line(None, cell(job.tag, 8), cell(machine_words(floor.state, job), 34) + " ", why, cell(told, 14, ">"))


def _by_which_plan(floor: Floor, how: How | None, width: int) -> list[Line]:
    if floor.planned is None or how is None:
        return []
    words = (
        "by a plan made just now from the book's times; `shopboard plan` takes longer and says how sure each date is"
    )
    if how == "kept":
        words = f"by the board's plan of {floor.planned.at.astimezone(floor.zone):%H:%M}"
    return [BLANK, *wrapped(f"late and spare: {words}", width, "soft")]


def glance_data(floor: Floor, how: How | None = None) -> dict[str, Any]:
    """What `glance --json` prints. Moments are ISO 8601 in UTC; what is not known or not there is null.

    - `shop`: its name; `at`: the moment of the glance; `seq`: the number of the last change in it
    - `plan`: by which plan the rest goes, with `at` (moment) and `how` ("kept": the one a board shows, "quick": made
      just now from the book's times, without saying how sure dates are)
    - `bays`: one for each bay, with `bay` (id), `name` and `job` (the tag of the machine in it)
    - `jobs`: one for each machine that stands here, with `job` (tag), `machine` (model and customer), `complaint` (in
      the customer's words), `stage`, `since` (when it came into that stage), `bay` and `person` (ids), `likely` (the
      cause found or likely, in words), `waits` (what for, in words), `promise` (moment), `spare_days` (working days
      to spare before the promise, negative when too late), `ready` (moment it is done by the plan), `on_time`
      (probability to keep the promise), `minutes_left` (work left) and `late_because` (in words)
    - `calls`: one for each customer to ring, with `job` (tag) and `say` (what to tell)
    """
    state = floor.state
    late = {job.id: str(late_because(floor, job)) for job in late_jobs(floor)}
    return {
        "shop": state.settings.name,
        "at": floor.now,
        "seq": state.seq,
        "plan": {"at": floor.planned.at, "how": how} if floor.planned is not None and how is not None else None,
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
        "ready": floor.planned.ready(job.id) if floor.planned is not None else None,
        "on_time": plan_lines.chance(floor.planned, job),
        "minutes_left": ahead.minutes,
        "late_because": late,
    }
