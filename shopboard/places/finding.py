"""Find anything: tags, customers, phones, serials, models and words of complaints, open jobs before closed ones."""

from __future__ import annotations

from typing import NamedTuple

from shopboard.records import Job, ShopState, Table, tag, tag_number

_MOST = 200


class Hit(NamedTuple):
    """A job found: its id, whether it is still open, and the words it was found by."""

    job: int
    open: bool
    words: str


def _digits(text: str) -> str:
    return "".join(char for char in text if char.isdigit())


def find(state: ShopState, typed: str) -> list[Hit]:
    """Jobs in which every word typed occurs, open ones first, newest first, the one whose tag it is before all; all
    open ones when nothing is typed."""
    words = typed.lower().split()
    wanted = tag_number(typed)
    hits = [_hit(state, job.id, True, job.customer, job.machine, job.complaint) for job in state.jobs.values()]
    found = [hit for hit in reversed(hits) if _matches(hit, words, wanted)]
    for closed in reversed(state.closed.values()):
        if len(found) >= _MOST:
            break
        hit = _hit(state, closed.id, False, closed.customer, closed.machine, closed.complaint)
        if words and _matches(hit, words, wanted):
            found.append(hit)
    return sorted(found, key=lambda hit: hit.job != wanted)[:_MOST]


def _hit(state: ShopState, id: int, open: bool, customer_id: int, machine_id: int, complaint: str) -> Hit:
    customer, machine = state.customers.get(customer_id), state.machines.get(machine_id)
    model = state.models.get(machine.model) if machine else None
    whose = f"{customer.name}  {customer.phone}" if customer else ""
    which = f"{model.name if model else machine.model}  {machine.serial}" if machine else ""
    return Hit(id, open, f"{tag(id)}  {which}  {whose}  {complaint}")


def _matches(hit: Hit, words: list[str], wanted: int | None) -> bool:
    if wanted == hit.job:
        return True
    text = hit.words.lower()
    numbers = _digits(text)
    return all(word in text or (len(_digits(word)) >= 5 and _digits(word) in numbers) for word in words)


def job_of_record(state: ShopState, table: Table, number: int) -> int | None:
    """The open job that a scanned machine, part line or customer belongs to, if there is exactly one to open."""
    if table is Table.PARTS:
        part = state.parts.get(number)
        return part.job if part else None
    of: dict[Table, list[Job]] = {
        Table.MACHINES: [job for job in state.jobs.values() if job.machine == number],
        Table.CUSTOMERS: [job for job in state.jobs.values() if job.customer == number],
    }
    jobs = of.get(table, [])
    return jobs[0].id if len(jobs) == 1 else None
