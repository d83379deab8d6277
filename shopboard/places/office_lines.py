"""The owner's minute: what is late and why, calls to make and what to say, stuck longest, what came back."""

from __future__ import annotations

from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from shopboard.records import Job, ShopState, Stage, tag

from . import plan_lines
from .floor_lines import Floor, at_risk, calls_to_make, late_jobs
from .job_words import Words, ago_words, awaited, day_words, machine_words, parts_words, spare_words
from .lines import BLANK, Line, Role, Span, cell, line, share, wrapped
from .part_forms import OWED

_WEEK = timedelta(days=7)


def office_lines(floor: Floor, width: int) -> list[Line]:
    """The whole page."""
    parts = [
        _late(floor, width),
        _calls(floor, width),
        _stuck(floor, width),
        _came_back(floor, width),
        _week(floor, width),
        _words_held(floor, width),
    ]
    rows: list[Line] = []
    for block in parts:
        rows += [*([BLANK] if rows else []), *block]
    return rows


def _head(text: str, width: int) -> Line:
    return line(None, (cell(text, width), "strong"))


def _job_row(floor: Floor, job: Job, block: str, why: Words, words: str, role: Role, width: int) -> Line:
    whose = max(14, width * 2 // 5 - 8)
    spans = (
        Span(cell(job.tag, 8)),
        Span(cell(machine_words(floor.state, job), whose) + " "),
        Span(why.cell(max(4, width - 8 - whose - 1 - 14)) + " "),
        Span(cell(words, 13, ">"), role),
    )
    return Line(f"{block}:{job.id}", spans)


def _late(floor: Floor, width: int) -> list[Line]:
    rows = [_head("late, or cannot be on time", width)]
    late = late_jobs(floor)
    for job in late:
        words, role = spare_words(floor.ahead[job.id])
        if (sure := plan_lines.chance(floor.planned, job)) is not None:
            words = f"{words.removesuffix(' late')} {share(sure):>5}"
        rows.append(_job_row(floor, job, "late", late_because(floor, job), words, role, width))
        if best := plan_lines.helps_words(floor.planned, job):
            rows += wrapped(best, width, "soft", indent=" " * 8)
    rows = rows if len(rows) > 1 else [*rows, line(None, ("nothing is late", "good"))]
    return [*rows, *_at_risk(floor, width)]


def _at_risk(floor: Floor, width: int) -> list[Line]:
    level = floor.state.settings.promise_probability
    risky = at_risk(floor)
    if not risky:
        return []
    rows = [BLANK, _head(f"at risk: less sure than {share(level)} to be on time", width)]
    for job in risky:
        words, role = plan_lines.chance_words(plan_lines.chance(floor.planned, job) or 0.0, level)
        rows.append(_job_row(floor, job, "risk", late_because(floor, job), words, role, width))
        if best := plan_lines.helps_words(floor.planned, job):
            rows += wrapped(best, width, "soft", indent=" " * 8)
    return rows


def late_because(floor: Floor, job: Job) -> Words:
    """Why a job is late, in a few words: the part, the approval, or that nobody has begun."""
    waits = awaited(floor.state, job)
    if waits:
        return parts_words(waits, floor.now, floor.zone)
    if job.stage is Stage.APPROVAL:
        return Words(f"waits for a yes since {day_words(job.since, floor.now, floor.zone)}")
    if known := plan_lines.because(floor.planned, floor.state, job, floor.now, floor.zone):
        return Words(f"{known}; {job.stage}")
    if not job.bay and job.stage in (Stage.ARRIVED, Stage.READY):
        return Words(f"{job.stage}, nobody on it for {ago_words(job.since, floor.now)}")
    return Words(f"{job.stage}, {floor.ahead[job.id].minutes:.0f} min of work left")


def _calls(floor: Floor, width: int) -> list[Line]:
    rows = [_head("calls to make", width)]
    for job in calls_to_make(floor):
        rows += _call(floor, job, "call", what_to_say(floor.state, job, floor.now, floor.zone), width)
    if len(rows) == 1:
        rows.append(line(None, ("nobody waits for a call", "good")))
    return [*rows, *_late_parts(floor, width)]


def _late_parts(floor: Floor, width: int) -> list[Line]:
    """Whom to tell that a part comes after the day that was promised, with words for it."""
    from shopboard.paper.words import waits_words

    rows: list[Line] = []
    today = floor.now.astimezone(floor.zone).date()
    for job in late_jobs(floor):
        waits = awaited(floor.state, job) if job.stage is Stage.PARTS else []
        if waits:
            promise = job.promise.astimezone(floor.zone).date() if job.promise else None
            words = waits_words(waits, promise, today, lambda day: f"{day:%a} {day.day} {day:%b}")
            rows += _call(floor, job, "tell", f"Your machine {words}", width)
    return [BLANK, _head("to be told that a part is late", width), *rows] if rows else []


def _call(floor: Floor, job: Job, block: str, words: str, width: int) -> list[Line]:
    """Whom to ring, and under it what to say."""
    customer = floor.state.customers.get(job.customer)
    who = f"{customer.name}, {customer.phone or 'no phone kept'}" if customer else "customer unknown"
    row = line(f"{block}:{job.id}", cell(job.tag, 8), (cell(who, width - 8), ""))
    return [row, *wrapped(words, width, "soft", indent=" " * 8)]


def what_to_say(state: ShopState, job: Job, now: datetime, zone: ZoneInfo) -> str:
    """A sentence to say on the phone."""
    if job.stage is Stage.APPROVAL and job.approval is not None:
        work = " and ".join(op.name for op in job.operations if not op.done)
        about = f" to {work}" if work else ""
        calls = len(job.approval.calls)
        tried = (
            f" (called {'once' if calls == 1 else f'{calls} times, last'} {ago_words(job.approval.calls[-1], now)} ago)"
            if calls
            else ""
        )
        return f"The estimate is {job.approval.asked} {state.settings.currency}{about}: may we go ahead?{tried}"
    machine = machine_words(state, job).split(",")[0]
    return f"Your {machine} is done and road tested; it has been ready since {day_words(job.since, now, zone)}."


def _stuck(floor: Floor, width: int) -> list[Line]:
    rows = [_head("stuck longest where it is", width)]
    stuck = sorted((j for j in floor.jobs if not j.stage.closed), key=lambda job: job.since)[:4]
    for job in stuck:
        rows.append(
            _job_row(floor, job, "stuck", Words(str(job.stage)), f"{ago_words(job.since, floor.now)}", "soft", width)
        )
    return rows if stuck else [*rows, line(None, ("no open job", "soft"))]


def _came_back(floor: Floor, width: int) -> list[Line]:
    rows = [_head("came back", width)]
    for job in floor.jobs:
        if job.comeback is not None:
            why = Words(f"after {tag(job.comeback.of)}: {job.complaint}")
            rows.append(_job_row(floor, job, "back", why, str(job.stage), "wait", width))
    ninety = [c for c in floor.state.closed.values() if floor.now - c.closed_at < timedelta(days=90)]
    back = sum(1 for c in ninety if c.comeback_of is not None)
    rows.append(
        line(None, (cell(f"closed in the last 90 days: {len(ninety)}, of these comebacks: {back}", width), "soft"))
    )
    return rows


def _week(floor: Floor, width: int) -> list[Line]:
    rows = [_head("this week", width)]
    since = floor.now - _WEEK
    spells = [spell for job in floor.jobs for spell in job.spent if spell.at >= since]
    closed = [c for c in floor.state.closed.values() if c.closed_at >= since]
    people: dict[str, float] = {}
    for spell in spells:
        people[spell.by] = people.get(spell.by, 0.0) + spell.minutes
    named = [f"{_name(floor.state, id)} {minutes / 60:.1f} h" for id, minutes in sorted(people.items())]
    rows.append(line(None, cell("booked on open jobs: " + (", ".join(named) or "nothing"), width)))
    hours = sum(c.minutes for c in closed) / 60
    rows.append(line(None, cell(f"closed in 7 days: {len(closed)}, with {hours:.1f} h booked", width)))
    owed = sum(1 for p in floor.state.parts.values() if p.state in OWED)
    rows.append(line(None, cell(f"part lines on order: {owed}", width)))
    return rows


def _name(state: ShopState, id: str) -> str:
    person = state.settings.person(id)
    return person.name if person else id


def _words_held(floor: Floor, width: int) -> list[Line]:
    year = [c for c in floor.state.closed.values() if floor.now - c.closed_at < timedelta(days=365) and c.promise]
    rows = [_head("how our dates held", width)]
    if not year:
        return [*rows, line(None, ("no closed job with a promised date yet", "soft"))]
    met = sum(1 for c in year if c.promise is not None and c.closed_at <= c.promise)
    return [*rows, line(None, cell(f"closed in the last year: {len(year)}, of these by their date: {met}", width))]
