"""What there is to plan, from the shop as it stands: every step ahead of every job, who can do it, where, and when at
the earliest; what is under way or chosen by somebody stays as it is.

Beside the plan's own numbers (means, even chances) it keeps what they rest on, so that a promise can be drawn from it.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from shopboard.records import Closure, Job, PartLine, PartState, Payer, Person, Role, Settings, ShopState, Stage
from shopboard.trouble import Book

from .durations import Guess, Pace, StepAhead, steps_ahead
from .tasks import SLOT, Calendar, JobAhead, Kind, Problem, Task
from .waiting import PartAhead, Waiting, parts_ahead

#: A machine that work waits for counts so much more than another.
DOWN_WEIGHT = 3.0
#: Nothing promised is planned as if it were promised so many slots after arrival (ten days of ten hours).
UNPROMISED_SLOTS = 400


@dataclass(frozen=True)
class Known:
    """What the shop's record says: the pace of each kind of step, and its waits."""

    paces: Mapping[Kind, Pace]
    waiting: Waiting


@dataclass(frozen=True)
class JobFacts:
    """What a job's place in the plan rests on: its steps, its parts that are not here (the last first), since when it
    waits for a yes (None: it does not), and whether a yes must still be asked for after the diagnosis."""

    job: Job
    steps: tuple[StepAhead, ...]
    parts: tuple[PartAhead, ...] = ()
    asked: datetime | None = None
    will_ask: bool = False

    @property
    def guesses(self) -> tuple[Guess, ...]:
        """What the repair may be, where that is not known."""
        return next((step.guesses for step in self.steps if step.kind is Kind.REPAIR), ())


@dataclass(frozen=True)
class Reckoned:
    """A problem, and what it rests on by job."""

    problem: Problem
    facts: Mapping[int, JobFacts]
    now: datetime
    zone: ZoneInfo
    known: Known
    usual_days: float = 3.0


def with_closures(calendar: Calendar, closures: Iterable[Closure]) -> Calendar:
    """The calendar without the slots in which somebody is away, a bay is down or the shop is closed; a slot cut short
    is lost whole."""
    bays, people, kept = dict(calendar.bays), dict(calendar.people), []
    for closure in closures:
        first, after = max(0, calendar.slot_at(closure.start)), calendar.slot_from(closure.until)
        if after <= first:
            continue
        kept.append(closure)
        gone = ((1 << (after - first)) - 1) << first
        for id in people if closure.whole_shop else people.keys() & {closure.person}:
            people[id] &= ~gone
        for id in bays if closure.whole_shop else bays.keys() & {closure.bay}:
            bays[id] &= ~gone
    return replace(calendar, bays=bays, people=people, closures=tuple(kept))


def reckon(state: ShopState, book: Book, calendar: Calendar, known: Known, now: datetime, zone: ZoneInfo) -> Reckoned:
    """The problem of the shop as it stands `now`; `calendar` is of bays and technicians, closures not yet taken off."""
    calendar = with_closures(calendar, state.closures.values())
    slot = max(0, calendar.slot_at(now))
    bins = free_in_bins(state)
    facts = {job.id: facts_of(state, job, book, known, now, zone, bins) for job in state.jobs.values()}
    hands_on = under_way(state, calendar, slot)
    facts |= {id: _worked_today(facts[id], calendar, slot) for id in hands_on if facts[id].steps}
    aheads = tuple(
        ahead
        for job in state.jobs.values()
        if (ahead := job_ahead(state, facts[job.id], calendar, slot, known, now, zone, job.id in hands_on)).tasks
    )
    people = tuple(technicians(state.settings))
    problem = Problem(aheads, state.settings.bays, people, calendar, slot)
    return Reckoned(problem, facts, now, zone, known, usual_days(state.settings))


def technicians(settings: Settings) -> Iterable[Person]:
    """The people that work can be planned for."""
    return (person for person in settings.people if Role.TECHNICIAN in person.roles)


def free_in_bins(state: ShopState) -> Counter[str]:
    """By part number, the pieces that lie here and are kept for nobody."""
    found: Counter[str] = Counter()
    for entry in state.stock.values():
        found[entry.number] += entry.quantity
    for line in state.parts.values():
        found[line.number] -= line.reserved
    return found


def facts_of(
    state: ShopState, job: Job, book: Book, known: Known, now: datetime, zone: ZoneInfo, bins: Mapping[str, int]
) -> JobFacts:
    """What a job's place in the plan rests on; what lies in the `bins` for it is not waited for."""
    machine = state.machines.get(job.machine)
    steps = steps_ahead(job, book, machine.layout.value if machine else "")
    local = now.astimezone(zone)
    midnight = local.replace(hour=0, minute=0, second=0, microsecond=0)
    lines = [line for line in state.parts_of(job.id) if not _lies_here(line, bins)]
    parts = tuple(parts_ahead(lines, known.waiting, state.settings, now, midnight)) if steps else ()
    waits = job.stage is Stage.APPROVAL and job.approval is not None
    before = job.stage in (Stage.ARRIVED, Stage.DIAGNOSED)
    return JobFacts(
        job,
        steps,
        parts,
        job.approval.asked_at if waits and job.approval else None,
        before and job.payer is not Payer.SHOP,
    )


def _lies_here(line: PartLine, bins: Mapping[str, int]) -> bool:
    return line.state is PartState.NEEDED and line.reserved + bins.get(line.number, 0) >= line.quantity


def under_way(state: ShopState, calendar: Calendar, now: int) -> frozenset[int]:
    """The jobs somebody has in hand at slot `now`: of each technician who is in, the one taken up or booked on last."""
    last: dict[str, tuple[datetime, int]] = {}
    for job in state.jobs.values():
        working = job.stage is Stage.DIAGNOSED or (job.stage is Stage.REPAIR and job.bay)
        if working and calendar.people.get(job.person, 0) >> now & 1 and _bay_open(job, calendar, now):
            touched = max([job.since, *(spell.at for spell in job.spent if spell.by == job.person)])
            last[job.person] = max(last.get(job.person, (touched, job.id)), (touched, job.id))
    return frozenset(job_id for _, job_id in last.values())


def _worked_today(facts: JobFacts, calendar: Calendar, slot: int) -> JobFacts:
    """The job in somebody's hands with the time since they took it up, or booked on it last, as time spent."""
    job, first = facts.job, facts.steps[0]
    since = max([job.since, *(spell.at for spell in job.spent)])
    begun = max(0, calendar.slot_at(since))
    there = calendar.people[job.person] >> begun & ((1 << max(0, slot - begun)) - 1)
    done = first.done + there.bit_count() * (SLOT / timedelta(minutes=1))
    return replace(facts, steps=(replace(first, done=done), *facts.steps[1:]))


def _bay_open(job: Job, calendar: Calendar, now: int) -> bool:
    return not job.bay or bool(calendar.bays.get(job.bay, 0) >> now & 1)


# -- one job ----------------------------------------------------------------------------------------------------------


def job_ahead(
    state: ShopState, facts: JobFacts, calendar: Calendar, slot: int, known: Known, now: datetime, zone: ZoneInfo,
    in_hand: bool,
) -> JobAhead:  # fmt: skip
    """The steps ahead of one job as the plan takes them, from slot `slot` on."""
    job = facts.job
    tasks: list[Task] = []
    for place, step in enumerate(facts.steps):
        first = place == 0
        task = Task(
            job=job.id,
            kind=step.kind,
            slots=slots_of(known.paces[step.kind].left(step.minutes, step.done, job.person)),
            earliest=slot,
            capabilities=step.needs,
            skills=step.skills,
        )
        if step.kind is Kind.REPAIR:
            task = _after_waits(state, task, facts, calendar, known, now, zone, first)
        if first:
            task = _where_it_stands(task, job, calendar, slot, in_hand)
        tasks.append(task)
    return JobAhead(
        job=job.id,
        tasks=tuple(tasks),
        promise=calendar.deadline(job.promise) if job.promise is not None else None,
        weight=DOWN_WEIGHT if job.machine_down else 1.0,
        arrived=calendar.slot_at(job.arrived),
    )


def slots_of(minutes: float) -> int:
    """Whole slots for so many minutes, one at least."""
    return max(1, round(timedelta(minutes=minutes) / SLOT))


def _after_waits(
    state: ShopState, task: Task, facts: JobFacts, calendar: Calendar, known: Known, now: datetime, zone: ZoneInfo,
    first: bool,
) -> Task:  # fmt: skip
    """The repair not before the yes and the parts, by even chances."""
    ready, why = now, ""
    if facts.asked is not None:
        waited = max(0.0, (now - facts.asked) / timedelta(days=1))
        answered = max(now, facts.asked + timedelta(days=known.waiting.answer(waited).at(0.5)))
        ready, why = answered, f"a yes, asked {_day(facts.asked, now, zone)}"
    for part in facts.parts:
        wait = timedelta(days=part.wait.at(0.5))
        there = (max(ready, part.start) if part.line.state is PartState.NEEDED else part.start) + wait
        if there > ready:
            ready, why = there, part_words(part, now, zone)
    lag = 0
    if not first and facts.will_ask:
        lag = lag_slots(calendar, now, known.waiting.answer().at(0.5) + _parts_days(facts, known, state.settings))
    return replace(task, earliest=max(task.earliest, calendar.slot_from(ready)), waits_for=why, lag=lag)


def _parts_days(facts: JobFacts, known: Known, settings: Settings) -> float:
    """Days that parts of the likeliest repair take, if it is likelier than not that it waits for some."""
    likely = next(iter(facts.guesses), None)
    if likely is None or not likely.parts or known.waiting.needs_parts <= 0.5:
        return 0.0
    usual = usual_days(settings)
    return max(known.waiting.lead("", lead_class, usual).at(0.5) for lead_class in likely.parts)


def usual_days(settings: Settings) -> float:
    """Days a part usually takes from somewhere: the middle of what shop.toml says of suppliers that take any."""
    days = sorted(supplier.usual_days for supplier in settings.suppliers if supplier.usual_days > 0)
    return float(days[len(days) // 2]) if days else 3.0


def lag_slots(calendar: Calendar, now: datetime, days: float) -> int:
    """Slots of the axis in so many days from now."""
    return max(0, calendar.slot_from(now + timedelta(days=days)) - calendar.slot_at(now))


def _where_it_stands(task: Task, job: Job, calendar: Calendar, slot: int, in_hand: bool) -> Task:
    """The next step with what is under way, opened up, or chosen by somebody."""
    if in_hand:
        return replace(task, person=job.person, bay=job.bay, start=slot, earliest=slot, waits_for="", lag=0)
    if task.needs_bay and job.bay and job.covers_off:
        task = replace(task, bay=job.bay, keeps_bay=True)
    pin = job.pin
    if pin is None or task.kind is Kind.ROAD_TEST:
        return task
    start = calendar.slot_from(pin.start) if pin.start is not None else None
    if start is not None and start < max(slot, task.earliest):
        start = None  # the moment chosen has gone by, or what is waited for comes later
    return replace(
        task,
        person=pin.person or task.person,
        bay=(pin.bay if task.needs_bay and not task.keeps_bay else "") or task.bay,
        start=start,
    )


def part_words(part: PartAhead, now: datetime, zone: ZoneInfo) -> str:
    """A part and when it is due, in words: "seal kit due Fri"."""
    line = part.line
    if line.state is PartState.NEEDED:
        return f"{line.name}, not ordered"
    if line.expected is None:
        return f"{line.name}, no date"
    late = (now.astimezone(zone).date() - line.expected).days
    if late > 0:
        return f"{line.name}, {late} d late"
    if late == 0:
        return f"{line.name} due today"
    return (
        f"{line.name} due {line.expected:%a}"
        if late > -7
        else f"{line.name} due {line.expected.day} {line.expected:%b}"
    )


def _day(moment: datetime, now: datetime, zone: ZoneInfo) -> str:
    day = moment.astimezone(zone).date()
    ago = (now.astimezone(zone).date() - day).days
    return "today" if ago == 0 else f"{day:%a}" if ago < 7 else f"{day.day} {day:%b}"
