"""What was found, a line a job or customer: what a caller asks first is how it stands and for when it is promised."""

from __future__ import annotations

from datetime import datetime
from zoneinfo import ZoneInfo

from shopboard.records import ClosedJob, Customer, Job, ShopState, Table, tag

from .finding import Found, Hit
from .job_words import day_words, machine_words
from .lines import Line, Role, cell, line, wrapped

_TAG, _STATE = 8, 28


def find_lines(state: ShopState, found: Found, now: datetime, zone: ZoneInfo, width: int) -> list[Line]:
    """The hits; where other words were looked for, which ones stands above them."""
    rows = [_hit_line(state, hit, now, zone, width) for hit in found.hits]
    if found.instead:
        rows.insert(0, line(None, (cell(f"nothing has this as typed; like it: {found.instead}", width), "wait")))
    return rows or [line(None, ("nothing here has all of these words, nor words like them", "wait"))]


def _hit_line(state: ShopState, hit: Hit, now: datetime, zone: ZoneInfo, width: int) -> Line:
    if hit.table is Table.CUSTOMERS:
        customer = state.customers[hit.id]
        words = f"{customer.name}  {customer.phone}"
        return line(
            hit.key, cell("", _TAG), cell(words, width - _TAG - _STATE), (cell("no machine here", _STATE, ">"), "soft")
        )
    job = state.jobs.get(hit.id) or state.closed[hit.id]
    standing = stand_words(job, now, zone)
    role: Role = "" if hit.open else "soft"
    return line(
        hit.key,
        cell(tag(hit.id), _TAG),
        cell(machine_words(state, job), width - _TAG - _STATE - 1) + " ",
        (cell(standing, _STATE, ">"), role),
    )


def stand_words(job: Job | ClosedJob, now: datetime, zone: ZoneInfo) -> str:
    """Stage and promise of an open job; of a closed one when it left."""
    if isinstance(job, ClosedJob):
        return f"{job.stage} {day_words(job.closed_at, now, zone)}"
    return f"{job.stage}" + (f", {day_words(job.promise, now, zone)}" if job.promise else "")


def hit_detail(state: ShopState, hit: Hit | None, width: int) -> list[Line]:
    """Whom to ring, which machine it is, and what was said; two lines."""
    if hit is None:
        return []
    if hit.table is Table.CUSTOMERS:
        return [line(None, (cell(_reach(state.customers[hit.id]), width), "soft"))]
    job = state.jobs.get(hit.id) or state.closed[hit.id]
    customer, machine = state.customers.get(job.customer), state.machines.get(job.machine)
    which = f"serial {machine.serial}" if machine and machine.serial else "no serial"
    reach = f"{_reach(customer)}  {which}" if customer else which
    said = f"“{job.complaint}”"
    return [line(None, (cell(reach, width), "soft")), line(None, cell(said, width))]


def _reach(customer: Customer) -> str:
    return "  ".join(text for text in (customer.phone or "no phone", customer.email, customer.address) if text)


def visits_of(state: ShopState, customer: Customer, now: datetime, zone: ZoneInfo, width: int) -> list[Line]:
    """Every job of a customer, open ones first, the newest first."""
    jobs: list[Job | ClosedJob] = [
        *reversed([job for job in state.jobs.values() if job.customer == customer.id]),
        *reversed([job for job in state.closed.values() if job.customer == customer.id]),
    ]
    rows = [_hit_line(state, Hit(Table.JOBS, job.id, isinstance(job, Job)), now, zone, width) for job in jobs]
    return rows or wrapped("never had a machine here", width, "soft")
