"""A better plan: jobs are taken out and put in again in another order, and the change kept when it is worth it.

Ruin and recreate (Schrimpf and others, J. Comput. Phys. 159, 2000): a few jobs that meet on one person or in one bay
are taken out and put in again, each at the earliest places free. A change for the worse is kept now and then, the more
rarely the longer a round lasts; rounds grow, and each begins at the best plan found.
"""

from __future__ import annotations

from collections.abc import Callable
from math import log
from typing import Protocol

from .bookings import Bookings
from .dispatch import best_start
from .tasks import Plan, Problem, Unplaceable
from .works import Work


class Generator(Protocol):
    """What is asked of a random generator; `random.Random` is one."""

    def random(self) -> float:
        """A number from 0 up to, not including, 1."""


#: The warmth of a round at its beginning and end, as shares of the mean cost of a job.
_WARM, _COOL = 0.3, 0.003
#: Jobs taken out besides the first: two, and on average about so many more.
_MORE = 1.3
#: Tries in the first round, and how much longer each further round is.
_FIRST_ROUND, _GROWTH = 3000, 1.7


def plan(problem: Problem, rng: Generator, keep_going: Callable[[], bool]) -> Plan:
    """The best plan found until `keep_going` says no (asked once a try), from the best dispatch rule on.

    The same problem, generator state and number of tries give the same plan.
    """
    bookings = Bookings(problem)
    wrong = best_start(bookings)
    return improve(bookings, rng, keep_going, wrong)


def improve(
    bookings: Bookings, rng: Generator, keep_going: Callable[[], bool], wrong: list[Unplaceable] | None = None
) -> Plan:
    """Improve the plan in `bookings` until `keep_going` says no, and give the best one seen."""
    search = Search(bookings, rng)
    while search.works and keep_going() and search.round(keep_going):
        pass
    return bookings.plan(search.best, wrong or ())


class Search:
    """The search on one set of bookings: `best` are the places of the best plan seen, `least` its cost, penalties
    included, `tries` how often something was taken out."""

    def __init__(self, bookings: Bookings, rng: Generator) -> None:
        self.bookings, self._random = bookings, rng.random
        self.works = [work for work in bookings.works if work.ahead.job in bookings.places]
        self.works = [work for work in self.works if any(step.fixed is None for step in work.steps)]
        self._by_job = {work.ahead.job: work for work in self.works}
        self.best, self.least = bookings.copy_places(), sum(bookings.costs.values())
        self.cost, self.tries, self._length = self.least, 0, float(_FIRST_ROUND)
        self._saved = bookings.save()

    def round(self, keep_going: Callable[[], bool]) -> bool:
        """One cooling from the best plan on; False when it was broken off."""
        self._back_to_best()
        self._tidy()
        scale = self.least / len(self.works)
        length = int(self._length)
        self._length *= _GROWTH
        for step in range(length):
            if not keep_going():
                return False
            warmth = scale * _WARM * (_COOL / _WARM) ** (step / length)
            self._try(warmth)
        return True

    def _back_to_best(self) -> None:
        bookings = self.bookings
        bookings.restore((self._saved[0].copy(), self._saved[1].copy()))
        bookings.places, bookings.costs = dict(self.best), dict(self._best_costs())
        self.cost = self.least

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
        random = self._random
        work = self.works[int(random() * len(self.works))]
        if random() < 0.5:  # rather one that costs something
            other = self.works[int(random() * len(self.works))]
            if self.bookings.costs[other.ahead.job] > self.bookings.costs[work.ahead.job]:
                work = other
        out = self._who_meets(work)
        self._again(self._order(out, work), -warmth * log(1.0 - random()))

    def _who_meets(self, work: Work) -> list[Work]:
        """Jobs to take out: `work` and some that share a person or bay with it, shortly before it or around it."""
        random, places = self._random, self.bookings.places
        mine = places[work.ahead.job]
        start, _, person, bay, _ = mine[int(random() * len(mine))]
        where = person if bay < 0 or random() < 0.5 else bay
        most = 2 + int(-log(1.0 - random()) * _MORE)
        if random() < 0.1:
            return [work, *self._strangers(most)]
        reach = self._near(where, start)
        return [work, *(one for one in reach[:most] if one is not work)]

    def _strangers(self, most: int) -> list[Work]:
        found = {int(self._random() * len(self.works)) for _ in range(min(most, len(self.works)))}
        return [self.works[index] for index in sorted(found)]

    def _near(self, where: int, start: int) -> list[Work]:
        """Jobs with a step of `where`, nearest to `start` first; before it only, in half of the cases."""
        before = self._random() < 0.5
        found = []
        for job, places in self.bookings.places.items():
            for place in places:
                if (place[2] == where or place[3] == where) and (not before or place[0] <= start):
                    found.append((abs(place[0] - start), job))
                    break
        found.sort()
        by_job = self._by_job
        return [by_job[job] for _, job in found if job in by_job]

    def _order(self, out: list[Work], work: Work) -> list[Work]:
        """The order in which to put jobs in again; those that hold a bay already go first."""
        out = list(dict.fromkeys(out))
        if len(out) == 1:
            return out
        random, places = self._random, self.bookings.places
        dice = random()
        if dice < 0.5:  # as before, but one of them first
            out.sort(key=lambda one: places[one.ahead.job][0][0])
            out.remove(work)
            out.insert(0, work)
        elif dice < 0.7:
            out.sort(key=lambda one: one.promise - one.slots)
        elif dice < 0.85:
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
        self.cost += spent - before
        if self.cost < self.least - 1e-9:
            self.least, self.best = self.cost, bookings.copy_places()
            self._saved = bookings.save()
