"""What is likely wrong with a job's machine, and which check tells most next: the triage of what the job holds."""

from __future__ import annotations

from typing import TYPE_CHECKING

from shopboard.records import Job, Likely, Machine, ShopState

from . import readings
from .guards import changed, machine_of

if TYPE_CHECKING:  # the trouble room brings numpy, which nothing loads before the first paint
    from shopboard.trouble import Advice, Book, Evidence, NextCheck, Ranking

#: How many likely causes are kept with the job, and the id under which “none of these” stands after them.
KEPT, NONE = 6, "none"


def ranking(state: ShopState, job: Job, book: Book) -> Ranking:
    """The causes of this job's trouble, most likely first, from everything said and measured so far."""
    return _rank(state, job, machine_of(state, job), book)


def checks(state: ShopState, job: Job, book: Book, at: str | None = None) -> tuple[NextCheck, ...]:
    """The checks worth making next, best first, none where repairing at once is the better bet; as `advice`."""
    return advice(state, job, book, at).checks


def advice(state: ShopState, job: Job, book: Book, at: str | None = None) -> Advice:
    """What to do next: checks, or the repair that is the better bet now, with the reason in a sentence.

    `at` says where the machine stands (counter, yard, bay, move), so that the way to a check counts. Covers off count
    as off; checks that the model's units or the shop's instruments do not allow are left out (a shop that names no
    instrument is taken to have all).
    """
    from shopboard.trouble import advise

    machine = machine_of(state, job)
    model = state.models.get(machine.model)
    return advise(
        book,
        machine.layout,
        _evidence(state, job, machine, book),
        covers_off=frozenset(job.covers_off),
        lacks=model.lacks if model else (),
        instruments=state.settings.instruments or None,
        at=at,
    )


def _evidence(state: ShopState, job: Job, machine: Machine, book: Book) -> Evidence:
    """The job's evidence; the ranking leaves out what the book, which a shop edits, no longer has."""
    from shopboard.trouble import Evidence

    return Evidence(
        symptoms=job.symptoms,
        answers=tuple((answer.check, answer.outcome) for answer in job.answers),
        readings=readings.judged(readings.counting(job), state.models.get(machine.model), book),
    )


def _rank(state: ShopState, job: Job, machine: Machine, book: Book) -> Ranking:
    from shopboard.trouble import rank

    return rank(book, machine.layout, _evidence(state, job, machine, book))


def ranked(state: ShopState, job: Job, machine: Machine, book: Book) -> Job:
    """The job with its likeliest causes; with none while nothing is known that could tell them apart."""
    if not (job.symptoms or job.answers or readings.counting(job)):
        unranked: Job = changed(job, likely=())
        return unranked
    found = _rank(state, job, machine, book)
    likely = [_likely(c.id, c.name, c.probability) for c in found.causes[:KEPT]]
    none = _likely(NONE, "none of these", found.none_of_these)
    kept: Job = changed(job, likely=(*likely, none))
    return kept


def _likely(cause: str, name: str, probability: float) -> Likely:
    return Likely(cause=cause, name=name, probability=min(max(float(probability), 0.0), 1.0))


def moved(before: Ranking, after: Ranking) -> tuple[tuple[str, float, float], ...]:
    """What evidence did to the ranking: name, probability before and after, of the cause now likeliest and of the one
    that was, the former first; one entry where they are the same, none where nothing can be wrong."""
    was = {cause.id: cause.probability for cause in before.causes}
    now = {cause.id: cause.probability for cause in after.causes}
    tops = dict.fromkeys(ranking.causes[0].id for ranking in (after, before) if ranking.causes)
    names = {cause.id: cause.name for cause in (*before.causes, *after.causes)}
    return tuple((names[id], was.get(id, 0.0), now.get(id, 0.0)) for id in tops)
