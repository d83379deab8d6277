"""Jobs brought through the shop's rules to the gate, cause proved: what closed jobs teach is learned from these."""

from __future__ import annotations

from decimal import Decimal

from aids.desk import Desk
from shopboard.records import Table
from shopboard.shop import approval, bays, closing, evidence, stages
from shopboard.shop.intake import Intake, NewCustomer, NewMachine, take_in
from shopboard.trouble import Book


def mended(
    desk: Desk,
    book: Book,
    cause: str,
    *answers: tuple[str, str],
    machine: int | None = None,
    model: str = "in-line-1",
    hours: float = 500.0,
) -> int:
    """A machine came (a new one, or `machine`), was answered for, mended of `cause` and collected: its job."""
    state = desk.store.state
    new = machine is None
    intake = Intake(
        customer=NewCustomer(name="Hill Vineyard", phone="555 01") if new else state.machines[machine].customer,
        machine=NewMachine(model=model, serial=f"S-{state.next_id(Table.MACHINES)}") if new else machine,
        complaint="weak",
        symptoms=("weak-drive",),
        hours=hours,
    )
    job = desk.do(take_in, intake, book=book)
    desk.do(stages.diagnose, job, "ana")
    for check, outcome in answers:
        desk.do(evidence.answer, job, check, outcome, book=book)
    desk.do(evidence.find, job, cause, "", book.causes[cause].correction[0], book=book)
    desk.do(approval.ask, job, Decimal(2000))
    desk.do(approval.give, job, "Mr Hill", "by phone")
    desk.do(bays.put, job, "1", "ana")
    desk.do(stages.start_repair, job, "ana")
    for operation in state.jobs[job].operations:
        desk.do(stages.work_done, job, operation.id)
    desk.do(evidence.confirm, job, cause)
    desk.do(stages.finish_repair, job)
    desk.do(stages.road_test, job, True, True, True)
    desk.do(closing.collect, job, Decimal(100), Decimal(100))
    return job
