"""The Floor for a screen on the wall: what stands in each bay in large type, then what waits, what is late and why."""

from __future__ import annotations

from shopboard.records import Bay, Job

from .big_type import ROWS, big
from .floor_lines import Floor, bay_state, free_words, late_jobs
from .job_words import WAITING, day_words, machine_words, reason_words, work_words
from .lines import BLANK, Line, Role, Span, cell, heading, line

#: Cells for a bay's name, rows kept for what waits and what is late.
_BAY, _REST_ROWS = 14, 4


def wall_lines(floor: Floor, width: int, height: int) -> list[Line]:
    """As large as the screen lets it be: every bay, then what waits and what is late as far as they fit."""
    bays = floor.state.settings.bays
    rest = [_waiting_line(floor, width), *_late_lines(floor, width)]
    used = sum(1 for bay in bays if floor.state.job_in_bay(bay.id) is not None)
    size = _size(used, len(bays) - used, width, height - min(len(rest), _REST_ROWS))
    rows: list[Line] = []
    for bay in bays:
        rows += _bay_lines(floor, bay, size, width)
    return [*rows, *rest][: max(height, 1)]


def _size(used: int, free: int, width: int, height: int) -> int:
    """The largest type in which every bay fits; 0 where only a row a bay does."""
    for size in (2, 1):
        if used * (ROWS[size] + 1) + free * 2 <= height and width >= _BAY + len(big("T-0000", size)[0]) + 24:
            return size
    return 0


def _waiting_line(floor: Floor, width: int) -> Line:
    jobs = [job for job in floor.jobs if not job.bay]
    counts = [(title, sum(1 for job in jobs if job.stage is stage)) for stage, title in WAITING]
    said = ", ".join(f"{title.partition(',')[0]} {count}" for title, count in counts if count)
    return line(None, cell(said or "nothing waits", width))


def _bay_lines(floor: Floor, bay: Bay, size: int, width: int) -> list[Line]:
    job = floor.state.job_in_bay(bay.id)
    name = cell(bay.name, _BAY - 1) + " "
    if job is None:
        free = cell(free_words(floor, bay), max(4, width - _BAY))
        return [line(None, (name, "strong"), (free, "soft")), *[BLANK] * (1 if size else 0)]
    words = _words(floor, job)
    if not size:
        text, role = words[-1]
        tag = f"{job.tag} {words[0][0]}"
        return [line(None, (name, "strong"), cell(tag, width - _BAY - 22), " ", (cell(text, 21), role))]
    drawn = big(job.tag, size)
    room = width - _BAY - len(drawn[0]) - 2
    beside = [Span(cell(text, room), role) for text, role in words]
    beside += [Span("")] * (len(drawn) - len(beside))
    rows = [
        line(None, (name if not n else " " * _BAY, "strong"), (large, "strong"), "  ", text)
        for n, (large, text) in enumerate(zip(drawn, beside, strict=True))
    ]
    return [*rows, BLANK]


def _words(floor: Floor, job: Job) -> list[tuple[str, Role]]:
    """What is done, on whose machine, and by whom and how it stands; three lines."""
    person = floor.state.settings.person(job.person)
    state, role = bay_state(job, floor.ahead[job.id])
    promised = f", promised {day_words(job.promise, floor.now, floor.zone)}" if job.promise else ""
    who = f"{person.name.split()[0]}, " if person else ""
    return [(str(work_words(job)), "strong"), (machine_words(floor.state, job), ""), (f"{who}{state}{promised}", role)]


def _late_lines(floor: Floor, width: int) -> list[Line]:
    late = late_jobs(floor)
    rows = [
        line(
            None,
            (cell(job.tag, 8), "late"),
            cell(machine_words(floor.state, job), (width - 8) // 2 - 1) + " ",
            reason_words(floor.state, job, floor.now, floor.zone).cell(width - 8 - (width - 8) // 2),
        )
        for job in late
    ]
    return [heading(f"late, or cannot be on time: {len(late)}"), *rows] if rows else [heading("nothing is late")]
