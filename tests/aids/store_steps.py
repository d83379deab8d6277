"""Small pure steps for the tests of the store, so that they need no rule of the shop."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta

import msgspec

from shopboard.records import (
    Customer,
    Finding,
    Job,
    Layout,
    Machine,
    Note,
    PartLine,
    PartState,
    Refused,
    ShopState,
    Spell,
    Stage,
    Step,
    Table,
)

Action = Callable[[ShopState, datetime], Step]

START = datetime(2026, 3, 30, 8, 0, tzinfo=UTC)


def ticking(start: datetime = START, step: timedelta = timedelta(minutes=1)) -> Callable[[], datetime]:
    """A clock that moves on by `step` at every look."""
    moments: Iterator[datetime] = (start + step * n for n in range(10**9))
    return lambda: next(moments)


def take_in(word: str = "weak when hot") -> Action:
    """A new customer with a new machine and its job, all three carrying the same `word`."""

    def action(state: ShopState, now: datetime) -> Step:
        customer = Customer(id=state.next_id(Table.CUSTOMERS), name=word)
        machine = Machine(
            id=state.next_id(Table.MACHINES), customer=customer.id, model="field-20", serial=word, layout=Layout.IN_LINE
        )
        job = Job(
            id=state.next_id(Table.JOBS),
            customer=customer.id,
            machine=machine.id,
            arrived=now,
            since=now,
            complaint=word,
        )
        return Step(f"took in {job.tag}", (customer, machine, job), subject=job.id)

    return action


def _open(state: ShopState, id: int) -> Job:
    job = state.jobs.get(id)
    if job is None:
        raise Refused(f"job {id} is not open", "open another")
    return job


def change(id: int, why: str, **fields: object) -> Action:
    """Other `fields` for an open job; a callable is given the present value and the moment."""

    def action(state: ShopState, now: datetime) -> Step:
        job = _open(state, id)
        new = {name: value(getattr(job, name), now) if callable(value) else value for name, value in fields.items()}
        return Step(why, (msgspec.structs.replace(job, **new),), subject=id)

    return action


def remark(id: int, text: str, by: str = "ana") -> Action:
    """A note on a job, open or closed."""

    def action(state: ShopState, now: datetime) -> Step:
        whole = state.load_closed(id)
        job = whole[0] if whole else _open(state, id)
        notes = (*job.notes, Note(text=text, at=now, by=by))
        return Step(f"noted on {job.tag}", (msgspec.structs.replace(job, notes=notes),), subject=id)

    return action


def stand(id: int, bay: str) -> Action:
    """The machine stands in a free bay."""

    def action(state: ShopState, now: datetime) -> Step:
        job, other = _open(state, id), state.job_in_bay(bay)
        if other:
            raise Refused(f"{other.tag} stands in {bay}", "move it first")
        return Step(f"{job.tag} to {bay}", (msgspec.structs.replace(job, bay=bay, bay_since=now),), subject=id)

    return action


def need(id: int, number: str) -> Action:
    """A part line for an open job."""

    def action(state: ShopState, now: datetime) -> Step:
        _open(state, id)
        line = PartLine(
            id=state.next_id(Table.PARTS), job=id, number=number, name="seal kit", quantity=1, needed_at=now
        )
        return Step(f"needs {number}", (line,), subject=id)

    return action


def fit(line: int) -> Action:
    """An open part line is fitted."""

    def action(state: ShopState, now: datetime) -> Step:
        found = state.parts.get(line)
        if found is None:
            raise Refused(f"part line {line} is not open")
        return Step("fitted", (msgspec.structs.replace(found, state=PartState.FITTED, received=1),), subject=found.job)

    return action


def collect(id: int) -> Action:
    """The job is over: cause found, an hour spent, machine gone."""

    def action(state: ShopState, now: datetime) -> Step:
        job = msgspec.structs.replace(
            _open(state, id),
            stage=Stage.COLLECTED,
            since=now,
            closed_at=now,
            left=now,
            bay="",
            findings=(Finding(cause="charge-worn", at=now, by="ana", confirmed=True),),
            spent=(Spell(by="ana", at=now, minutes=60),),
        )
        return Step(f"{job.tag} collected", (job,), subject=id)

    return action


def call(customer: int, phone: str) -> Action:
    """Another phone number for a customer."""

    def action(state: ShopState, now: datetime) -> Step:
        return Step("another phone", (msgspec.structs.replace(state.customers[customer], phone=phone),))

    return action


def count_up(customer: int) -> Action:
    """Read the number in a customer's note and write it back one higher."""

    def action(state: ShopState, now: datetime) -> Step:
        found = state.customers[customer]
        return Step("counted", (msgspec.structs.replace(found, note=str(int(found.note or 0) + 1)),))

    return action


def picture(state: ShopState) -> dict[str, object]:
    """All that can be seen of a state, closed jobs whole: two states with equal pictures are the same shop."""
    return {
        "seq": state.seq,
        "customers": dict(state.customers),
        "machines": dict(state.machines),
        "jobs": dict(state.jobs),
        "parts": dict(state.parts),
        "closed": dict(state.closed),
        "whole": {id: state.load_closed(id) for id in state.closed},
        "next": {table: state.next_id(table) for table in Table},
    }
