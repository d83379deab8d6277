"""What helps a job that is likely to be late, found by trying: the same futures run again with one thing changed.

Tried are: each part that is missing here by the next working day, the customer answering today, and the job going
before another that has time to spare. Because all else meets the same luck, the difference is the change's own.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from datetime import datetime
from functools import partial

import msgspec

from shopboard.records import PartLine, PartState, Stage, tag

from .draws import redraw
from .problem import JobFacts, Reckoned
from .promise import Futures
from .waiting import Curve, PartAhead

#: A change is worth telling from this gain in probability on.
WORTH = 0.05
#: With so many others a job is tried before them.
SWAPS = 3
#: A job this sure to be on time has time to spare.
SPARE = 0.9
_AT_ONCE = Curve((0.0,), (1.0,), 0.0)


@dataclass(frozen=True)
class Help:
    """One thing that would help: the job, what to do ("part", "call" or "swap") with which part line or other job, its
    probability to be on time now and then, and how much the others lose together (in jobs on time)."""

    job: int
    what: str
    subject: int
    words: str
    now: float
    then: float
    others: float


def helps(found: Futures, job: int) -> tuple[Help, ...]:
    """What would help a promised job, the most first; what gains less than WORTH is left out."""
    ahead = found.reckoned.problem.jobs[found.draws.place(job)]
    if ahead.promise is None:
        return ()
    now, rest = found.by(job, ahead.promise), _others(found, job)
    made = []
    for what, subject, words, changed in _changes(found, job):
        other = changed()
        then = other.by(job, ahead.promise)
        if then - now >= WORTH:
            made.append(Help(job, what, subject, words, now, then, max(0.0, rest - _others(other, job))))
    return tuple(sorted(made, key=lambda help: help.others - (help.then - help.now)))


def _others(found: Futures, job: int) -> float:
    """How many of the other promised jobs are on time, on average, weighted."""
    jobs = found.reckoned.problem.jobs
    return sum(a.weight * found.by(a.job, a.promise) for a in jobs if a.promise is not None and a.job != job)


_Change = tuple[str, int, str, Callable[[], Futures]]


def _changes(found: Futures, job: int) -> Iterator[_Change]:
    """Each change to try: what, of which line or job, in words, and the futures with it."""
    reckoned = found.reckoned
    facts = reckoned.facts[job]
    soon = _next_day(reckoned)
    for part in facts.parts:
        if part.at(0.5) > soon:
            line = part.line
            words = f"have {line.name} here {_day(soon, reckoned)}"
            yield "part", line.id, words, partial(_with, found, _with_part(facts, part, soon))
    if facts.job.stage is Stage.APPROVAL and facts.asked is not None:
        yield "call", facts.job.customer, "have the customer's answer today", partial(_with, found, _answered(facts))
    for other in _spare(found, job):
        yield "swap", other, f"take it before {tag(other)}", partial(_before, found, job, other)


def _with(found: Futures, facts: JobFacts) -> Futures:
    return found.with_draws(redraw(found.draws, found.reckoned, facts, found.luck))


def _with_part(facts: JobFacts, part: PartAhead, soon: datetime) -> JobFacts:
    """The job's facts if this part came then."""
    here = replace(part, line=_ordered(part.line), start=soon, wait=_AT_ONCE)
    return replace(facts, parts=tuple(here if one is part else one for one in facts.parts))


def _ordered(line: PartLine) -> PartLine:
    """The line as if it had been ordered: it waits for no yes."""
    ordered: PartLine = msgspec.structs.replace(line, state=PartState.ORDERED)
    return ordered


def _answered(facts: JobFacts) -> JobFacts:
    return replace(facts, asked=None)


def _before(found: Futures, job: int, other: int) -> Futures:
    """The two change places: each takes the other's urgency."""
    due, weight = found.draws.due.copy(), found.draws.weight.copy()
    mine, theirs = found.draws.place(job), found.draws.place(other)
    due[mine], due[theirs] = min(due[mine], due[theirs]) - 1, max(due[mine], due[theirs])
    weight[mine], weight[theirs] = max(weight[mine], weight[theirs]), min(weight[mine], weight[theirs])
    rest = found.draws.mean.sum(axis=1)
    due[mine] = min(due[mine], due[theirs] - rest[theirs] + rest[mine] - 1)
    return found.with_draws(replace(found.draws, due=due, weight=weight))


def _spare(found: Futures, job: int) -> list[int]:
    """Jobs that could make room: on time for sure or nearly, and sharing somebody with this one; most work first."""
    draws, jobs = found.draws, found.reckoned.problem.jobs
    mine = draws.place(job)
    people = int(draws.people[0, mine, 0])
    room = [
        (float(draws.mean[place].sum()), ahead.job)
        for place, ahead in enumerate(jobs)
        if ahead.job != job
        and not draws.first[place]
        and int(draws.people[0, place, 0]) & people
        and (ahead.promise is None or found.by(ahead.job, ahead.promise) > SPARE)
        and float((found.done[:, place] < found.done[:, mine]).mean()) > 0.5
    ]
    return [other for _, other in sorted(room, reverse=True)[:SWAPS]]


def _next_day(reckoned: Reckoned) -> datetime:
    """The opening of the next day the shop is open."""
    calendar = reckoned.problem.calendar
    today = calendar.span_of(reckoned.problem.now)
    return calendar.moment(today.first + today.slots)


def _day(moment: datetime, reckoned: Reckoned) -> str:
    return f"{moment.astimezone(reckoned.zone):%a}"
