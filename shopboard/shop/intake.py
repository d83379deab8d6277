"""The counter: a machine comes in with a complaint and gets a tag."""

from __future__ import annotations

from datetime import datetime
from decimal import Decimal
from typing import TYPE_CHECKING

from shopboard.records import (
    ClosedJob,
    Comeback,
    Customer,
    Duty,
    Job,
    Layout,
    Machine,
    Moment,
    Payer,
    Record,
    Refused,
    ShopState,
    Stage,
    Step,
    Table,
    tag,
)

from . import evidence, history, said
from .guards import changed, customer_of, machine_words, rule
from .meter import read_meter

if TYPE_CHECKING:
    from shopboard.trouble import Book

recent_job = history.recent_job


class NewCustomer(Record, kw_only=True):
    """A customer nobody knows yet."""

    name: str
    phone: str = ""
    address: str = ""
    email: str = ""
    note: str = ""


class NewMachine(Record, kw_only=True):
    """A machine that was never here; `model` is the id of a model the shop keeps, which gives the layout, or with
    `layout` the name of one that it does not keep."""

    model: str
    layout: Layout | None = None
    serial: str = ""
    duty: Duty = Duty.NORMAL
    first_seen_used: bool = False
    value: str = ""
    note: str = ""


class Intake(Record, kw_only=True):
    """What the counter asks. `customer` and `machine` are numbers of known ones or new ones; `answers` pairs of
    check and outcome; `hours` None when the meter cannot be read; `diagnostic_fee` None for the shop's usual one;
    `comeback_of` None to let the shop's own records tell. `new_meter` and `new_owner` answer what a refusal asks."""

    customer: int | NewCustomer
    machine: int | NewMachine
    complaint: str
    hours: float | None = None
    new_meter: bool = False
    new_owner: bool = False
    symptoms: tuple[str, ...] = ()
    answers: tuple[tuple[str, str], ...] = ()
    condition: str = ""
    keys: str = ""
    attachments: str = ""
    payer: Payer = Payer.CUSTOMER
    order_number: str = ""
    diagnostic_fee: Decimal | None = None
    spend_before_call: Decimal | None = None
    promise: Moment | None = None
    machine_down: bool = False
    comeback_of: int | None = None


@rule
def take_in(state: ShopState, now: datetime, by: str, intake: Intake, *, book: Book) -> Step:
    """Opens a job and gives the machine its tag; keeps a new customer and a new machine with it.

    Refused: a blank complaint or name, an unknown customer, model, symptom, check or outcome, a machine that is here
    already, a serial that is known already, another owner's machine, an hour reading that cannot be, a sum that is
    none, a promise in the past.
    """
    complaint = said.words(intake.complaint, "the complaint", "say in the customer's words what the machine does")
    customer = _customer(state, intake.customer)
    machine = _machine(state, now, customer, intake)
    came_back = _came_back(state, now, machine.id, intake.comeback_of)
    job = Job(
        id=state.next_id(Table.JOBS),
        customer=customer.id,
        machine=machine.id,
        arrived=now,
        since=now,
        complaint=complaint,
        stage=Stage.ARRIVED,
        hours=intake.hours,
        condition=intake.condition,
        keys=intake.keys,
        attachments=intake.attachments,
        payer=intake.payer,
        order_number=intake.order_number,
        machine_down=intake.machine_down,
        comeback=came_back,
        promise=_promise(intake.promise, now),
        diagnostic_fee=_fee(state, intake),
        spend_before_call=_spend(state, intake),
    )
    job = evidence.with_evidence(state, job, machine, book, now, by, intake.symptoms, intake.answers)
    kept = state.customers.get(customer.id)
    puts: tuple[Record, ...] = (machine, job) if kept == customer else (customer, machine, job)
    return Step(_sentence(state, job, customer, machine), puts, subject=job.id)


def _fee(state: ShopState, intake: Intake) -> Decimal:
    given = intake.diagnostic_fee
    usual = state.settings.diagnostic_fee
    return said.money(usual if given is None else given, "the diagnostic fee", state.settings)


def _spend(state: ShopState, intake: Intake) -> Decimal | None:
    given = intake.spend_before_call
    return None if given is None else said.money(given, "the sum before a call", state.settings)


def _promise(promise: datetime | None, now: datetime) -> datetime | None:
    if promise is not None and promise <= now:
        raise Refused("the promise is in the past", "promise a time that is still to come")
    return promise


def _sentence(state: ShopState, job: Job, customer: Customer, machine: Machine) -> str:
    hours = "hour meter not read" if job.hours is None else f"{said.plain(job.hours)} h"
    back = f", back from {tag(job.comeback.of)}" if job.comeback else ""
    return f"{job.tag} taken in: {machine_words(state, machine)} of {customer.name}, {hours}{back}: {job.complaint}."


# -- who --------------------------------------------------------------------------------------------------------------


def _customer(state: ShopState, given: int | NewCustomer) -> Customer:
    if isinstance(given, int):
        return customer_of(state, given)
    name = said.words(given.name, "the customer's name", "ask who brings the machine")
    phone = said.digits(given.phone)
    for known in state.customers.values():
        if said.same(known.name) != said.same(name):
            continue
        if not phone:
            raise Refused(
                f"{known.name} is known already (customer {known.id})",
                "pick that one, or add a phone number to tell the two apart",
            )
        if said.digits(known.phone) == phone:
            return _filled(known, given)
    return Customer(
        id=state.next_id(Table.CUSTOMERS),
        name=name,
        phone=given.phone,
        address=given.address,
        email=given.email,
        note=given.note,
    )


def _filled(known: Customer, given: NewCustomer) -> Customer:
    fresh = {field: getattr(known, field) or getattr(given, field) for field in ("address", "email", "note")}
    filled: Customer = changed(known, **fresh)
    return filled


# -- which machine ----------------------------------------------------------------------------------------------------


def _machine(state: ShopState, now: datetime, customer: Customer, intake: Intake) -> Machine:
    given = intake.machine
    if isinstance(given, int):
        machine = _known_machine(state, given, customer, intake.new_owner)
    else:
        machine = _new_machine(state, now, customer, given)
    read: Machine = changed(machine, readings=read_meter(machine, intake.hours, intake.new_meter, now))
    return read


def _known_machine(state: ShopState, machine_id: int, customer: Customer, new_owner: bool) -> Machine:
    machine = state.machines.get(machine_id)
    if machine is None:
        raise Refused(f"there is no machine number {machine_id}", "pick one of the list, or enter a new machine")
    standing = history.here(state, machine_id)
    if standing is not None:
        would_do = "let it leave first" if standing.stage.closed else "add what is new to that job"
        raise Refused(f"this machine is here already as {standing.tag} ({standing.stage})", would_do)
    if machine.customer == customer.id:
        return machine
    if not new_owner:
        owner = customer_of(state, machine.customer).name
        raise Refused(f"this machine belongs to {owner}: has it changed hands?", f"say so if it has, or pick {owner}")
    handed_over: Machine = changed(machine, customer=customer.id)
    return handed_over


def _new_machine(state: ShopState, now: datetime, customer: Customer, given: NewMachine) -> Machine:
    model, layout = state.models.get(given.model), given.layout
    if model is not None:
        layout = model.layout
    elif layout is None:
        raise Refused(
            f"there is no model {given.model or '(blank)'} here",
            "pick one of the list, say its layout, or add it to models.toml",
        )
    _serial_is_new(state, given)
    return Machine(
        id=state.next_id(Table.MACHINES),
        customer=customer.id,
        model=model.id if model else said.words(given.model, "the model", "read it from the plate"),
        layout=layout,
        unlisted=model is None,
        serial=given.serial,
        duty=given.duty,
        first_seen=now,
        first_seen_used=given.first_seen_used,
        value=given.value,
        note=given.note,
    )


def _serial_is_new(state: ShopState, given: NewMachine) -> None:
    serial = said.same(given.serial)
    for known in state.machines.values():
        if serial and known.model == given.model and said.same(known.serial) == serial:
            owner = customer_of(state, known.customer).name
            last = history.last_tag(state, known.id)
            raise Refused(
                f"serial {given.serial} is {owner}'s machine{f', tag {last}' if last else ', never here before'}",
                "pick that machine, or read the serial plate again",
            )


# -- whether it came back ---------------------------------------------------------------------------------------------


def _came_back(state: ShopState, now: datetime, machine_id: int, given: int | None) -> Comeback | None:
    if given is None:
        recent: ClosedJob | None = recent_job(state, machine_id, now)
        return Comeback(of=recent.id) if recent else None
    if all(visit.id != given for visit in history.visits(state, machine_id)):
        raise Refused(f"{tag(given)} is no closed job of this machine", "pick one of the machine's own jobs, or none")
    return Comeback(of=given)
