"""What the rules share: the frame every rule runs in, look-ups that refuse what is not there, and small questions."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from datetime import UTC, date, datetime
from functools import update_wrapper
from typing import Any, Concatenate, ParamSpec
from zoneinfo import ZoneInfo

import msgspec

from shopboard.records import (
    Customer,
    Job,
    Machine,
    Operation,
    PartLine,
    PartState,
    Person,
    Refused,
    Role,
    ShopState,
    Stage,
    Step,
    encode,
    tag,
)

from . import roles

P = ParamSpec("P")
Rule = Callable[Concatenate[ShopState, datetime, str, P], Step]

#: Every rule by module and name, as `roles.MAY` lists them.
RULES: set[str] = set()

#: States in which a line of parts still waits for its supplier, or for somebody to order it.
OUTSTANDING = (PartState.NEEDED, PartState.ORDERED, PartState.PARTLY_RECEIVED, PartState.BACK_ORDERED)


def rule(step: Callable[Concatenate[ShopState, datetime, str, P], Step]) -> Rule[P]:
    """The frame of every rule: `now` becomes UTC (ValueError if it has no zone), `by` must be somebody who works
    here and has a role that may (`roles.MAY`), and a step whose text no file could hold is refused. The step carries
    who it was allowed to: the store commits it under no other name."""
    name = f"{step.__module__.rpartition('.')[2]}.{step.__name__}"

    def framed(state: ShopState, now: datetime, by: str, /, *args: P.args, **kwargs: P.kwargs) -> Step:
        if now.tzinfo is None:
            raise ValueError("a rule needs the time with its zone")
        signed(state, by)
        roles.permit(state.settings, by, name)
        result = step(state, now.astimezone(UTC), by, *args, **kwargs)
        try:
            encode((result.why, result.puts))
        except UnicodeEncodeError:
            raise Refused("what was typed holds half a character, which cannot be kept", "type it again") from None
        return msgspec.structs.replace(result, by=by)

    RULES.add(name)
    update_wrapper(framed, step)
    return framed


def signed(state: ShopState, by: str) -> None:
    """Refuses a signature nobody here has. A shop that has not named its people yet takes any."""
    if not by.strip():
        raise Refused("every step is signed, and nobody signed this one", "say who you are")
    people = state.settings.people
    if people and state.settings.person(by) is None:
        raise Refused(f"nobody here signs as {by}", f"sign as {either(p.id for p in people)}, or add them to shop.toml")


def changed(record: Any, **fields: Any) -> Any:
    """The record with these fields changed."""
    return msgspec.structs.replace(record, **fields)


def moved(job: Job, stage: Stage, now: datetime, **fields: Any) -> Job:
    """The job in this stage; `since` starts anew only if the stage is another one."""
    since = job.since if job.stage is stage else now
    moved_job: Job = changed(job, stage=stage, since=since, **fields)
    return moved_job


_AGAIN = "take the machine in again as a new job"


# -- look-ups ---------------------------------------------------------------------------------------------------------


def job_of(state: ShopState, job_id: int) -> Job:
    """The job with this number whose machine is here; refused if there is none."""
    job = state.jobs.get(job_id)
    if job is not None:
        return job
    if job_id in state.closed:
        stage = state.closed[job_id].stage
        raise Refused(f"{tag(job_id)} is {stage} and takes remarks only", _AGAIN)
    raise Refused(f"there is no {tag(job_id)} here", "look at the tag again")


def open_job(state: ShopState, job_id: int) -> Job:
    """The open job with this number; a closed one takes remarks only."""
    job = job_of(state, job_id)
    still_open(job)
    return job


def still_open(job: Job) -> None:
    """Refuses a closed job: it takes remarks only."""
    if job.stage.closed:
        raise Refused(f"{job.tag} is {job.stage} and takes remarks only", _AGAIN)


def standing(job: Job) -> None:
    """Refuses a job whose machine is gone. A declined machine stands here until it leaves."""
    if job.stage is not Stage.DECLINED or job.left is not None:
        still_open(job)


def standing_job(state: ShopState, job_id: int) -> Job:
    """The job with this number whose machine still stands here: open, or declined and not yet left."""
    job = job_of(state, job_id)
    standing(job)
    return job


def machine_of(state: ShopState, job: Job) -> Machine:
    """The machine of a job; refused if its record is missing (a damaged shop)."""
    machine = state.machines.get(job.machine)
    if machine is None:
        raise Refused(f"the machine of {job.tag} is not in the records", "run verify on the shop's folder")
    return machine


def customer_of(state: ShopState, customer_id: int) -> Customer:
    """The customer with this number; refused if there is none."""
    customer = state.customers.get(customer_id)
    if customer is None:
        raise Refused(f"there is no customer number {customer_id}", "pick one of the list, or enter a new customer")
    return customer


def line_of(state: ShopState, line_id: int) -> PartLine:
    """The line of parts with this number; refused if there is none on the board."""
    line = state.parts.get(line_id)
    if line is None:
        raise Refused(f"there is no line of parts number {line_id} here", "look at the list of parts again")
    return line


def machine_words(state: ShopState, machine: Machine) -> str:
    """The machine as people speak of it: its model's name and serial."""
    model = state.models.get(machine.model)
    return " ".join(filter(None, (model.name if model else machine.model, machine.serial)))


def technician(state: ShopState, person_id: str, operations: Iterable[Operation] = ()) -> Person:
    """The technician with this id, able to do these operations; refused with what is missing, and who could."""
    person = state.settings.person(person_id)
    if person is None:
        raise Refused(f"nobody called {person_id or 'nothing'} works here", _could(state, operations))
    lacks = cannot(person, operations)
    if lacks:
        raise Refused(lacks, _could(state, operations))
    return person


def cannot(person: Person, operations: Iterable[Operation]) -> str:
    """Why this person cannot do these operations as a technician, or ""."""
    if Role.TECHNICIAN not in person.roles:
        return f"{person.name} is not a technician here"
    for operation in operations:
        if operation.skill and operation.skill not in person.skills:
            return f"{person.name} has not the skill {operation.skill}, which “{operation.name}” asks for"
    return ""


def _could(state: ShopState, operations: Iterable[Operation]) -> str:
    wanted = tuple(operations)
    able = [person.id for person in state.settings.people if not cannot(person, wanted)]
    return f"give it to {either(able)}" if able else "add a technician with that skill to shop.toml"


# -- small questions --------------------------------------------------------------------------------------------------


def zone_of(state: ShopState) -> ZoneInfo:
    """The shop's zone."""
    return ZoneInfo(state.settings.zone)


def today(state: ShopState, now: datetime) -> date:
    """The shop's own calendar day at `now`."""
    return now.astimezone(zone_of(state)).date()


def outstanding(state: ShopState, job: Job) -> tuple[PartLine, ...]:
    """The job's lines that have not come whole, oldest first."""
    return tuple(line for line in state.parts_of(job.id) if line.state in OUTSTANDING)


def undone(job: Job) -> tuple[Operation, ...]:
    """The operations still to do, in the order they were added."""
    return tuple(operation for operation in job.operations if not operation.done)


def either(words: Iterable[str]) -> str:
    """Words as a choice.

    >>> either(["ana", "bo", "cy"])
    'ana, bo or cy'
    """
    return _joined(words, "or")


def both(words: Iterable[str]) -> str:
    """Words as a list.

    >>> both(["floor plate", "shield"])
    'floor plate and shield'
    """
    return _joined(words, "and")


def _joined(words: Iterable[str], link: str) -> str:
    *most, last = [*words] or [""]
    return f"{', '.join(most)} {link} {last}" if most else last
