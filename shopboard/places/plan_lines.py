"""What the plan adds to the places: pieces on the time line, who comes next, what a blocked bay costs, what changed,
how sure a promise is and what helps."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime, timedelta
from itertools import pairwise
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

from shopboard.planning.hours import OpenHours
from shopboard.planning.outlook import Outlook
from shopboard.records import Job, ShopState, Stage, tag

from .job_words import day_words
from .lines import Line, Role, line, share, wrapped

if TYPE_CHECKING:  # they bring what nothing loads before the first paint
    from shopboard.planning.tasks import Placed

    from .planned import Planned

#: A piece of a bay's row: from, until, whether it is work (or only standing there), and the number of its tag.
Piece = tuple[datetime, datetime, bool, str]
#: So many changes of the plan are told on the Floor, for so long.
TOLD, TOLD_FOR = 2, timedelta(minutes=15)


def by_plan(ahead: Outlook, job: Job, planned: Planned | None, hours: OpenHours) -> Outlook:
    """What is ahead of a job as the plan has it; the reckoning of the job alone where the plan does not know it."""
    ready = planned.ready(job.id) if planned else None
    if ready is None or job.stage is Stage.COLLECT or job.stage.closed:
        return ahead
    spare, late = None, ahead.late
    if job.promise is not None:
        spare = hours.days_between(ready.astimezone(hours.zone).date(), job.promise.astimezone(hours.zone).date())
        if ready <= job.promise:
            spare = max(spare, 0)
        elif spare >= 0:  # on the day that was promised, but hours too late
            late = True
    return replace(ahead, ready=ready, spare=spare, late=late, parts_unknown=False)


def pieces(planned: Planned, bay: str) -> list[Piece]:
    """The work planned in a bay."""
    return [
        (planned.start(one), planned.end(one), True, tag(one.task.job).removeprefix("T-"))
        for one in planned.plan.in_bay(bay)
    ]


def next_in(planned: Planned, state: ShopState, bay: str, now: datetime, zone: ZoneInfo) -> str:
    """Which job goes into a bay next, who does it and when; "" for none."""
    here = state.job_in_bay(bay)
    coming = (one for one in planned.plan.in_bay(bay) if here is None or one.task.job != here.id)
    placed = next(coming, None)
    if placed is None:
        return ""
    return f"next {tag(placed.task.job)} {first_name(state, placed.person)} {clock(planned.start(placed), now, zone)}"


def first_name(state: ShopState, person: str) -> str:
    """What people call somebody."""
    found = state.settings.person(person)
    return found.name.split()[0] if found else person


def clock(moment: datetime, now: datetime, zone: ZoneInfo) -> str:
    """A moment near now: the hour today, else the day with it: "13:00", "Thu 08:00", "3 Dec"."""
    local = moment.astimezone(zone)
    days = (local.date() - now.astimezone(zone).date()).days
    if days == 0:
        return "now" if moment <= now else f"{local:%H:%M}"
    return f"{local:%a %H:%M}" if 0 < days < 7 else f"{local.day} {local:%b}"


# -- a bay that a waiting machine keeps -------------------------------------------------------------------------------


def blocked(planned: Planned, state: ShopState, bay: str, now: datetime) -> tuple[float, Placed | None] | None:
    """What a machine that only waits in a bay costs: hours the bay could be used until work on it goes on, and the
    first planned work that could be in there and waits for a bay. None where the bay is not kept so, or nothing is
    lost."""
    job = state.job_in_bay(bay)
    if job is None or job.stage not in (Stage.PARTS, Stage.APPROVAL, Stage.COLLECT, Stage.DECLINED):
        return None
    calendar, now_slot = planned.plan.problem.calendar, planned.plan.problem.now
    own = [one for one in planned.plan.in_bay(bay) if one.task.job == job.id]
    until = own[0].start if own else min(calendar.end, _today_ends(planned))
    hours = (calendar.bays[bay] >> now_slot & ((1 << max(0, until - now_slot)) - 1)).bit_count() / 4
    return (hours, _waits_for(planned, state, bay, job, until)) if hours > 0 else None


def _today_ends(planned: Planned) -> int:
    span = planned.plan.problem.calendar.span_of(planned.plan.problem.now)
    return span.first + span.slots


def _waits_for(planned: Planned, state: ShopState, bay: str, job: Job, until: int) -> Placed | None:
    """The first work that could start in this bay before `until`, was ready earlier, and is planned elsewhere later."""
    found = state.settings.bay(bay)
    can = set(found.can) if found else set()
    for one in planned.plan.placed:
        task = one.task
        first = planned.plan.by_job[task.job][0] is one
        if task.job == job.id or not first or not task.needs_bay or task.start is not None or task.keeps_bay:
            continue
        if (task.capabilities or set()) <= can and max(task.earliest, planned.plan.problem.now) < min(one.start, until):
            return one
    return None


def blocked_line(planned: Planned, state: ShopState, bay: str, now: datetime, width: int) -> list[Line]:
    """A line under a bay that a waiting machine keeps."""
    cost = blocked(planned, state, bay, now)
    if cost is None:
        return []
    hours, waits = cost
    words = f"this bay stands idle {hours:.1f} h"
    if waits is not None:
        words += f"; {tag(waits.task.job)} could be in it now"
    return wrapped(words, width, "wait", indent=" " * 12)


# -- what changed -----------------------------------------------------------------------------------------------------


def changed_lines(changed: Sequence[str], width: int) -> list[Line]:
    """What a re-plan changed and why, in a few lines."""
    if not changed:
        return []
    rows = [line(None, ("the plan changed", "strong"))]
    for words in changed[:TOLD]:
        rows += wrapped(words, width, "wait", indent="  ")
    if len(changed) > TOLD:
        rows.append(line(None, (f"  and {len(changed) - TOLD} more: y tells all of it", "soft")))
    return rows


# -- how sure ---------------------------------------------------------------------------------------------------------


def chance(planned: Planned | None, job: Job) -> float | None:
    """The probability that a job is on time, where a promise can still be kept and it was drawn."""
    risk = planned.risks.get(job.id) if planned else None
    if risk is None or risk.on_time is None or planned is None or (job.promise and job.promise <= planned.at):
        return None
    return risk.on_time


def chance_words(probability: float, level: float) -> tuple[str, Role]:
    """A probability to be on time, with how it reads; never as much as `level` where it is less.

    >>> chance_words(0.797, 0.8), chance_words(0.8, 0.8)
    (('<80 %', 'wait'), ('80 %', ''))
    """
    said = share(probability)
    if probability < level and said == share(level):
        said = f"<{said}"
    return said, "" if probability >= level else "late" if probability < 0.5 else "wait"


def helps_words(planned: Planned | None, job: Job) -> str:
    """What would help a job most, with its chance then; "" where nothing was found."""
    found = planned.helps.get(job.id, ()) if planned else ()
    if not found:
        return ""
    best = found[0]
    costs = f", and others lose {best.others:.1f} of a job" if best.others >= 0.1 else ""
    return f"{best.words}: then {share(best.then)} on time{costs}"


def because(planned: Planned | None, state: ShopState, job: Job, now: datetime, zone: ZoneInfo) -> str:
    """Why a job is as late as it is in the plan: what it waits for, or who and where it waits for; "" if not known."""
    placed = planned.next_of(job.id) if planned else None
    if planned is None or placed is None:
        return ""
    steps = planned.plan.by_job[job.id]
    waits = next((one.task.waits_for for one in steps if one.task.waits_for), "")
    if waits:
        return waits
    for before, after in pairwise(steps):
        if after.task.lag > 0 and after.start >= before.end + after.task.lag:
            return f"a yes and parts till {day_words(planned.start(after), now, zone)}"
    if placed.start > max(placed.task.earliest, planned.plan.problem.now):
        return f"{first_name(state, placed.person)} has time {clock(planned.start(placed), now, zone)}"
    return ""
