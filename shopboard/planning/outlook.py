"""What is still ahead of one job: minutes of work, when it could be done, days to spare before its promise.

A plain reckoning of one job alone, from now on; it does not yet know what else the bays and people must do.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime

from shopboard.estimate.labour import labour
from shopboard.records import Job, PartState, ShopState, Stage
from shopboard.trouble import Book

from .hours import OpenHours

#: Minutes set aside for finding the cause while it is not known, and for the road test (common practice, no source).
DIAGNOSIS_MINUTES, ROAD_TEST_MINUTES = 60.0, 20.0

_BEFORE_ROAD_TEST = frozenset(Stage) - {Stage.ROAD_TEST, Stage.COLLECT, Stage.COLLECTED, Stage.DECLINED}


@dataclass(frozen=True)
class Outlook:
    """`minutes` of work left, `parts_by` the last expected date of parts that are not here (None: none awaited),
    `parts_unknown` whether one of them has no date or is past it (nobody knows then), `ready` when the job alone could
    be done, `spare` working days from then to the promise (negative: too late; None: nothing promised), `late` whether
    the promise has passed."""

    minutes: float
    parts_by: date | None
    parts_unknown: bool
    ready: datetime
    spare: int | None
    late: bool


def minutes_left(job: Job, book: Book) -> float:
    """Minutes of work left on a job: operations not done, covers once, those off put back, the road test."""
    if job.stage not in _BEFORE_ROAD_TEST:
        return ROAD_TEST_MINUTES if job.stage is Stage.ROAD_TEST else 0.0
    todo = [op for op in job.operations if not op.done]
    if not job.operations:
        return DIAGNOSIS_MINUTES + ROAD_TEST_MINUTES
    known = [(op.minutes, [c for c in op.covers if c in book.covers]) for op in todo]
    work = labour(known, book.covers, job.covers_off).total
    back_on = sum(book.covers[c].on for c in job.covers_off if c in book.covers)
    return work + back_on + ROAD_TEST_MINUTES


def outlook(state: ShopState, job: Job, book: Book, now: datetime, hours: OpenHours) -> Outlook:
    """What is still ahead of a job, reckoned from `now` in the shop's working time."""
    here = (PartState.RECEIVED, PartState.FITTED, PartState.RETURNED)
    awaited = [line for line in state.parts_of(job.id) if line.state not in here]
    dates = [line.expected for line in awaited if line.expected is not None]
    zone = hours.zone
    today = now.astimezone(zone).date()
    parts_by = max(dates) if dates else None
    start = now
    if parts_by is not None and parts_by > today:
        start = datetime(parts_by.year, parts_by.month, parts_by.day, tzinfo=zone)
    minutes = minutes_left(job, book)
    ready = hours.after(start, minutes) if minutes else now
    spare = None
    if job.promise is not None:
        spare = hours.days_between(ready.astimezone(zone).date(), job.promise.astimezone(zone).date())
    return Outlook(
        minutes=minutes,
        parts_by=parts_by,
        parts_unknown=any(line.expected is None or line.expected < today for line in awaited),
        ready=ready,
        spare=spare,
        late=job.promise is not None and job.promise < now and job.stage is not Stage.COLLECT,
    )
