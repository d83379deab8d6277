"""The plan in the making: what is taken of every person and bay, and jobs put in and taken out again.

Written for speed: a search puts in some ten thousand jobs a second. Bays and people are numbers here (people first);
a place is (start, end, person, bay, from when the bay is taken), with bay -1 for work that needs none.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import NamedTuple

from .fixed import fix_all
from .numbered import all_hours, as_steps
from .stays import stay
from .tasks import Placed, Plan, Problem, Task, Unplaceable
from .who_can import asked_for, why_not
from .windows import Hours, blocked, lowest_clear, ones, shifts
from .works import LEAST_MOVE, NEVER, Habit, Place, Step, Work


class State(NamedTuple):
    """What of `Bookings` changes as jobs are put in."""

    busy: list[int]
    blocked: list[dict[int, int]]
    places: dict[int, list[Place]]
    costs: dict[int, float]


class Bookings:
    """All bays and people of a problem, and the places of the jobs put in so far (`places`, by job).

    `settled` gives steps a start, person and bay (ids) that must not change, besides those the problem pins.
    """

    def __init__(self, problem: Problem, settled: Mapping[Task, tuple[int, str, str]] | None = None) -> None:
        self.problem, self.now, self.end = problem, problem.now, problem.calendar.end
        # Those least asked for come first: the rest stays free for what only they can do.
        asked = asked_for(problem)
        self.people = sorted(problem.people, key=lambda person: (asked["p", person.id], person.id))
        self.bays = sorted(problem.bays, key=lambda bay: (asked["b", bay.id], bay.id))
        #: Chooses among equals, when set.
        self.random: Callable[[], float] | None = None
        count = len(self.people)
        self.person_at = {person.id: index for index, person in enumerate(self.people)}
        self.bay_at = {bay.id: count + index for index, bay in enumerate(self.bays)}
        self.busy: list[int] = [0] * (count + len(self.bays))
        self._blocked: list[dict[int, int]] = [{} for _ in self.busy]
        self.hours = all_hours(problem, self.people, self.bays)
        self.unplaceable: list[Unplaceable] = []
        self.works: list[Work] = []
        self.places: dict[int, list[Place]] = {}
        self.costs: dict[int, float] = {}
        for ahead in problem.jobs:
            if reasons := [Unplaceable(task, why) for task in ahead.tasks if (why := why_not(problem, ahead, task))]:
                self.unplaceable += reasons
            elif ahead.tasks:
                steps = as_steps(ahead, self.people, self.bays, self.hours, problem.now, settled or {})
                self.works.append(Work(ahead, steps, problem))
        self.unplaceable += fix_all(self)
        wrong = {one.task.job for one in self.unplaceable}
        self.works = [work for work in self.works if work.ahead.job not in wrong]
        for work in self.works:
            self._reserve(work)
            stays = any(step.stays or step.fixed for step in work.steps)
            work.loose = not stays and work.reserved is None

    def hours_of(self, person: int, bay: int) -> Hours:
        """When that person can work in that bay (-1: without a bay)."""
        return self.hours[person][bay]

    def _reserve(self, work: Work) -> None:
        first = work.steps[0]
        if first.stays and first.fixed is None:
            mask = ones(self.now, first.earliest + first.slots) & ~self.busy[first.bays[0]]
            work.reserved = (first.bays[0], mask)
            self._take(first.bays[0], mask)

    # -- masks ------------------------------------------------------------------------------------------------------

    def _take(self, resource: int, mask: int) -> None:
        self.busy[resource] |= mask
        self._blocked[resource] = {}

    def _free(self, resource: int, mask: int) -> None:
        self.busy[resource] &= ~mask
        self._blocked[resource] = {}

    def starts_taken(self, resource: int, slots: int) -> int:
        """The slots at which this person or bay has no `slots` free slots in a row."""
        known = self._blocked[resource]
        if slots not in known:
            known[slots] = blocked(self.busy[resource], slots)
        return known[slots]

    def _all_taken(self, resources: tuple[int, ...], slots: int) -> int:
        """The starts that every one of these has taken. (`blocked` once more, since this is where the time goes.)"""
        known, common, steps = self._blocked, -1, shifts(slots)
        for resource in resources:
            masks = known[resource]
            if slots in masks:
                common &= masks[slots]
            else:
                mask = self.busy[resource]
                for step in steps:
                    mask |= mask >> step
                masks[slots] = mask
                common &= mask
        return common

    def state(self) -> State:
        """All that changes as jobs are put in, for `go_back`."""
        return State(self.busy.copy(), self._blocked.copy(), self.places.copy(), self.costs.copy())

    def go_back(self, state: State) -> None:
        """Be again as when `state` was taken."""
        self.busy, self._blocked = state.busy.copy(), state.blocked.copy()
        self.places, self.costs = state.places.copy(), state.costs.copy()

    def save(self) -> tuple[list[int], list[dict[int, int]]]:
        """What is taken now, for `restore`."""
        return self.busy.copy(), self._blocked.copy()

    def restore(self, saved: tuple[list[int], list[dict[int, int]]]) -> None:
        """Take back everything put in and taken out since; the caller restores `places` and `costs`."""
        self.busy, self._blocked = saved

    # -- jobs in and out --------------------------------------------------------------------------------------------

    def remove(self, work: Work) -> None:
        """Take a job out of the plan (steps that are fixed keep their place)."""
        places = self.places.pop(work.ahead.job)
        del self.costs[work.ahead.job]
        busy, known = self.busy, self._blocked
        for step, (start, end, person, bay, since) in zip(work.steps, places, strict=True):
            if step.fixed is None:
                busy[person] ^= ((1 << (end - start)) - 1) << start
                known[person] = {}
                if bay >= 0:
                    busy[bay] ^= ((1 << (end - since)) - 1) << since
                    known[bay] = {}
        if work.reserved:
            self._take(*work.reserved)

    def put(self, work: Work, ready: int | None = None) -> float | None:
        """Put a job in at the earliest places that are free, each step where it ends first; its cost, or None when the
        axis is too short. `ready` delays its first step."""
        done = self.now if ready is None else ready
        if work.loose:
            return self._put_loose(work, done)
        if work.reserved:
            self._free(*work.reserved)
        places: list[Place] = []
        for group in work.groups:
            found = self._together(work, group, done)
            if not found:
                self._give_up(work, places)
                return None
            places += found
            done = found[-1][1]
        self.places[work.ahead.job] = places
        cost = self.costs[work.ahead.job] = self.cost_at(work, places)
        return cost

    def _put_loose(self, work: Work, done: int) -> float | None:
        """`put` for the usual job, with nothing fixed and no stay: written out, since this is where the time goes."""
        busy, known = self.busy, self._blocked
        places: list[Place] = []
        for step in work.steps:
            ready = done + step.lag
            if ready < step.earliest:
                ready = step.earliest
            steady = step.steady and step.habit is None
            place = self._best_steady(step, ready) if steady else self.soonest(work, step, ready)
            if place is None:
                self._give_up(work, places)
                return None
            start, done, person, bay, _ = place
            bits = ((1 << (done - start)) - 1) << start
            busy[person] |= bits
            known[person] = {}
            if bay >= 0:
                busy[bay] |= bits
                known[bay] = {}
            places.append(place)
        self.places[work.ahead.job] = places
        cost = self.costs[work.ahead.job] = self.cost_at(work, places) if work.habits else work.cost(done)
        return cost

    def cost_at(self, work: Work, places: list[Place]) -> float:
        """What a job costs at these places, with the penalties of its habits."""
        cost = work.cost(places[-1][1])
        if work.habits:
            for step, place in zip(work.steps, places, strict=True):
                if step.habit is not None:
                    cost += step.habit.penalty(place[0], place[2], place[3])
        return cost

    def put_back(self, work: Work) -> bool:
        """Put a job in exactly where its habits say, or not at all; whether it could be."""
        done, places = self.now, list[Place]()
        if work.reserved:
            self._free(*work.reserved)
        for step in work.steps:
            place = step.fixed or self._as_before(step, max(step.earliest, done + step.lag), done)
            moved = place is not None and step.stays and places and place[3] != places[-1][3]
            if place is None or moved or place[0] < done:
                self._give_up(work, places)
                return False
            if step.fixed is None:
                self.book(place)
            places.append(place)
            done = place[1]
        self.places[work.ahead.job], self.costs[work.ahead.job] = places, work.cost(done)
        return True

    def _as_before(self, step: Step, ready: int, done: int) -> Place | None:
        habit = step.habit
        if habit is None or habit.start < ready or habit.person not in step.people or habit.bay not in step.bays:
            return None
        start, end = self._earliest(step.slots, habit.person, habit.bay, habit.start)
        since = done if step.stays else start
        if start != habit.start or (habit.bay >= 0 and self.busy[habit.bay] & ones(since, end)):
            return None
        return start, end, habit.person, habit.bay, since

    def _give_up(self, work: Work, places: list[Place]) -> None:
        for step, place in zip(work.steps, places, strict=False):
            if step.fixed is None:
                self.unbook(place)
        if work.reserved:
            self._take(*work.reserved)

    def book(self, place: Place) -> None:
        """Take a place."""
        start, end, person, bay, since = place
        busy, known = self.busy, self._blocked
        busy[person] |= ((1 << (end - start)) - 1) << start
        known[person] = {}
        if bay >= 0:
            busy[bay] |= ((1 << (end - since)) - 1) << since
            known[bay] = {}

    def unbook(self, place: Place) -> None:
        """Give a place free again."""
        start, end, person, bay, since = place
        busy, known = self.busy, self._blocked
        busy[person] ^= ((1 << (end - start)) - 1) << start
        known[person] = {}
        if bay >= 0:
            busy[bay] ^= ((1 << (end - since)) - 1) << since
            known[bay] = {}

    # -- where a step fits ------------------------------------------------------------------------------------------

    def _together(self, work: Work, group: list[Step], done: int) -> list[Place]:
        """The places, booked, of steps that share a stay; empty when there are none. `done` ends what came before."""
        first = group[0]
        if len(group) == 1 and not first.stays:
            place = first.fixed or self.soonest(work, first, max(first.earliest, done + first.lag))
            if place is None or place[0] < done:
                return []
            if first.fixed is None:
                self.book(place)
            return [place]
        places = stay(self, group, done)
        for step, place in zip(group, places, strict=False):
            if step.fixed is None:
                self.book(place)
        return places

    def soonest(self, work: Work, step: Step, ready: int) -> Place | None:
        """Where a step ends first, from `ready` on; with a habit, where end and penalty together cost least."""
        if step.habit is not None:
            return self._best_near(work, step, step.habit, ready)
        if step.steady:
            return self._best_steady(step, ready)
        slots = step.slots
        no_bay = self._all_taken(step.bays, slots) if step.bays[0] >= 0 else 0
        best: Place | None = None
        best_end = NEVER
        people = step.people
        if self.random is not None and len(people) > 1 and (dice := self.random()) < 0.5:
            first = int(2 * dice * len(people))
            people = people[first:] + people[:first]
        for person in people:
            mine = self.starts_taken(person, slots)
            for bays in step.alike[person]:
                here = self.hours[person][bays[0]]
                start = lowest_clear(mine | no_bay | here.away, ready)
                if start + slots >= best_end:
                    continue  # this person alone could not be through sooner
                for bay in bays:
                    start, end = self._earliest(slots, person, bay, ready)
                    if 0 <= end < best_end:
                        best, best_end = (start, end, person, bay, start), end
        return best

    def _best_steady(self, step: Step, ready: int) -> Place | None:
        """Where a step ends first when everybody is always there: any person and any bay free at the first slot at
        which one of each is. Mostly a bay is free when the first of the people is, so only that is looked at first."""
        slots = step.slots
        taken = self._all_taken(step.people, slots)
        start = lowest_clear(taken, ready)
        bits, bay = ((1 << slots) - 1) << start, -1
        if step.bays[0] >= 0:
            bay = self._one_free(step.bays, bits)
            if bay < 0:
                start = lowest_clear(taken | self._all_taken(step.bays, slots), ready)
                bits = ((1 << slots) - 1) << start
                bay = self._one_free(step.bays, bits)
        if start + slots > self.end:
            return None
        return start, start + slots, self._one_free(step.people, bits), bay, start

    def _one_free(self, resources: tuple[int, ...], bits: int) -> int:
        """One of those who have these slots free, -1 when nobody has: the first, or in half of the cases any, when
        there is a generator."""
        busy = self.busy
        if self.random is not None and len(resources) > 1 and (dice := self.random()) < 0.5:
            first = int(2 * dice * len(resources))
            resources = resources[first:] + resources[:first]
        for one in resources:
            if not busy[one] & bits:
                return one
        return -1

    def _best_near(self, work: Work, step: Step, habit: Habit, ready: int) -> Place | None:
        slots, rest = step.slots, step.rest
        best: Place | None = None
        least = float("inf")
        if habit.start >= ready and habit.person in step.people and habit.bay in step.bays:
            start, end = self._earliest(slots, habit.person, habit.bay, habit.start)
            if start == habit.start:
                best, least = (start, end, habit.person, habit.bay, start), work.cost(end + rest)
        if least <= work.cost(ready + slots + rest) + habit.rate * LEAST_MOVE:
            return best
        sinces = (ready,) if habit.start <= ready else (ready, habit.start)
        for person in step.people:
            for bay in step.bays:
                for since in sinces:
                    start, end = self._earliest(slots, person, bay, since)
                    if end < 0:
                        continue
                    cost = work.cost(end + rest) + habit.penalty(start, person, bay)
                    if cost < least:
                        best, least = (start, end, person, bay, start), cost
        return best

    def _earliest(self, slots: int, person: int, bay: int, ready: int) -> tuple[int, int]:
        taken, busy = self.starts_taken(person, slots), [self.busy[person]]
        if bay >= 0:
            taken |= self.starts_taken(bay, slots)
            busy.append(self.busy[bay])
        return self.hours_of(person, bay).earliest(taken, busy, ready, slots)

    # -- the plan ---------------------------------------------------------------------------------------------------

    def copy_places(self) -> dict[int, list[Place]]:
        """The places as they are now."""
        return dict(self.places)

    def plan(self, places: Mapping[int, list[Place]], more: Sequence[Unplaceable] = ()) -> Plan:
        """The plan with these places."""
        placed, lateness, cost = [], {}, 0.0
        for work in self.works:
            if work.ahead.job not in places:
                continue
            for step, (start, end, person, bay, _) in zip(work.steps, places[work.ahead.job], strict=True):
                where = self.bays[bay - len(self.people)].id if bay >= 0 else ""
                placed.append(Placed(step.task, start, end, self.people[person].id, where))
            over = places[work.ahead.job][-1][1]
            cost += work.cost(over)
            if work.ahead.promise is not None:
                lateness[work.ahead.job] = over - work.ahead.promise
        placed.sort(key=lambda one: (one.start, one.task.job))
        return Plan(self.problem, tuple(placed), cost, lateness, (*self.unplaceable, *more))
