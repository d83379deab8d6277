"""The stages of a job: diagnosis, repair, road test, with the time spent, the covers and the work done."""

from __future__ import annotations

from datetime import datetime

from shopboard.records import (
    Job,
    PartLine,
    PartState,
    Payer,
    Person,
    Refused,
    RoadTest,
    Role,
    ShopState,
    Spell,
    Stage,
    Step,
)

from . import approval, bays, guards, said
from .guards import both, changed, moved, outstanding, rule, standing, standing_job, still_open, undone

#: Longest time booked at once, in minutes: a day.
MOST_MINUTES = 24 * 60.0


def _is(job: Job, *stages: Stage) -> None:
    still_open(job)
    if job.stage not in stages:
        raise Refused(f"{job.tag} is {job.stage}, not {guards.either(stages)}", NEXT[job.stage])


#: What would help a job along from each stage.
NEXT = {
    Stage.ARRIVED: "begin the diagnosis",
    Stage.DIAGNOSED: "record what was found and ask for approval",
    Stage.APPROVAL: "get the yes first",
    Stage.PARTS: "receive the missing parts first",
    Stage.READY: "put it into a bay and start the repair",
    Stage.REPAIR: "finish the repair first",
    Stage.ROAD_TEST: "record the road test",
    Stage.COLLECT: "let it be collected, or test it again",
}


# -- diagnosis --------------------------------------------------------------------------------------------------------


def may_diagnose(state: ShopState, job: Job, now: datetime) -> None:
    """Refuses a diagnosis that has begun already."""
    _is(job, Stage.ARRIVED)


@rule
def diagnose(state: ShopState, now: datetime, by: str, job_id: int, person: str = "") -> Step:
    """The diagnosis begins; or, with another `person`, is handed over. With none named, whoever signs does it, if a
    technician. Refused: a job further on, a person who is no technician here, a closed job."""
    job = guards.open_job(state, job_id)
    hand_over = job.stage is Stage.DIAGNOSED and person not in ("", job.person)
    if not hand_over:
        may_diagnose(state, job, now)
    worker = guards.technician(state, person) if person else _signer(state, job, by)
    begun = moved(job, Stage.DIAGNOSED, now, person=worker.id if worker else job.person)
    who = f" by {worker.name}" if worker else ""
    return Step(f"{job.tag} is being diagnosed{who}.", (begun,), subject=job_id)


def _signer(state: ShopState, job: Job, by: str) -> Person | None:
    """Who works when nobody is named: whoever has the job, else whoever signs, if a technician."""
    person = state.settings.person(job.person or by)
    return person if person and Role.TECHNICIAN in person.roles else None


# -- repair -----------------------------------------------------------------------------------------------------------


def may_start_repair(state: ShopState, job: Job, now: datetime) -> None:
    """Refuses repair before its stage, without the yes, with parts missing, or outside a bay that fits."""
    own = job.payer is Payer.SHOP
    _is(job, Stage.READY, *([Stage.DIAGNOSED] if own else []))
    approval.covered(state, job)
    _no_parts_missing(state, job)
    bay = state.settings.bay(job.bay)
    if bay is None:
        raise Refused(f"{job.tag} is in no bay, and repair is in a bay only", "put it into a bay first")
    missing = bays.lacks(bay, job)
    if missing:
        raise Refused(missing, "put it into a bay that fits")


@rule
def start_repair(state: ShopState, now: datetime, by: str, job_id: int, person: str = "") -> Step:
    """The repair begins; or, with another `person`, is handed over. With none named, whoever has the job does it, else
    whoever signs.

    Refused: no yes or work past it, parts missing, no bay or one that lacks what the work needs, nobody with the skill,
    another stage, a closed job.
    """
    job = guards.open_job(state, job_id)
    hand_over = job.stage is Stage.REPAIR and person not in ("", job.person)
    if not hand_over:
        may_start_repair(state, job, now)
    worker = guards.technician(state, person or job.person or by, undone(job))
    begun = moved(job, Stage.REPAIR, now, person=worker.id)
    return Step(f"{job.tag} is in repair, {worker.name} on it.", (begun,), subject=job_id)


def may_wait_for_parts(state: ShopState, job: Job, now: datetime) -> None:
    """Refuses waiting for parts when none is missing, or work has not come so far."""
    _is(job, Stage.REPAIR, Stage.READY, Stage.DIAGNOSED)
    if not outstanding(state, job):
        raise Refused(f"no part is missing for {job.tag}", "say first which part is needed")
    if job.stage is Stage.DIAGNOSED:
        approval.covered(state, job)


@rule
def wait_for_parts(state: ShopState, now: datetime, by: str, job_id: int) -> Step:
    """The technician says that work stops until the missing parts are here; the machine may then leave its bay.

    Refused: no part missing, no yes yet, another stage, a closed job.
    """
    job = guards.open_job(state, job_id)
    may_wait_for_parts(state, job, now)
    names = both(line.name for line in outstanding(state, job))
    return Step(f"{job.tag} waits for parts: {names}.", (moved(job, Stage.PARTS, now),), subject=job_id)


def may_finish_repair(state: ShopState, job: Job, now: datetime) -> None:
    """Refuses finishing while work, covers or parts are open, or the work went past the yes."""
    _is(job, Stage.REPAIR)
    approval.covered(state, job)
    nothing_open(state, job)


@rule
def finish_repair(state: ShopState, now: datetime, by: str, job_id: int) -> Step:
    """The repair is done and the machine waits for its road test.

    Refused: operations undone, covers off, parts missing or neither fitted nor sent back, work past the yes, another
    stage, a closed job.
    """
    job = guards.open_job(state, job_id)
    may_finish_repair(state, job, now)
    return Step(
        f"{job.tag} is repaired and ready for its road test.", (moved(job, Stage.ROAD_TEST, now),), subject=job_id
    )


def nothing_open(state: ShopState, job: Job) -> None:
    """Refuses while operations are undone, covers off, or parts missing or lying about."""
    to_do = undone(job)
    if to_do:
        raise Refused(f"{job.tag} has work to do: {both(o.name for o in to_do)}", "do it and say so, or drop it")
    if job.covers_off:
        raise Refused(f"{job.tag} has covers off: {both(job.covers_off)}", "put them back and say so")
    loose = [line for line in state.parts_of(job.id) if line.state is PartState.RECEIVED]
    if loose:
        raise Refused(f"{job.tag} has parts here that are not fitted: {_names(loose)}", "fit them or send them back")
    _no_parts_missing(state, job)


def _no_parts_missing(state: ShopState, job: Job) -> None:
    missing = outstanding(state, job)
    if missing:
        raise Refused(
            f"{job.tag} still lacks parts: {_names(missing)}", "receive them, or send back what is not needed"
        )


def _names(lines: tuple[PartLine, ...] | list[PartLine]) -> str:
    return both(f"{line.name} ({line.state})" for line in lines)


# -- road test --------------------------------------------------------------------------------------------------------


def may_road_test(state: ShopState, job: Job, now: datetime) -> None:
    """Refuses a road test before the repair is done, or while work, covers or parts are open."""
    _is(job, Stage.ROAD_TEST, Stage.COLLECT)
    nothing_open(state, job)


@rule
def road_test(
    state: ShopState,
    now: datetime,
    by: str,
    job_id: int,
    passed: bool,
    interlocks_proved: bool,
    brake_proved: bool,
    note: str = "",
) -> Step:
    """The road test came out so. Passed, with interlocks and brake proved, the machine is ready to collect; passed
    without them it stays on road test; failed, it goes back into repair, or waits for a bay or parts if it is in none.

    A machine ready to collect may be tested again. Refused: work, covers or parts open (a failed test is taken even
    then), another stage, a closed job.
    """
    job = guards.open_job(state, job_id)
    if passed:
        may_road_test(state, job, now)
    else:
        _is(job, Stage.ROAD_TEST, Stage.COLLECT)
    test = RoadTest(
        passed=passed, interlocks_proved=interlocks_proved, brake_proved=brake_proved, at=now, by=by, note=note
    )
    onward, words = _after_test(state, job, test)
    why = f"{job.tag}, road test {words}{f' – {note}' if note else ''}."
    return Step(why, (moved(job, onward, now, road_test=test),), subject=job_id)


def _after_test(state: ShopState, job: Job, test: RoadTest) -> tuple[Stage, str]:
    if not test.passed:
        if job.bay:
            return Stage.REPAIR, "failed: back in repair"
        if outstanding(state, job):
            return Stage.PARTS, "failed: waits for parts"
        return Stage.READY, "failed: in line for a bay"
    unproved = [
        what for what, proved in (("interlocks", test.interlocks_proved), ("brake", test.brake_proved)) if not proved
    ]
    if unproved:
        return Stage.ROAD_TEST, f"passed, but it stays: {both(unproved)} not proved"
    return Stage.COLLECT, "passed, interlocks and brake proved: ready to collect"


# -- time, work done, covers ------------------------------------------------------------------------------------------


@rule
def spend(state: ShopState, now: datetime, by: str, job_id: int, minutes: float, what: str = "") -> Step:
    """Minutes spent on the job by whoever signs, in the bay it stands in. Refused: none, more than a day, closed."""
    job = guards.open_job(state, job_id)
    minutes = said.number(minutes, "the time spent", least=0, most=MOST_MINUTES)
    if minutes == 0:
        raise Refused("no time spent is nothing to book", "type the minutes")
    spell = Spell(by=by, at=now, minutes=minutes, bay=job.bay, what=what)
    spent: Job = changed(job, spent=(*job.spent, spell))
    on = f" on {what}" if what else ""
    return Step(f"{job.tag}: {said.plain(minutes)} min spent{on}.", (spent,), subject=job_id)


def may_work(state: ShopState, job: Job, now: datetime) -> None:
    """Refuses marking work as done outside repair, or when none is left."""
    _is(job, Stage.REPAIR)
    if not undone(job):
        raise Refused(f"nothing is left to do on {job.tag}", "finish the repair")


@rule
def work_done(state: ShopState, now: datetime, by: str, job_id: int, operation: str) -> Step:
    """An operation of the job (its id) is done. Refused: not in repair, no such operation to do, a closed job."""
    job = guards.open_job(state, job_id)
    may_work(state, job, now)
    name = next((o.name for o in undone(job) if o.id == operation), None)
    if name is None:
        raise Refused(f"{operation} is not to do on {job.tag}", f"to do: {both(o.id for o in undone(job))}")
    operations = tuple(changed(o, done=True) if o.id == operation else o for o in job.operations)
    return Step(f"{job.tag}: {name} done.", (changed(job, operations=operations),), subject=job_id)


def may_take_cover_off(state: ShopState, job: Job, now: datetime) -> None:
    """Refuses taking covers off a machine that is on its road test or ready to leave."""
    still_open(job)
    if job.stage in (Stage.ROAD_TEST, Stage.COLLECT):
        raise Refused(f"{job.tag} is {job.stage}: its covers stay on", "fail the road test first, then open it")


@rule
def cover_off(state: ShopState, now: datetime, by: str, job_id: int, cover: str) -> Step:
    """A cover came off and counts as off from now on. Refused: off already, on road test or after, a closed job."""
    job = guards.open_job(state, job_id)
    may_take_cover_off(state, job, now)
    said.words(cover, "the cover", "say which cover came off")
    if cover in job.covers_off:
        raise Refused(f"{cover} is off {job.tag} already", "nothing is left to do")
    opened: Job = changed(job, covers_off=(*job.covers_off, cover))
    return Step(f"{job.tag}: {cover} off.", (opened,), subject=job_id)


def may_put_cover_on(state: ShopState, job: Job, now: datetime) -> None:
    """Refuses putting covers back where none is off."""
    standing(job)
    if not job.covers_off:
        raise Refused(f"no cover is off {job.tag}", "nothing is left to do")


@rule
def cover_on(state: ShopState, now: datetime, by: str, job_id: int, cover: str) -> Step:
    """A cover is back on; a declined machine gets its covers back too. Refused: not off, a machine that is gone."""
    job = standing_job(state, job_id)
    may_put_cover_on(state, job, now)
    if cover not in job.covers_off:
        raise Refused(f"{cover or 'nothing'} is not off {job.tag}", f"off are {both(job.covers_off)}")
    shut: Job = changed(job, covers_off=tuple(c for c in job.covers_off if c != cover))
    return Step(f"{job.tag}: {cover} back on.", (shut,), subject=job_id)
