"""A better plan: the best rule is varied; then jobs are taken out and put in again, and what is worth it is kept.

Ruin and recreate (Schrimpf and others, J. Comput. Phys. 159, 2000): a few jobs that meet on one person or in one bay
are taken out and put in again, each at the earliest places free. A change for the worse is kept now and then, the more
rarely the longer it cools (simulated annealing: Kirkpatrick and others, Science 220, 1983). It cools once, slowly, over
all the time there is: that finds better plans than several coolings in the same time.
"""

from __future__ import annotations

from collections.abc import Callable
from math import log
from typing import Protocol

from .bookings import Bookings
from .dispatch import ALL, best_of, left_out, vary
from .tasks import Plan, Problem, Unplaceable
from .works import Work


class Generator(Protocol):
    """What is asked of a random generator; `random.Random` is one."""

    def random(self) -> float:
        """A number from 0 up to, not including, 1."""


#: The share of the time in which the best rule is varied; then its plan is improved.
_VARYING = 0.5
#: The warmth at the beginning and end, as shares of what it costs to be late by a mean job's work: not so warm that it
#: forgets where it started.
_HOT, _COLD = 0.1, 0.005
#: So many tries are made at one warmth.
_AT_ONCE = 16
#: How often a job moves along its queue, cuts in at an earlier time, or changes with its neighbours; else with any.
_STRETCH, _CUT_IN, _NEXT_TO = 0.35, 0.35, 0.25
#: How often the queue looked at is a person's, not a bay's.
_BY_PERSON = 0.8
#: How long a stretch of a queue is, on average.
_LONG = 3.0
#: Jobs taken out besides the first: two, and on average about so many more.
_MORE = 4.0
#: Of so many jobs, the one that costs most above what it must is looked at.
_CHOICES = 4


def plan(problem: Problem, rng: Generator, used: Callable[[], float]) -> Plan:
    """The best plan found from that of the best rule on, until `used`, the share of the search that is over, is 1.

    The same problem, generator state and shares give the same plan.
    """
    bookings = Bookings(problem)
    empty = bookings.state()
    made = best_of(bookings, ALL)
    made = vary(bookings, made, empty, rng.random, lambda: used() < _VARYING)
    begun = min(1.0, used())
    rest = 1.0 - begun
    return improve(bookings, rng, lambda: (used() - begun) / rest if rest else 1.0, left_out(bookings, made.wrong))


def by_tries(count: int) -> Callable[[], float]:
    """The share used of a search of so many tries; a variation of a rule counts as `_AT_ONCE` of them."""
    asked = iter(range(0, count, _AT_ONCE))
    return lambda: next(asked, count) / count


def improve(
    bookings: Bookings, rng: Generator, used: Callable[[], float], wrong: list[Unplaceable] | None = None
) -> Plan:
    """Improve the plan in `bookings` until `used` is 1, and give the best one seen."""
    search = Search(bookings, rng)
    if search.works:
        search.cool(used)
    return bookings.plan(search.best, wrong or ())


class Search:
    """The search on one set of bookings: `best` are the places of the best plan seen, `least` its cost, penalties
    included, `tries` how often something was taken out."""

    def __init__(self, bookings: Bookings, rng: Generator) -> None:
        self.bookings, self._random = bookings, rng.random
        bookings.random = rng.random
        self.works = [work for work in bookings.works if work.ahead.job in bookings.places]
        self.works = [work for work in self.works if any(step.fixed is None for step in work.steps)]
        self._by_job = {work.ahead.job: work for work in self.works}
        self.best, self.least = bookings.copy_places(), sum(bookings.costs.values())
        self.cost, self.tries = self.least, 0
        self._saved = bookings.save()
        #: By person and bay, the jobs there and from when to when.
        self._on: list[dict[int, tuple[int, int]]] = []

    def cool(self, used: Callable[[], float]) -> None:
        """Cool once over the whole search; `used` is the share of it that is over, from 0 to 1."""
        self._back_to_best()
        self._tidy()
        scale = self._scale()
        while (share := used()) < 1.0:
            warmth = scale * _HOT * (_COLD / _HOT) ** share
            for _ in range(_AT_ONCE):
                self._try(warmth)
        self._back_to_best()
        self._tidy()

    def _scale(self) -> float:
        """What it costs on average to be late by all the work of one job."""
        return sum((work.wait + work.late) * work.slots for work in self.works) / len(self.works)

    def _back_to_best(self) -> None:
        bookings = self.bookings
        bookings.restore((self._saved[0].copy(), self._saved[1].copy()))
        bookings.places, bookings.costs = dict(self.best), dict(self._best_costs())
        self.cost = self.least
        self._on = [{} for _ in bookings.busy]
        for job in bookings.places:
            self._note(job)

    def _note(self, job: int) -> None:
        for start, end, person, bay, since in self.bookings.places[job]:
            first, last = self._on[person].get(job, (start, end))
            self._on[person][job] = min(first, start), max(last, end)
            if bay >= 0:
                first, last = self._on[bay].get(job, (since, end))
                self._on[bay][job] = min(first, since), max(last, end)

    def _best_costs(self) -> dict[int, float]:
        bookings, costs = self.bookings, {}
        for work in bookings.works:
            places = self.best.get(work.ahead.job)
            if places is None:
                continue
            costs[work.ahead.job] = bookings.cost_at(work, places)
        return costs

    def _tidy(self) -> None:
        """Put every job in again alone, in order of start: each ends no later than before, and gaps close."""
        order = sorted(self.works, key=lambda work: self.bookings.places[work.ahead.job][0][0])
        for work in order:
            self._again([work], 0.0)

    # -- one try ----------------------------------------------------------------------------------------------------

    def _try(self, warmth: float) -> None:
        self.tries += 1
        random, costs, count = self._random, self.bookings.costs, len(self.works)
        work = self.works[int(random() * count)]
        for _ in range(_CHOICES - 1):  # rather one that costs more than it must
            other = self.works[int(random() * count)]
            if costs[other.ahead.job] - other.alone > costs[work.ahead.job] - work.alone:
                work = other
        dice = random()
        if dice < _STRETCH:
            order = self._stretch(work)
        elif dice < _STRETCH + _CUT_IN:
            order = self._order(self._in_the_way(work), work)
        elif dice < _STRETCH + _CUT_IN + _NEXT_TO:
            order = self._order(self._next_to(work), work)
        else:
            order = self._order(self._strangers(work), work)
        self._again(order, -warmth * log(1.0 - random()))

    def _stretch(self, work: Work) -> list[Work]:
        """A stretch of the queue of one person or bay with `work` at one end of it: `work` moves to the other end, and
        half of the time changes places with the one there."""
        random = self._random
        mine = self.bookings.places[work.ahead.job]
        start, _, person, bay, _ = mine[int(random() * len(mine))]
        on = self._on[person if bay < 0 or random() < _BY_PERSON else bay]
        forward = random() < 0.5
        by_job, own = self._by_job, work.ahead.job
        queue = [
            (first, job)
            for job, (first, _) in on.items()
            if (first <= start) == forward and job != own and job in by_job
        ]
        queue.sort()
        count = 1 + int(-log(1.0 - random()) * _LONG if random() < 0.9 else random() * len(queue))
        part = queue[-count:] if forward else queue[:count]
        others = [self._by_job[job] for _, job in part]
        if random() < 0.5 and len(others) > 1:  # forward: the first of them goes last; else the last goes first
            others = [*others[1:], others[0]] if forward else [others[-1], *others[:-1]]
        order = [work, *others] if forward else [*others, work]
        order.sort(key=lambda one: one.reserved is None)
        return order

    def _in_the_way(self, work: Work) -> list[Work]:
        """`work`, and whoever has a person and bay it could use at some earlier time: it is to cut in there."""
        random, places = self._random, self.bookings.places[work.ahead.job]
        index = int(random() * len(places))
        step, place = work.steps[index], places[index]
        soonest = max(step.earliest, places[index - 1][1] + step.lag if index and random() < 0.5 else 0)
        if step.fixed is not None or place[0] <= soonest:
            return self._next_to(work)
        start = soonest + int(random() * (place[0] - soonest))
        person = step.people[int(random() * len(step.people))]
        bay = step.bays[int(random() * len(step.bays))]
        found = {work.ahead.job: work}
        for where in (person, bay) if bay >= 0 else (person,):
            for job, (first, last) in self._on[where].items():
                if first < start + step.slots and last > start and job in self._by_job:
                    found[job] = self._by_job[job]
        return [*found.values()]

    def _next_to(self, work: Work) -> list[Work]:
        """`work` and those nearest to it on a person or bay of its own, half of the time only those before it."""
        random = self._random
        mine = self.bookings.places[work.ahead.job]
        start, _, person, bay, _ = mine[int(random() * len(mine))]
        where = person if bay < 0 or random() < _BY_PERSON else bay
        before = random() < 0.5
        near = [
            (abs(first - start), job)
            for job, (first, _) in self._on[where].items()
            if job in self._by_job and (not before or first <= start)
        ]
        near.sort()
        most = 2 + int(-log(1.0 - random()) * _MORE)
        return [work, *(self._by_job[job] for _, job in near[:most] if job != work.ahead.job)]

    def _strangers(self, work: Work) -> list[Work]:
        most = 1 + int(-log(1.0 - self._random()) * _MORE)
        return [work, *(self.works[int(self._random() * len(self.works))] for _ in range(most))]

    def _order(self, out: list[Work], work: Work) -> list[Work]:
        """The order in which to put jobs in again; those that hold a bay already go first."""
        out = list(dict.fromkeys(out))
        if len(out) == 1:
            return out
        random, places = self._random, self.bookings.places
        dice = random()
        if dice < 0.6:  # as before, but one of them first
            out.sort(key=lambda one: places[one.ahead.job][0][0])
            out.remove(work)
            out.insert(0, work)
        elif dice < 0.75:
            out.sort(key=lambda one: one.promise - one.slots)
        elif dice < 0.9:
            out.sort(key=lambda one: one.slots / one.ahead.weight)
        else:
            out = [out[index] for _, index in sorted((random(), index) for index in range(len(out)))]
        out.sort(key=lambda one: one.reserved is None)
        return out

    def _again(self, order: list[Work], allowed: float) -> None:
        """Take the jobs out and put them in again in this order; all stays as it was when that costs more than
        `allowed`."""
        bookings = self.bookings
        saved = bookings.save()
        places, costs = bookings.places, bookings.costs
        old = [(work.ahead.job, places[work.ahead.job], costs[work.ahead.job]) for work in order]
        before = sum(cost for _, _, cost in old)
        for work in order:
            bookings.remove(work)
        spent = sum(work.alone for work in order)
        for work in order:
            cost = bookings.put(work)
            if cost is None or (spent := spent + cost - work.alone) > before + allowed:
                bookings.restore(saved)
                for job, place, was in old:
                    places[job], costs[job] = place, was
                return
        for job, place, _ in old:
            for one in place:
                self._on[one[2]].pop(job, None)
                if one[3] >= 0:
                    self._on[one[3]].pop(job, None)
        for work in order:
            self._note(work.ahead.job)
        self.cost += spent - before
        if self.cost < self.least - 1e-9:
            self.least, self.best = self.cost, bookings.copy_places()
            self._saved = bookings.save()
