"""What a re-plan changed, as sentences: what moved, by how much, and because of what."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import datetime, timedelta
from typing import NamedTuple
from zoneinfo import ZoneInfo

from shopboard.planning.tasks import Calendar, Move, Placed, Plan
from shopboard.records import ShopState, tag

from .job_words import day_words
from .lines import BLANK, Line, line, wrapped
from .plan_lines import clock, first_name

#: A change is told from so many slots on, or when the person or the bay changes.
WORTH_TELLING = 4


class Change(NamedTuple):
    """One job's change as a sentence; `lost` whether its promise cannot be kept now, `slots` how far it moved."""

    words: str
    lost: bool
    slots: int


def changes(state: ShopState, plan: Plan, moves: Sequence[Move], now: datetime, zone: ZoneInfo) -> tuple[str, ...]:
    """The moves worth telling as sentences, one a job: promises lost first, then what came in, what is put off
    furthest, and what comes sooner. Of a job's steps the first that moved is told; the others follow it."""
    told = {job: _came_in(state, plan, job, now, zone) for job in _new_jobs(plan, moves) if job in state.jobs}
    lost = _newly_late(plan, moves)
    for move in sorted(moves, key=lambda move: move.after.start):
        if move.before is None or move.task.job in told or not _worth_telling(move.before, move.after):
            continue
        words = _sentence(state, plan.problem.calendar, move.before, move, now, zone)
        promise = state.jobs[move.task.job].promise if move.task.job in lost else None
        if promise is not None:
            words += f"; too late now for its promise {day_words(promise, now, zone)}"
        told[move.task.job] = Change(words, move.task.job in lost, move.after.start - move.before.start)
    ordered = sorted(told.values(), key=lambda change: (not change.lost, -change.slots))
    return tuple(change.words for change in ordered)


def _new_jobs(plan: Plan, moves: Sequence[Move]) -> list[int]:
    """The jobs of which people saw no step before."""
    new = {move.task for move in moves if move.before is None}
    return [job for job, steps in plan.by_job.items() if all(one.task in new for one in steps)]


def _came_in(state: ShopState, plan: Plan, job_id: int, now: datetime, zone: ZoneInfo) -> Change:
    """Where a job that came in has its place."""
    calendar, job = plan.problem.calendar, state.jobs[job_id]
    first, last = plan.by_job[job_id][0], plan.by_job[job_id][-1]
    bay = state.settings.bay(first.bay)
    who = first_name(state, first.person) + (f" in {bay.name}" if bay else "")
    done = clock(calendar.end_moment(last.end), now, zone)
    words = f"{job.tag} came in{', work waits for it' if job.machine_down else ''}: {first.task.kind.noun} "
    words += f"{clock(calendar.moment(first.start), now, zone)} {who}, done {done}"
    late = plan.lateness.get(job_id, 0) > 0 and job.promise is not None
    return Change(
        words + (f"; too late for its promise {day_words(job.promise, now, zone)}" if late else ""), late, 1 << 30
    )


def moved_page(moved: tuple[datetime, tuple[str, ...]] | None, zone: ZoneInfo) -> Callable[[int], list[Line]]:
    """A page of all that a re-plan changed."""

    def build(width: int) -> list[Line]:
        if moved is None:
            return wrapped("The plan has moved nothing since this board was opened.", width)
        at, words = moved
        rows = [line(None, (f"{at.astimezone(zone):%a %d %b %H:%M}", "soft"))]
        for one in words:
            rows += [BLANK, *wrapped(one, width)]
        return rows

    return build


def _newly_late(plan: Plan, moves: Sequence[Move]) -> frozenset[int]:
    """The jobs that kept their promise where people saw them and do not any more."""
    promises = {ahead.job: ahead.promise for ahead in plan.problem.jobs}
    return frozenset(
        move.task.job
        for move in moves
        if move.before is not None
        and (promise := promises.get(move.task.job)) is not None
        and move.after is plan.by_job[move.task.job][-1]
        and move.before.end <= promise < move.after.end
    )


def _worth_telling(before: Placed, after: Placed) -> bool:
    return (after.person, after.bay) != (before.person, before.bay) or abs(after.start - before.start) >= WORTH_TELLING


def _sentence(state: ShopState, calendar: Calendar, before: Placed, move: Move, now: datetime, zone: ZoneInfo) -> str:
    after, start, was = move.after, calendar.moment(move.after.start), calendar.moment(before.start)
    here, there = _where(state, after, before), _where(state, before, after)
    same_day = start.astimezone(zone).date() == was.astimezone(zone).date()
    when, then = clock(start, now, zone), _then(was, now, zone)
    if same_day and when != "now" and ":" not in when:  # a day further off, told without its hour
        when, then = f"{when} {start.astimezone(zone):%H:%M}", f"{was.astimezone(zone):%H:%M}"
    if after.start == before.start:
        to, here, there = ("to", here, there) if after.person != before.person else ("into", here[3:], there[3:])
        moved = f"goes {to} {here} instead of {there}, {when} as before"
    else:
        who = here if after.person != before.person else " ".join(filter(None, [first_name(state, after.person), here]))
        moved = f"{_by_how_much(calendar, before.start, after.start, zone)}, {when} {who} (was {then}"
        moved += f" {there})" if there else ")"
    why = move.why.removesuffix(f": not before {calendar.words(after.start)}")  # that is when it starts, as told
    return f"{tag(move.task.job)} {move.task.kind.noun} {moved}: {why}"


def _where(state: ShopState, placed: Placed, other: Placed) -> str:
    """Who and in which bay, as far as it differs from another place."""
    bay = state.settings.bay(placed.bay)
    who = first_name(state, placed.person) if placed.person != other.person else ""
    where = f"in {bay.name}" if bay and placed.bay != other.bay else ""
    return " ".join(filter(None, [who, where]))


def _then(was: datetime, now: datetime, zone: ZoneInfo) -> str:
    """When it was to be; an hour that has gone by is still told as one."""
    local = was.astimezone(zone)
    return f"{local:%H:%M}" if local.date() == now.astimezone(zone).date() else clock(was, now, zone)


def _by_how_much(calendar: Calendar, before: int, after: int, zone: ZoneInfo) -> str:
    """How far a step moved: working days, or hours within a day."""
    first, last = calendar.span_of(before), calendar.span_of(after)
    days = abs(calendar.spans.index(last) - calendar.spans.index(first))
    if days:
        return f"{days} working day{'s' * (days > 1)} {'later' if after > before else 'sooner'}"
    minutes = abs(calendar.moment(after) - calendar.moment(before)) // timedelta(minutes=1)
    hours, rest = divmod(minutes, 60)
    words = f"{hours} h {rest:02d}" if hours and rest else f"{hours} h" if hours else f"{rest} min"
    return f"{words} {'later' if after > before else 'sooner'}"
