"""What the Floor says: one row a bay along the hours, and under it what waits, grouped by what it waits for."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

from shopboard.planning.closed_days import holidays_around, open_hours, until_words
from shopboard.planning.hours import OpenHours
from shopboard.planning.outlook import Outlook, outlook
from shopboard.records import Bay, Job, ShopState, Stage
from shopboard.trouble import Book

from . import floor_notes, plan_lines
from .job_words import WAITING, day_words, machine_words, reason_words, spare_words, work_words
from .lines import BLANK, Line, Role, Span, cell, line
from .timeline import Axis, axis, bay_bar, plan_bar, scale_line

if TYPE_CHECKING:  # it brings what nothing loads before the first paint
    from .planned import Planned

_BAY, _STATE, _PERSON, _PROMISE, _SPARE = 12, 11, 6, 8, 11


@dataclass(frozen=True)
class Floor:
    """The shop's open jobs with what is ahead of each, reckoned once for a whole drawing: by the plan where there is
    one (`planned`; `changed` says what it changed of late), else for each job alone."""

    state: ShopState
    now: datetime
    hours: OpenHours
    ahead: dict[int, Outlook]
    planned: Planned | None = None
    changed: tuple[str, ...] = ()

    @property
    def zone(self) -> ZoneInfo:
        """Where the shop's clock is read."""
        return self.hours.zone

    @property
    def jobs(self) -> Iterable[Job]:
        """Every machine that stands here."""
        return self.state.jobs.values()


def look(
    state: ShopState,
    book: Book,
    now: datetime,
    zone: ZoneInfo,
    planned: Planned | None = None,
    changed: tuple[str, ...] = (),
    holidays: Mapping[date, str] | None = None,
) -> Floor:
    """Reckon what is ahead of every open job; `holidays` are those known (None: they are looked up, which takes a
    tenth of a second the first time)."""
    if holidays is None:
        holidays = holidays_around(state.settings, now.astimezone(zone).date())
    hours = open_hours(state.settings, zone, holidays, state.closures.values())
    alone = {job.id: outlook(state, job, book, now, hours) for job in state.jobs.values()}
    ahead = {id: plan_lines.by_plan(one, state.jobs[id], planned, hours) for id, one in alone.items()}
    return Floor(state, now, hours, ahead, planned, changed)


def late_jobs(floor: Floor) -> list[Job]:
    """Jobs past their promise, or that cannot make it any more, the longest promised first."""
    late = [
        j for j in floor.jobs if not j.stage.closed and j.stage is not Stage.COLLECT and _is_late(floor.ahead[j.id])
    ]
    return sorted(late, key=lambda job: (job.promise is None, job.promise))


def _is_late(ahead: Outlook) -> bool:
    return ahead.late or (ahead.spare is not None and ahead.spare < 0)


def at_risk(floor: Floor) -> list[Job]:
    """Jobs that the plan has on time but not as surely as the shop wants, the least sure first."""
    late, level = {job.id for job in late_jobs(floor)}, floor.state.settings.promise_probability
    sure = {job.id: plan_lines.chance(floor.planned, job) for job in floor.jobs if job.id not in late}
    risky = sorted((p, id) for id, p in sure.items() if p is not None and p < level)
    return [floor.state.jobs[id] for _, id in risky]


def calls_to_make(floor: Floor) -> list[Job]:
    """Jobs whose customer waits to hear from the shop: an estimate to say, or a machine to collect."""
    wanted = (Stage.APPROVAL, Stage.COLLECT)
    return sorted((job for job in floor.jobs if job.stage in wanted), key=lambda job: job.since)


def facts(floor: Floor) -> str:
    """The Floor in one line: bays in use, late, calls to make."""
    bays = floor.state.settings.bays
    used = sum(1 for bay in bays if floor.state.job_in_bay(bay.id) is not None)
    return f"bays {used} of {len(bays)}    late {len(late_jobs(floor))}    to call {len(calls_to_make(floor))}"


def floor_lines(floor: Floor, width: int) -> list[Line]:
    """Bays along the hours, then what waits."""
    changed = plan_lines.changed_lines(floor.changed, width)
    return [*bay_lines(floor, width), *([BLANK, *changed] if changed else []), BLANK, *waiting_lines(floor, width)]


# -- bays -----------------------------------------------------------------------------------------------------------


def bay_lines(floor: Floor, width: int) -> list[Line]:
    """One row a bay."""
    settings = floor.state.settings
    if not settings.bays:
        return [line(None, ("no bays yet: name them in shop.toml under [[bay]]", "wait"))]
    job_room = 24 if width < 110 else 58
    track = axis(floor.hours, floor.now, max(12, width - _BAY - job_room - _STATE - _PERSON - 3))
    rows = [scale_line(track, _BAY)]
    for bay in settings.bays:
        rows.append(_bay_line(floor, bay, track, job_room))
        if floor.planned is not None and floor.planned.facts:
            rows += plan_lines.blocked_line(floor.planned, floor.state, bay.id, floor.now, width)
    return [*rows, *floor_notes.day_lines(floor, track, width), *floor_notes.unplanned_lines(floor, width)]


def _bay_line(floor: Floor, bay: Bay, track: Axis, job_room: int) -> Line:
    name = Span(cell(bay.name, _BAY - 1) + " ")
    job = floor.state.job_in_bay(bay.id)
    if job is None:
        room = job_room + _STATE + _PERSON + 2
        return line(
            f"bay:{bay.id}", name, *_bar(floor, bay, None, track), " ", (cell(free_words(floor, bay), room), "soft")
        )
    ahead = floor.ahead[job.id]
    bar = _bar(floor, bay, job, track)
    person = floor.state.settings.person(job.person)
    words, role = bay_state(job, ahead)
    if floor.state.down(bay.id, floor.now) is not None:
        words, role = "bay is down", "late"
    return line(
        str(job.id),
        name,
        *bar,
        " ",
        *_bay_job(floor, job, job_room),
        " ",
        (cell(person.name.split()[0] if person else "–", _PERSON), "soft"),
        " ",
        (cell(words, _STATE), role),
    )


def _bar(floor: Floor, bay: Bay, job: Job | None, track: Axis) -> list[Span]:
    """The bay's row along the hours: the plan where there is one, else the job in it alone."""
    now, planned = floor.now, floor.planned
    if planned is None:
        if job is None:
            return bay_bar(track, now, now, now, now)
        return bay_bar(track, job.bay_since or job.since, _works_until(floor, job), _stands_until(floor, job), now)
    pieces = plan_lines.pieces(planned, bay.id)
    if job is not None:
        own = planned.next_of(job.id)
        goes_on = planned.start(own) if own is not None and own.bay == bay.id else now
        begun = job.bay_since or job.since
        pieces += [(begun, max(goes_on, now), job.stage in (Stage.REPAIR, Stage.DIAGNOSED) and goes_on <= now, "")]
    return plan_bar(track, pieces, now)


def free_words(floor: Floor, bay: Bay) -> str:
    """What is said of a bay that nothing stands in: that it is down, or free and what comes next."""
    down = floor.state.down(bay.id, floor.now)
    if down is not None:
        return f"down {until_words(down.until, floor.zone)}{f': {down.why}' if down.why else ''}"
    coming = ""
    if floor.planned is not None:
        coming = plan_lines.next_in(floor.planned, floor.state, bay.id, floor.now, floor.zone)
    return f"free, {coming}" if coming else "free"


def _bay_job(floor: Floor, job: Job, room: int) -> list[str]:
    if room < 40:
        return [f"{job.tag} ", work_words(job).cell(room - 7)]
    return [
        f"{job.tag} ",
        work_words(job).cell(room // 2 - 7),
        " ",
        cell(machine_words(floor.state, job), room // 2 - 1),
    ]


def _works_until(floor: Floor, job: Job) -> datetime:
    waits = job.stage in (Stage.APPROVAL, Stage.PARTS)
    return min(job.since, floor.now) if waits else max(floor.ahead[job.id].ready, floor.now)


def _stands_until(floor: Floor, job: Job) -> datetime:
    ahead = floor.ahead[job.id]
    if job.stage is Stage.PARTS and ahead.parts_unknown:
        return floor.now + timedelta(days=30)
    return max(ahead.ready, _works_until(floor, job))


def bay_state(job: Job, ahead: Outlook) -> tuple[str, Role]:
    """How a job in a bay stands, in a word or two."""
    waits: dict[Stage, tuple[str, Role]] = {
        Stage.PARTS: ("waits: part", "wait"),
        Stage.APPROVAL: ("waits: yes", "wait"),
        Stage.READY: ("can start", "good"),
        Stage.COLLECT: ("move it out", "wait"),
        Stage.DECLINED: ("move it out", "wait"),
    }
    if job.stage in waits:
        return waits[job.stage]
    return ("late", "late") if _is_late(ahead) else ("on time", "good") if job.promise else ("no date", "soft")


# -- what waits -----------------------------------------------------------------------------------------------------


def waiting_lines(floor: Floor, width: int) -> list[Line]:
    """What stands outside the bays, grouped by what it waits for; nothing at all says what to do."""
    rows: list[Line] = []
    for stage, title in WAITING:
        jobs = [job for job in floor.jobs if job.stage is stage and floor.state.settings.bay(job.bay) is None]
        if jobs:
            label = cell(title, width - _PROMISE - _SPARE)
            columns = cell("promised", _PROMISE, ">") + cell("spare", _SPARE, ">") if not rows else ""
            rows.append(line(None, (label, "strong"), (columns, "soft")))
            rows += [_waiting_line(floor, job, width) for job in sorted(jobs, key=_urgency)]
    if not rows and not any(job.bay for job in floor.jobs):
        return [line(None, ("no machine here: press n to take one in", "soft"))]
    return rows


def _urgency(job: Job) -> tuple[bool, datetime, datetime]:
    return (not job.machine_down, job.promise or datetime.max.replace(tzinfo=job.since.tzinfo), job.since)


def _spare(floor: Floor, job: Job) -> tuple[str, Role]:
    """Days to spare, with the chance to be on time where it is known."""
    words, role = spare_words(floor.ahead[job.id])
    sure = plan_lines.chance(floor.planned, job)
    if sure is None:
        return words, role
    told, how = plan_lines.chance_words(sure, floor.state.settings.promise_probability)
    return f"{words.removesuffix(' late').replace(' d', 'd')} {told:>5}", how or role


def _waiting_line(floor: Floor, job: Job, width: int) -> Line:
    words, role = ("–", "") if job.stage in (Stage.COLLECT, Stage.DECLINED) else _spare(floor, job)
    fixed = 8 + _PROMISE + _SPARE + 2
    whose = max(12, min(44, (width - fixed) // 2))
    reason = reason_words(floor.state, job, floor.now, floor.zone)
    spans: list[Span] = [
        Span(cell(job.tag, 8)),
        Span(cell(machine_words(floor.state, job), whose) + " "),
        Span(reason.cell(width - fixed - whose) + " "),
        Span(cell(day_words(job.promise, floor.now, floor.zone), _PROMISE, ">")),
        Span(cell(words, _SPARE, ">"), role),  # type: ignore[arg-type]
    ]
    return Line(str(job.id), tuple(spans))
