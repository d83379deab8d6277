"""What closed jobs teach the trouble book: causes that a repair proved, where nothing came back.

A lesson is as good as its proof. A job counts once it was collected with a confirmed cause and the shop's comeback days
have passed without the same trouble; until then, and while it is not known whether a comeback is the same trouble, it
does not. All of it is read afresh from the jobs as they are: undo a closing, and its lesson is gone.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from datetime import datetime, timedelta
from typing import TYPE_CHECKING

from shopboard.records import Job, Machine, ShopState, Stage

if TYPE_CHECKING:  # the trouble room is not loaded before it is needed
    from shopboard.trouble import Book, ClosedResult, Learned


def family_of(state: ShopState, machine: Machine) -> str:
    """The family whose machines teach each other: that of the model, or the model itself where it has none."""
    model = state.models.get(machine.model)
    return (model.family if model else "") or machine.model


def results(state: ShopState, closed: Iterable[Job], now: datetime) -> Iterator[ClosedResult]:
    """The lessons of the closed jobs, each whole, as of `now`; the jobs are gone through once."""
    within = timedelta(days=state.settings.comeback_days)
    ended: list[tuple[int, datetime, ClosedResult]] = []
    back: dict[int, datetime] = {}
    for job in closed:
        _note_comeback(back, job)
        lesson = _lesson(state, job)
        if lesson is not None:
            ended.append((job.id, job.closed_at or job.since, lesson))
    for job in state.jobs.values():
        _note_comeback(back, job)
    for id, at, lesson in ended:
        came_back = id in back and back[id] - at <= within
        if now - at > within and not came_back:
            yield lesson


def learned(
    state: ShopState, closed: Iterable[Job], book: Book, now: datetime, layout: str, family: str = ""
) -> Learned:
    """The book as the closed jobs, each whole, correct it for a layout and family as of `now`."""
    from shopboard.trouble import learn

    return learn(book, results(state, closed, now), layout, family=family)


def _note_comeback(back: dict[int, datetime], job: Job) -> None:
    """Remember when a job first came back with the same trouble, or with one not yet known to be another."""
    if job.comeback is not None and job.comeback.same is not False:
        of = job.comeback.of
        back[of] = min(job.arrived, back.get(of, job.arrived))


def _lesson(state: ShopState, job: Job) -> ClosedResult | None:
    """The job as a lesson, None for one that proved nothing.

    Answers given after the last cause was found are left out: by then the machine is being mended, and a sound
    reading is the proof of it.
    """
    from shopboard.trouble import ClosedResult

    proved = [finding for finding in job.findings if finding.confirmed]
    machine = state.machines.get(job.machine)
    if job.stage is not Stage.COLLECTED or not proved or machine is None:
        return None
    found_at = max(finding.at for finding in proved)
    return ClosedResult(
        layout=machine.layout.value,
        causes=tuple(finding.cause for finding in proved),
        symptoms=job.symptoms,
        answers=tuple((answer.check, answer.outcome) for answer in job.answers if answer.at <= found_at),
        family=family_of(state, machine),
    )
