"""What a job comes to: its estimate, from the records as they are."""

from __future__ import annotations

from decimal import Decimal

from shopboard.estimate import Estimate, Graph, graph_of, if_declined, job_estimate
from shopboard.estimate.of_job import charges_of, rules_of
from shopboard.records import Job, Operation, ShopState

from .guards import changed


def graph_here(state: ShopState, job: Job) -> Graph:
    """The covers of the job's machine; none where the machine or the trouble book was not read."""
    machine = state.machines.get(job.machine)
    return graph_of(state.covers, machine.layout.value if machine else "")


def estimate_of(state: ShopState, job: Job) -> Estimate:
    """The firm estimate of an open job: its operations with covers once, its parts, supplies and tax."""
    return job_estimate(state.settings, job, state.parts_of(job.id), graph_here(state, job))


def with_time_spent(job: Job) -> Job:
    """The job, where it has no operation, with the minutes spent since the yes as one."""
    if job.operations or job.approval is None or job.approval.at is None:
        return job
    since = job.approval.at
    minutes = sum(spell.minutes for spell in job.spent if spell.at >= since)
    if not minutes:
        return job
    timed: Job = changed(job, operations=(Operation(id="time-spent", name="time spent", minutes=minutes),))
    return timed


def if_declined_here(state: ShopState, job: Job) -> Decimal:
    """What is to pay, tax with it, if the answer is no: the diagnostic fee, and what is off put back."""
    graph, settings = graph_here(state, job), state.settings
    off = [graph.covers[id] for id in job.covers_off if id in graph.covers]
    minutes = sum(cover.on * cover.people for cover in off)
    return if_declined(minutes, charges_of(settings, job), rules_of(settings)).gross
