"""All jobs put in as time goes by: whenever a person and a bay are free, the most urgent step that can begin does.

So nobody who could work stands idle, and of those free the one who is asked for least takes it. (Putting whole jobs in
by urgency, each where it ends first, takes those who can do everything for what another could have done a little later:
with 120 jobs such plans cost half as much again.)
"""

from __future__ import annotations

from collections.abc import Callable
from heapq import heapify, heappop, heappush

from .bookings import Bookings
from .works import NEVER, Place, Step, Work

#: A rule says how urgent a step of a job is at a slot, `pace` being the mean length of a step; the most urgent begins.
Rule = Callable[[Work, Step, float, float], float]


class _Turn:
    """A job waiting for the turn of its next step; `places` are those of the steps that have begun, `over` says that
    all have."""

    __slots__ = ("over", "places", "step", "work")

    def __init__(self, work: Work) -> None:
        self.work, self.step, self.places, self.over = work, work.steps[0], list[Place](), False

    def next_at(self) -> int:
        """The slot from which on the next step could begin."""
        before = self.places[-1][1] + self.step.lag if self.places else 0
        return max(before, self.step.earliest)

    def begin(self, bookings: Bookings, at: int) -> int | None:
        """Begin the next step if it can begin at this slot; the slot at which it begins or could, None for never."""
        work = self.work
        place = bookings.soonest(work, self.step, at)
        if place is None:
            for begun in self.places:
                bookings.unbook(begun)
            return None
        if place[0] == at:
            bookings.book(place)
            self.places.append(place)
            self.over = len(self.places) == len(work.steps)
            if self.over:
                bookings.places[work.ahead.job] = self.places
                bookings.costs[work.ahead.job] = bookings.cost_at(work, self.places)
            else:
                self.step = work.steps[len(self.places)]
        return place[0]

    def begin_whole(self, bookings: Bookings, at: int) -> int | None:
        """As `begin`, for a job whose machine stays in its bay between steps: all of it is put in at once."""
        job = self.work.ahead.job
        if bookings.put(self.work, at) is None:
            return None
        start = bookings.places[job][0][0]
        if start > at:
            bookings.remove(self.work)
        else:
            self.over = True
        return start


#: When a job has its next turn, its number among equals, and the job.
_Due = tuple[int, int, _Turn]


def put_in_turn(bookings: Bookings, rule: Rule) -> list[Work]:
    """Put every job in, and give those that do not fit on the axis.

    Jobs that hold a bay already or have a settled step go first: nobody else can be where they are.
    """
    pace = mean_step(bookings)
    works = sorted(bookings.works, key=lambda work: (work.ahead.arrived, work.ahead.job))
    tied = [work for work in works if work.tied]
    tied.sort(key=lambda work: -rule(work, work.steps[0], bookings.now, pace))
    wrong = [work for work in tied if bookings.put(work) is None]
    turns = [_Turn(work) for work in works if not work.tied]
    waiting = [(turn.next_at(), number, turn) for number, turn in enumerate(turns)]
    heapify(waiting)
    while waiting:
        at = waiting[0][0]
        due: list[_Due] = []
        while waiting and waiting[0][0] == at:
            due.append(heappop(waiting))
        if len(due) > 1:
            due.sort(key=lambda one: rule(one[2].work, one[2].step, at, pace), reverse=True)
        wrong += _take_turns(bookings, at, due, waiting)
    return wrong


def mean_step(bookings: Bookings) -> float:
    """The mean length of a step, in slots; at least 1."""
    lengths = [step.slots for work in bookings.works for step in work.steps]
    return max(1.0, sum(lengths) / max(1, len(lengths)))


def _take_turns(bookings: Bookings, at: int, due: list[_Due], waiting: list[_Due]) -> list[Work]:
    """Begin what can begin at this slot, put the rest back; gives the jobs that do not fit."""
    wrong = []
    #: By who and where: where so many slots cannot begin before another slot, more cannot either.
    full: dict[tuple[tuple[int, ...], tuple[int, ...]], tuple[int, int]] = {}
    for _, number, turn in due:
        step = turn.step
        least, again = full.get((step.people, step.bays), (NEVER, at))
        if step.slots < least:
            begin = turn.begin if turn.work.loose else turn.begin_whole
            start = begin(bookings, at)
            if start is None:
                wrong.append(turn.work)
                continue
            if start > at:
                if turn.work.loose:  # a whole stay may need the bay for longer than the step
                    full[step.people, step.bays] = step.slots, start
                again = start
            elif turn.over:
                continue
            else:
                again = turn.next_at()
        heappush(waiting, (again, number, turn))
    return wrong
