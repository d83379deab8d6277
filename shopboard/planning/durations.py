"""How long the work still ahead of a job takes: book minutes, covers once, at the pace this shop's records show.

A step takes its book minutes times a factor that is log-normal: exp(m + a person's own share + chance). What the shop's
closed jobs say of m, of each person and of the spread is pulled towards the defaults below, which count as PRIOR jobs;
with none closed the defaults stand alone (common practice, no source). The rest of a step that has been worked on is
what is left given that it was not over yet: E[T | T > a] = E[T]·Φ(σ − z)/Φ(−z), z = (ln a − median)/σ (the partial
expectation of a log-normal).
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from statistics import NormalDist

from shopboard.estimate.labour import labour
from shopboard.records import Job, Stage
from shopboard.trouble import Book

from .outlook import DIAGNOSIS_MINUTES, ROAD_TEST_MINUTES
from .tasks import Kind

#: So many jobs' worth the defaults count.
PRIOR = 10.0
#: The spread (of the natural log) of one step's minutes over its book minutes, before the shop's records say better.
SPREAD: Mapping[Kind, float] = {Kind.DIAGNOSE: 0.6, Kind.REPAIR: 0.35, Kind.ROAD_TEST: 0.3}
#: How far people differ from each other (log), before the records say better, and what any one differs by the week.
BETWEEN_PEOPLE, BY_THE_WEEK = 0.15, 0.05
#: A repair whose cause is not known and of which the book says nothing, in minutes.
UNKNOWN_REPAIR = 90.0
#: So little is left at least of a step that is not over, in minutes.
LEAST_LEFT = 5.0
#: Spells booked under a word that begins so are diagnosis, all others repair.
DIAGNOSIS = "diagnosis"

_NORMAL = NormalDist()


@dataclass(frozen=True)
class Took:
    """One step of a closed job: who did it, book minutes, minutes booked."""

    kind: Kind
    person: str
    book: float
    spent: float


@dataclass(frozen=True)
class Pace:
    """How minutes spent stand to book minutes for one kind of step: the log of the middle factor, the spread of single
    steps, each person's own share (log), what is not known of that share, and how many jobs say so."""

    middle: float = 0.0
    spread: float = 0.35
    people: Mapping[str, float] = field(default_factory=dict)
    unsure: Mapping[str, float] = field(default_factory=dict)
    jobs: int = 0

    def of(self, person: str) -> float:
        """The log of a person's factor; without a name, of the shop's."""
        return self.middle + self.people.get(person, 0.0)

    def unsure_of(self, person: str) -> float:
        """How far a person may be off that (log, one standard deviation), the same for all they do."""
        return math.hypot(self.unsure.get(person, BETWEEN_PEOPLE), BY_THE_WEEK)

    def left(self, book: float, done: float = 0.0, person: str = "") -> float:
        """Minutes left on average of a step of `book` minutes on which `done` were spent and which is not over.

        >>> round(Pace(spread=0.35).left(60), 1), Pace(spread=0.35).left(60, 200) > 15
        (63.8, True)
        """
        if book <= 0:
            return 0.0
        mean = book * math.exp(self.of(person) + self.spread**2 / 2)
        if done <= 0:
            return mean
        z = (math.log(done / book) - self.of(person)) / self.spread
        beyond = _NORMAL.cdf(-z)
        if beyond < 1e-9:  # so far out that the formula divides nothing by nothing: it grows like this
            return max(LEAST_LEFT, done * self.spread / max(z, 1.0))
        return max(LEAST_LEFT, mean * _NORMAL.cdf(self.spread - z) / beyond - done)


def paces(took: Iterable[Took]) -> dict[Kind, Pace]:
    """The pace of every kind of step from what closed jobs took; the defaults where there are none."""
    by_kind: dict[Kind, list[tuple[str, float]]] = {kind: [] for kind in Kind}
    for one in took:
        if one.book > 0 and one.spent > 0:
            by_kind[one.kind].append((one.person, math.log(one.spent / one.book)))
    return {kind: _pace(SPREAD[kind], rows) for kind, rows in by_kind.items()}


def _pace(default: float, rows: Sequence[tuple[str, float]]) -> Pace:
    n = len(rows)
    middle = sum(log for _, log in rows) / (n + PRIOR)
    squares = sum((log - middle) ** 2 for _, log in rows)
    spread = math.sqrt((PRIOR * default**2 + squares) / (PRIOR + n))
    weight = spread**2 / BETWEEN_PEOPLE**2  # what knowing nothing of a person counts, in jobs
    people: dict[str, list[float]] = {}
    for person, log in rows:
        people.setdefault(person, []).append(log - middle)
    return Pace(
        middle=middle,
        spread=spread,
        people={person: sum(logs) / (len(logs) + weight) for person, logs in people.items()},
        unsure={person: spread / math.sqrt(len(logs) + weight) for person, logs in people.items()},
        jobs=n,
    )


def took_of(job: Job, book: Book) -> tuple[Took, ...]:
    """What a closed job says of durations: its diagnosis against DIAGNOSIS_MINUTES, its repair against its operations
    with covers once. The person is who booked most of it; a job with nothing booked says nothing."""
    found = []
    for kind, of in ((Kind.DIAGNOSE, DIAGNOSIS_MINUTES), (Kind.REPAIR, operations_minutes(job, book))):
        spells = [s for s in job.spent if s.what.startswith(DIAGNOSIS) == (kind is Kind.DIAGNOSE)]
        by: dict[str, float] = {}
        for spell in spells:
            by[spell.by] = by.get(spell.by, 0.0) + spell.minutes
        if by and of > 0:
            found.append(Took(kind, max(by, key=lambda who: by[who]), of, sum(by.values())))
    return tuple(found)


def operations_minutes(job: Job, book: Book, *, undone: bool = False) -> float:
    """Book minutes of a job's operations with every cover once; `undone` counts only what is still to do, less the
    covers that are off, with those put back."""
    todo = [op for op in job.operations if not (undone and op.done)]
    known = [(op.minutes, [c for c in op.covers if c in book.covers]) for op in todo]
    if not undone:
        return labour(known, book.covers).total
    back_on = sum(book.covers[c].on for c in job.covers_off if c in book.covers)
    return labour(known, book.covers, job.covers_off).total + back_on


# -- what is still ahead -----------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Guess:
    """What a repair may turn out to be while the cause is not known: how likely, minutes by the book, what the bay must
    offer and the person know, and the lead classes of its parts."""

    cause: str
    probability: float
    minutes: float
    needs: frozenset[str] = frozenset()
    skills: frozenset[str] = frozenset()
    parts: tuple[str, ...] = ()


@dataclass(frozen=True)
class StepAhead:
    """One step still ahead: book minutes, minutes spent on it already, what it asks of bay (None: no bay) and person.
    For a repair whose cause is not known `guesses` says what it may be, most likely first, and `minutes` is their
    mean."""

    kind: Kind
    minutes: float
    done: float = 0.0
    needs: frozenset[str] | None = frozenset()
    skills: frozenset[str] = frozenset()
    guesses: tuple[Guess, ...] = ()


_BEFORE_REPAIR_IS_KNOWN = (Stage.ARRIVED, Stage.DIAGNOSED)
_OVER = (Stage.COLLECT, Stage.COLLECTED, Stage.DECLINED)


def steps_ahead(job: Job, book: Book, layout: str) -> tuple[StepAhead, ...]:
    """The steps still ahead of a job, in order; none for one that is done, declined or gone."""
    if job.stage in _OVER:
        return ()
    steps: list[StepAhead] = []
    if job.stage in _BEFORE_REPAIR_IS_KNOWN:
        begun = job.stage is Stage.DIAGNOSED
        spent = sum(s.minutes for s in job.spent if s.what.startswith(DIAGNOSIS) or begun)
        bay: frozenset[str] | None = None if begun and not job.bay else frozenset()
        steps.append(StepAhead(Kind.DIAGNOSE, DIAGNOSIS_MINUTES, spent if begun else 0.0, bay))
    if job.stage is not Stage.ROAD_TEST:
        steps.append(_repair(job, book, layout))
    return (*steps, StepAhead(Kind.ROAD_TEST, ROAD_TEST_MINUTES, 0.0, None))


def _repair(job: Job, book: Book, layout: str) -> StepAhead:
    todo = [op for op in job.operations if not op.done]
    if job.operations:
        spent = sum(s.minutes for s in job.spent if s.at >= job.since) if job.stage is Stage.REPAIR else 0.0
        done_before = operations_minutes(job, book) - operations_minutes(job, book, undone=True)
        return StepAhead(
            Kind.REPAIR,
            operations_minutes(job, book, undone=True),
            max(0.0, spent - max(0.0, done_before)),
            frozenset(need for op in todo for need in op.needs),
            frozenset(op.skill for op in todo if op.skill),
        )
    guesses = guesses_of(job, book, layout)
    if not guesses:
        return StepAhead(Kind.REPAIR, UNKNOWN_REPAIR)
    first, whole = guesses[0], sum(guess.probability for guess in guesses)
    mean = sum(guess.probability * guess.minutes for guess in guesses) / whole
    return StepAhead(Kind.REPAIR, mean, 0.0, first.needs, first.skills, guesses)


def guesses_of(job: Job, book: Book, layout: str) -> tuple[Guess, ...]:
    """What the repair may be, from the ranking kept with the job: most likely first; what the ranking leaves open is
    UNKNOWN_REPAIR."""
    found = []
    for likely in job.likely:
        cause = book.causes.get(likely.cause)
        known = [book.corrections[c] for c in (cause.correction if cause else ()) if c in book.corrections]
        if known:
            fix = known[0]
            covers = [c for c in fix.covers_on(layout) if c in book.covers]
            minutes = labour([(fix.minutes_on(layout), covers)], book.covers, job.covers_off).total
            parts = tuple(part.lead_class for part in fix.parts)
            skills = frozenset([fix.skill] if fix.skill else [])
            found.append(Guess(likely.cause, likely.probability, minutes, frozenset(fix.needs), skills, parts))
    rest = 1.0 - sum(guess.probability for guess in found)
    if found and rest > 0.01:
        found.append(Guess("none", rest, UNKNOWN_REPAIR))
    return tuple(sorted(found, key=lambda guess: -guess.probability))
