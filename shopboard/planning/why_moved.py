"""Why a step was moved: the one fact that decides, found by looking at what stands against its old place.

Asked in this order: was the work itself put off (part, approval, pin, a longer job)? Is the person away, the bay down?
Is the step before it late? Who has its place now, and why? And if nothing stands against it: what freed the new place?
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from zoneinfo import ZoneInfo

from shopboard.records import Closure, tag

from .closed_days import span_words
from .tasks import SLOT, Move, Placed, Plan, Problem, Task
from .windows import ones

#: How far a chain of causes is followed: this job moved because of that one, which moved because …
_DEPTH = 12


def told(move: Move, plan: Plan) -> str:
    """The whole sentence about a move, such as "repair of T-0427: Tue 24 Nov 13:00 Ana → Thu 26 Nov 08:00 Bo: …"."""
    after = _where(plan, move.after)
    before = f"{_where(plan, move.before)} → " if move.before else ""
    return f"{move.task.name}: {before}{after}: {move.why}"


def _where(plan: Plan, placed: Placed) -> str:
    bay = f" {_bay(plan.problem, placed.bay)}" if placed.bay else ""
    return f"{plan.problem.calendar.words(placed.start)} {_name(plan.problem, placed.person)}{bay}"


def reasons(plan: Plan, old: Plan, before: Mapping[Task, Placed], moved: Sequence[Placed]) -> dict[Task, str]:
    """For each moved step the fact that decided, as a clause. `before` is where people saw each step."""
    why = _Why(plan, old, before)
    return {one.task: why.of(one) for one in moved}


class _Why:
    def __init__(self, plan: Plan, old: Plan, before: Mapping[Task, Placed]) -> None:
        self.plan, self.problem, self.old, self.before = plan, plan.problem, old, before
        self.in_plan = {one.task.job for one in plan.placed}
        self.known_jobs = {ahead.job for ahead in old.problem.jobs}

    def of(self, placed: Placed) -> str:
        """The deciding fact about one step; where that is another step, in brackets what moved that one in the end."""
        clause, other = self._link(placed)
        if other is None:
            return clause
        for _ in range(_DEPTH):
            root, further = self._link(other)
            if further is None:
                whose = "" if other.task.job == placed.task.job else f"{tag(other.task.job)}: "
                return f"{clause} ({whose}{root})"
            other = further
        return clause

    def _link(self, placed: Placed) -> tuple[str, Placed | None]:
        """What stands against the old place of a step, and the step that does so if it is one."""
        before = self.before.get(placed.task)
        if before is None:
            return self._new(placed), None
        if placed.task.start is not None:
            return self._begun(placed, before), None
        own = self._own(placed.task, before) or self._people_and_bays(placed.task, before)
        if own:
            return own, None
        return self._step_before(placed, before) or self._in_its_place(placed, before) or self._freed(placed, before)

    def _new(self, placed: Placed) -> str:
        if placed.task.job not in self.known_jobs:
            return "came in since the last plan" + (", machine down" if self._weight(placed.task.job) > 1 else "")
        return "newly to be done"

    def _begun(self, placed: Placed, before: Placed) -> str:
        words = self.problem.calendar.words
        if placed.end > before.end:
            longer = _time(placed.end - max(before.end, self.problem.now))
            return f"the {placed.task.kind.noun} takes until {words(placed.end, end=True)}, {longer} longer"
        return "it is under way" if placed.start <= self.problem.now else f"pinned to {words(placed.start)}"

    def _weight(self, job: int) -> float:
        return next(ahead.weight for ahead in self.problem.jobs if ahead.job == job)

    def _own(self, task: Task, before: Placed) -> str | None:
        """What was put off or chosen about the step itself."""
        words = self.problem.calendar.words
        known = self.problem.now + (not task.waits_for)  # what waits for nothing begins with the next slot
        if task.earliest > max(before.start, known):
            return f"{task.waits_for or 'parts or approval'}: not before {words(task.earliest)}"
        if task.person not in ("", before.person):
            return f"{_name(self.problem, task.person)} is to do it"
        if task.bay not in ("", before.bay):
            return f"it is to be done in {_bay(self.problem, task.bay)}"
        return None

    def _people_and_bays(self, task: Task, before: Placed) -> str | None:
        """Whether the person or the bay people saw cannot do it then."""
        problem, mask = self.problem, ones(max(0, before.start), before.end)
        person = next((one for one in problem.people if one.id == before.person), None)
        if person is None or not task.skills <= set(person.skills):
            return f"{_name(problem, before.person)} does not do that work any more"
        if mask & ~problem.calendar.people[person.id] & self._was_open(person.id, ""):
            return self._closed(before, f"{_name(problem, person.id)} is away", person=person.id)
        bay = next((one for one in problem.bays if one.id == before.bay), None)
        if before.bay and (bay is None or not (task.capabilities or frozenset()) <= set(bay.can)):
            return f"{_bay(problem, before.bay)} does not do for it any more"
        if bay and mask & ~problem.calendar.bays[bay.id] & self._was_open("", bay.id):
            return self._closed(before, f"{bay.name} is down", bay=bay.id)
        if task.slots > before.end - before.start:
            return f"the work takes {_time(task.slots)} now, not {_time(before.end - before.start)}"
        return None

    def _closed(self, before: Placed, what: str, person: str = "", bay: str = "") -> str:
        """Who or what is missing at a place people saw, until when and why, as far as it was said."""
        calendar = self.problem.calendar
        start, end = calendar.moment(before.start), calendar.end_moment(before.end)
        found = [c for c in calendar.closures if max(c.start, start) < min(c.until, end)]
        own: Closure | None = next((c for c in found if (c.person, c.bay) == (person, bay)), None)
        said = own or next((c for c in found if c.whole_shop), None)
        if said is None:
            return f"{what} then"
        when = span_words(said.start, said.until, calendar.moment(self.problem.now) + SLOT, ZoneInfo(calendar.zone))
        return f"{what if said is own else 'the shop is closed'} {when}{f' ({said.why})' if said.why else ''}"

    def _was_open(self, person: str, bay: str) -> int:
        """The slots of the new axis in which the old plan had that person or bay there; all, on another axis."""
        old, new = self.old.problem.calendar, self.problem.calendar
        if old.spans != new.spans:
            return -1
        return old.people[person] if person else old.bays[bay]

    def _step_before(self, placed: Placed, before: Placed) -> tuple[str, Placed | None] | None:
        chain = self.plan.by_job[placed.task.job]
        index = chain.index(placed)
        if not index or chain[index - 1].end + placed.task.lag <= before.start:
            return None
        first = chain[index - 1]
        words, kind = self.problem.calendar.words, first.task.kind.noun
        if first.end <= before.start:  # not the work holds it up, but what must pass after it
            return f"a yes and parts are reckoned to take until {words(first.end + placed.task.lag)}", None
        return f"the {kind} before it is done only {words(first.end, end=True)}", first

    def _in_its_place(self, placed: Placed, before: Placed) -> tuple[str, Placed | None] | None:
        """Who has the old person or bay at the old time now."""
        for other in sorted(self.plan.placed, key=lambda one: one.task.start is None):  # what cannot move at all first
            since = self._bay_since(other)
            if other.task.job == placed.task.job or other.end <= before.start or since >= before.end:
                continue
            same = other.person == before.person and other.start < before.end
            if same or (before.bay and other.bay == before.bay):
                job = tag(other.task.job)
                if other.task.job not in self.known_jobs:
                    rush = "rush job " if self._weight(other.task.job) > 1 else ""
                    there = f"{_name(self.problem, other.person)} is on it" if same else f"stands in {self._bay(other)}"
                    return f"{rush}{job} came in, {there} then", None
                if same:
                    return f"{_name(self.problem, other.person)} is on {job} then", other
                return f"{job} stands in {self._bay(other)} then", other
        return None

    def _bay_since(self, placed: Placed) -> int:
        """From when its bay is taken: a machine that cannot be moved stands in it before it is worked on."""
        chain = self.plan.by_job[placed.task.job]
        index = chain.index(placed)
        if not placed.task.keeps_bay:
            return placed.start
        return chain[index - 1].end if index else self.problem.now

    def _bay(self, placed: Placed) -> str:
        return _bay(self.problem, placed.bay)

    def _freed(self, placed: Placed, before: Placed) -> tuple[str, None]:
        """Nothing stands against the old place: what the new one is better for."""
        if placed.start < before.start:
            return f"can be done sooner: {self._room(placed)}", None
        if placed.start == before.start:
            return "makes room for others", None
        late = self.plan.lateness.get(placed.task.job)
        return "makes room for others" + ("" if late is None or late > 0 else " and still keeps its promise"), None

    def _room(self, placed: Placed) -> str:
        """Who had the new place in the old plan."""
        calendar, then = self.problem.calendar, self.old.problem.calendar
        for other in self.old.placed:
            if other.task.job == placed.task.job:
                continue
            if other.person != placed.person and (not placed.bay or other.bay != placed.bay):
                continue
            start, end = calendar.slot_at(then.moment(other.start)), calendar.deadline(then.end_moment(other.end))
            if start < placed.end and placed.start < end:
                return f"{tag(other.task.job)} {'moved' if other.task.job in self.in_plan else 'is out of the way'}"
        return "there is room"


def _name(problem: Problem, person: str) -> str:
    return next((one.name.split()[0] for one in problem.people if one.id == person and one.name.split()), person)


def _bay(problem: Problem, bay: str) -> str:
    return next((one.name for one in problem.bays if one.id == bay), f"bay {bay}")


def _time(slots: int) -> str:
    hours, quarters = divmod(slots, 4)
    return f"{hours} h {15 * quarters:02d}" if quarters else f"{hours} h"
