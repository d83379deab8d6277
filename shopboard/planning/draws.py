"""Many futures of one shop: how long each step takes, when yes and parts come, and what the cause turns out to be.

All draws of one quantity stand in one numpy array, first axis the draw. Every future has its own luck with single
steps, and one factor for each person that holds for all they do in it. The numbers come from a generator for each job
(`Luck`), so that the same job meets the same luck when others come, go or change (common random numbers): a difference
between two runs is then the change's own.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from statistics import NormalDist
from typing import TYPE_CHECKING, Any

from shopboard.records import Bay, PartState, Person

from .durations import LEAST_LEFT, Guess, Pace, StepAhead
from .problem import UNPROMISED_SLOTS, JobFacts, Reckoned
from .tasks import SLOT, Calendar, JobAhead, Kind, Task
from .waiting import Curve, Waiting

if TYPE_CHECKING:
    from numpy.random import Generator

Array = Any
#: The generator of a job, by its number; those of people have numbers below 0.
Luck = Callable[[int], "Generator"]
#: How many futures a probability rests on.
DRAWS = 400
#: What no record of past jobs shows. This share of steps takes twice as long: somebody walks in, is ill, a bolt breaks.
#: This share of waits ends half a day later: the order misses the day's post. A wait is not doubled: its own record has
#: its long tail already, and doubling that made dates at 95 % hold in 97 % of cases. Chosen on simulated shops (seeds 1
#: to 15) so that dates hold both as the records say and in rough weather.
SURPRISE, TWICE = 0.12, 2.0
DELAYED, DELAY = 0.25, 0.5

_NORMAL = NormalDist()
_MINUTES = SLOT / timedelta(minutes=1)


@dataclass
class Draws:
    """`many` futures of `jobs` with at most `steps` steps each.

    By draw, job and step: `slots` of work before the person's factor (0: no such step), `ready` the first slot by
    waits, `lag` days after the step before and, once the shop is open then, `then` days more, `people` and `bays` bit
    masks of who and where. By draw and person: `factor`. By job: `due` slot, `weight`, `held` the bay its machine
    keeps until its first step ends (-1: none), `first` whether its first step is under way or due at its own start.
    By job and step: `mean` slots.
    """

    ids: tuple[int, ...]
    many: int
    slots: Array
    ready: Array
    lag: Array
    then: Array
    people: Array
    bays: Array
    factor: Array
    due: Array
    weight: Array
    held: Array
    first: Array
    mean: Array
    calendar: Calendar
    now: int

    def place(self, job: int) -> int:
        """Where a job stands on the job axis. ValueError if it has no step ahead."""
        return self.ids.index(job)


def draw(reckoned: Reckoned, luck: Luck, *, many: int = DRAWS) -> Draws:
    """Futures of every job that has steps ahead."""
    import numpy as np

    problem = reckoned.problem
    steps = max((len(ahead.tasks) for ahead in problem.jobs), default=1)
    shape = (many, len(problem.jobs), steps)
    found = Draws(
        ids=tuple(ahead.job for ahead in problem.jobs),
        many=many,
        slots=np.zeros(shape, np.float32),
        ready=np.full(shape, problem.now, np.int32),
        lag=np.zeros(shape, np.float32),
        then=np.zeros(shape, np.float32),
        people=np.zeros(shape, np.int32),
        bays=np.zeros(shape, np.int32),
        factor=_factors(reckoned, luck, many),
        due=np.array([due_of(ahead) for ahead in problem.jobs], np.float32),
        weight=np.array([ahead.weight for ahead in problem.jobs], np.float32),
        held=np.full(len(problem.jobs), -1, np.int32),
        first=np.zeros(len(problem.jobs), bool),
        mean=np.zeros((len(problem.jobs), steps), np.float32),
        calendar=problem.calendar,
        now=problem.now,
    )
    moments = Moments(problem.calendar)
    for place, ahead in enumerate(problem.jobs):
        _draw_job(found, place, ahead, reckoned, moments, luck(ahead.job))
    return found


def redraw(found: Draws, reckoned: Reckoned, facts: JobFacts, luck: Luck) -> Draws:
    """The same futures, but for one job, whose parts or answer come otherwise: `facts` takes the place of its own."""
    changed = replace(found, slots=found.slots.copy(), ready=found.ready.copy(), lag=found.lag.copy())
    changed = replace(changed, then=found.then.copy())
    changed = replace(changed, people=found.people.copy(), bays=found.bays.copy())
    place = found.place(facts.job.id)
    ahead = reckoned.problem.jobs[place]
    other = replace(reckoned, facts={**reckoned.facts, facts.job.id: facts})
    _draw_job(changed, place, ahead, other, Moments(reckoned.problem.calendar), luck(facts.job.id))
    return changed


def due_of(ahead: JobAhead) -> int:
    """The slot a job is wanted by: its promise, or UNPROMISED_SLOTS after it came."""
    return ahead.promise if ahead.promise is not None else ahead.arrived + UNPROMISED_SLOTS


def _factors(reckoned: Reckoned, luck: Luck, many: int) -> Array:
    import numpy as np

    pace = reckoned.known.paces[Kind.REPAIR]
    columns = []
    for number, person in enumerate(reckoned.problem.people):
        draws = luck(-1 - number).standard_normal(many)
        columns.append(np.exp(pace.people.get(person.id, 0.0) + pace.unsure_of(person.id) * draws))
    return np.array(columns, np.float32).T if columns else np.ones((many, 0), np.float32)


class Moments:
    """The axis as days since its beginning, to count days that pass while the shop is closed."""

    def __init__(self, calendar: Calendar) -> None:
        import numpy as np

        self.begin: datetime = calendar.moment(0)
        ahead = [span for span in calendar.spans if span.first + span.slots > 0]
        days = [self.of(span.start) + SLOT / timedelta(days=1) * np.arange(span.slots) for span in ahead]
        firsts = min((span.first for span in ahead), default=0)
        whole = np.concatenate(days) if days else np.zeros(1)
        self.days: Array = np.append(whole[max(0, -firsts) :], whole[-1] + 1.0)

    def of(self, moment: datetime) -> float:
        """Days from the beginning of the axis to a moment."""
        return (moment - self.begin) / timedelta(days=1)

    def slots(self, moment: datetime, days: Array) -> Array:
        """The first slots at or after a moment and so many days."""
        import numpy as np

        return np.searchsorted(self.days, self.of(moment) + days - 1e-9)

    def after(self, slots: Array, days: Array) -> Array:
        """The first slots at or after the end of work that ends before `slots`, and so many days."""
        import numpy as np

        before = np.clip(slots - 1, 0, len(self.days) - 1)
        later = np.searchsorted(self.days, self.days[before] + SLOT / timedelta(days=1) + days - 1e-9)
        return np.where(days > 0, later, slots)

    def open_at(self, days: Array) -> Array:
        """Days of the axis moved on to when the shop is open next: nobody orders a part at night."""
        import numpy as np

        return self.days[np.clip(np.searchsorted(self.days, days - 1e-9), 0, len(self.days) - 1)]

    def later(self, slots: Array, days: Array) -> Array:
        """The first slots at or after the beginning of `slots` and so many days."""
        import numpy as np

        begin = self.days[np.clip(slots, 0, len(self.days) - 1)]
        return np.where(days > 0, np.searchsorted(self.days, begin + days - 1e-9), slots)


def curve_days(curve: Curve, u: Array) -> Array:
    """The days of a curve at many shares."""
    import numpy as np

    inside = np.interp(u, curve.shares, curve.days)
    last = curve.shares[-1]
    rest = max(1 - last, 1e-9) / np.clip(1 - u, 1e-9, max(1 - last, 1e-9))
    return np.where(u > last, curve.days[-1] + curve.tail * np.log(rest), inside)


def _draw_job(found: Draws, place: int, ahead: JobAhead, reckoned: Reckoned, moments: Moments, rng: Generator) -> None:
    import numpy as np

    problem, facts = reckoned.problem, reckoned.facts[ahead.job]
    cause = rng.random(found.many)
    for k, (task, step) in enumerate(zip(ahead.tasks, facts.steps, strict=True)):
        u, luck, odd = rng.random(found.many), rng.standard_normal(found.many), rng.random(found.many)
        pace = reckoned.known.paces[step.kind]
        chosen = _which(step.guesses, cause) if step.guesses else None
        book = step.minutes if chosen is None else np.array([g.minutes for g in step.guesses])[chosen]
        found.slots[:, place, k] = _surprised(_minutes_left(pace, book, step.done, luck, u), odd) / _MINUTES
        found.mean[place, k] = task.slots
        found.people[:, place, k] = _able(problem.people, task, step, chosen)
        found.bays[:, place, k] = _bays(problem.bays, task, step, chosen)
        found.ready[:, place, k] = np.maximum(task.start or 0, problem.now)
        if step.kind is Kind.REPAIR and task.start is None:
            _draw_waits(found, place, k, facts, reckoned, moments, rng, chosen)
        if k == 0:
            _draw_standing(found, place, task, problem.bays)


def _surprised(usual: Array, u: Array) -> Array:
    """What is usual, and now and then twice that."""
    import numpy as np

    return np.where(u < SURPRISE, TWICE * usual, usual)


def _delayed(days: Array, u: Array) -> Array:
    """The days of a wait, and now and then some more; what is there on its day (0) stays so."""
    import numpy as np

    return np.where((u < DELAYED) & (days > 0), days + DELAY, days)


def _which(guesses: Sequence[Guess], u: Array) -> Array:
    import numpy as np

    shares = np.cumsum([guess.probability for guess in guesses])
    return np.minimum(np.searchsorted(shares / shares[-1], u), len(guesses) - 1)


def _minutes_left(pace: Pace, book: Any, done: float, luck: Array, u: Array) -> Array:
    """Minutes left before the person's factor, given that what was spent did not end it."""
    import numpy as np

    if done > 0 and np.ndim(book) == 0:
        z = (math.log(done / book) - pace.middle) / pace.spread if book > 0 else 8.0
        over = min(_NORMAL.cdf(z), 1 - 1e-6)
        luck = np.array([_NORMAL.inv_cdf(min(over + (1 - over) * one, 1 - 1e-9)) for one in u])
    return np.maximum(book * np.exp(pace.middle + pace.spread * luck) - done, LEAST_LEFT)


def _able(people: Sequence[Person], task: Task, step: StepAhead, chosen: Array | None) -> Any:
    """The bit mask of who can do a step, by draw where that depends on the cause."""
    import numpy as np

    def mask(skills: frozenset[str]) -> int:
        able = [n for n, p in enumerate(people) if (p.id == task.person if task.person else skills <= set(p.skills))]
        return sum(1 << n for n in able)

    if chosen is None:
        return mask(task.skills)
    return np.array([mask(guess.skills) for guess in step.guesses], np.int32)[chosen]


def no_bay(bays: Sequence[Bay]) -> int:
    """The bit that stands for "no bay needed"."""
    return 1 << len(bays)


def _bays(bays: Sequence[Bay], task: Task, step: StepAhead, chosen: Array | None) -> Any:
    import numpy as np

    def mask(needs: frozenset[str] | None) -> int:
        if needs is None or task.keeps_bay:
            return no_bay(bays)
        fit = [n for n, bay in enumerate(bays) if (bay.id == task.bay if task.bay else needs <= set(bay.can))]
        return sum(1 << n for n in fit)

    if chosen is None or task.capabilities is None:
        return mask(task.capabilities)
    return np.array([mask(guess.needs) for guess in step.guesses], np.int32)[chosen]


def _draw_standing(found: Draws, place: int, task: Task, bays: Sequence[Bay]) -> None:
    if task.keeps_bay:
        found.held[place] = next((n for n, bay in enumerate(bays) if bay.id == task.bay), -1)
    found.first[place] = task.start is not None


def _draw_waits(
    found: Draws, place: int, k: int, facts: JobFacts, reckoned: Reckoned, moments: Moments, rng: Generator,
    chosen: Array | None,
) -> None:  # fmt: skip
    import numpy as np

    waiting, now = reckoned.known.waiting, reckoned.now
    many = found.many
    answer, needs, odd = rng.random(many), rng.random(many), rng.random(many)
    answered = np.full(many, moments.of(now))
    if facts.asked is not None:
        waited = max(0.0, (now - facts.asked) / timedelta(days=1))
        left = curve_days(waiting.answer(waited), answer) - waited
        said = moments.of(now) + _delayed(left, odd)
        answered = np.maximum(answered, said)
    ready = answered
    for part in facts.parts:
        wait = _delayed(curve_days(part.wait, rng.random(many)), rng.random(many))
        begun = moments.open_at(answered) if part.line.state is PartState.NEEDED else moments.of(part.start)
        ready = np.maximum(ready, begun + wait)
    found.ready[:, place, k] = np.maximum(moments.slots(moments.begin, ready), found.now)
    if k > 0 and facts.will_ask:
        days = _delayed(curve_days(waiting.answer(), answer), odd)
        found.lag[:, place, k] = days
        if chosen is not None:
            parts = _parts_days(facts.guesses, chosen, needs, waiting, reckoned.usual_days, rng, many)
            found.then[:, place, k] = parts


def _parts_days(
    guesses: Sequence[Guess], chosen: Array, needs: Array, waiting: Waiting, usual: float, rng: Generator, many: int
) -> Array:
    """Days that parts take which are ordered once the cause is known."""
    import numpy as np

    days = np.zeros(many)
    curves: Mapping[str, Array] = {
        lead_class: _delayed(curve_days(waiting.lead("", lead_class, usual), rng.random(many)), rng.random(many))
        for lead_class in sorted({part for guess in guesses for part in guess.parts})
    }
    for n, guess in enumerate(guesses):
        for lead_class in guess.parts:
            days = np.where(chosen == n, np.maximum(days, curves[lead_class]), days)
    return np.where(needs < waiting.needs_parts, days, 0.0)
