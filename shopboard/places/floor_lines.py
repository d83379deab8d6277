"""What the Floor says: one row a bay along the hours, and under it what waits, grouped by what it waits for."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from shopboard.planning.outlook import Outlook, outlook
from shopboard.records import Bay, Job, ShopState, Stage
from shopboard.trouble import Book

from .job_words import WAITING, day_words, machine_words, reason_words, spare_words, work_words
from .lines import BLANK, Line, Role, Span, cell, line
from .timeline import Axis, axis, bay_bar, scale_line

_BAY, _STATE, _PERSON, _PROMISE, _SPARE = 12, 11, 6, 8, 10


@dataclass(frozen=True)
class Floor:
    """The shop's open jobs with what is ahead of each, reckoned once for a whole drawing."""

    state: ShopState
    now: datetime
    zone: ZoneInfo
    ahead: dict[int, Outlook]

    @property
    def jobs(self) -> Iterable[Job]:
        """Every machine that stands here."""
        return self.state.jobs.values()


def look(state: ShopState, book: Book, now: datetime, zone: ZoneInfo) -> Floor:
    """Reckon what is ahead of every open job."""
    return Floor(state, now, zone, {job.id: outlook(state, job, book, now, zone) for job in state.jobs.values()})


def late_jobs(floor: Floor) -> list[Job]:
    """Jobs past their promise, or that cannot make it any more, the longest promised first."""
    late = [
        j for j in floor.jobs if not j.stage.closed and j.stage is not Stage.COLLECT and _is_late(floor.ahead[j.id])
    ]
    return sorted(late, key=lambda job: (job.promise is None, job.promise))


def _is_late(ahead: Outlook) -> bool:
    return ahead.late or (ahead.spare is not None and ahead.spare < 0)


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
    return [*bay_lines(floor, width), BLANK, *waiting_lines(floor, width)]


# -- bays -----------------------------------------------------------------------------------------------------------


def bay_lines(floor: Floor, width: int) -> list[Line]:
    """One row a bay."""
    settings = floor.state.settings
    if not settings.bays:
        return [line(None, ("no bays yet: name them in shop.toml under [[bay]]", "wait"))]
    job_room = 24 if width < 110 else 58
    track = axis(settings, floor.now, floor.zone, max(12, width - _BAY - job_room - _STATE - _PERSON - 3))
    rows = [scale_line(track, _BAY)]
    rows += [_bay_line(floor, bay, track, job_room) for bay in settings.bays]
    return rows


def _bay_line(floor: Floor, bay: Bay, track: Axis, job_room: int) -> Line:
    name = Span(cell(bay.name, _BAY - 1) + " ")
    job = floor.state.job_in_bay(bay.id)
    if job is None:
        empty = bay_bar(track, floor.now, floor.now, floor.now, floor.now)
        return line(f"bay:{bay.id}", name, *empty, " ", ("free", "soft"))
    ahead = floor.ahead[job.id]
    bar = bay_bar(track, job.bay_since or job.since, _works_until(floor, job), _stands_until(floor, job), floor.now)
    person = floor.state.settings.person(job.person)
    words, role = bay_state(job, ahead)
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
        jobs = [job for job in floor.jobs if job.stage is stage and not job.bay]
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


def _waiting_line(floor: Floor, job: Job, width: int) -> Line:
    words, role = ("–", "") if job.stage in (Stage.COLLECT, Stage.DECLINED) else spare_words(floor.ahead[job.id])
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
