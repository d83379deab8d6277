"""What is due on which machine, kept up to date by machine: for ringing up, and for those that stand here."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import date, timedelta
from typing import TYPE_CHECKING

from shopboard import memory
from shopboard.memory.meters import AgeLine, age_line
from shopboard.records import Job, Layout, Machine, ServicePoint
from shopboard.shop.while_open import default_points

if TYPE_CHECKING:
    from .knowledge import Material, Whole

#: A machine not seen for so many days is not rung about.
SEEN_DAYS = 730
#: What falls due first is listed up to so many points.
DUES = 200
#: Days within which every service point falls due sooner or later.
EVER = 36_500


class Servicing:
    """What was done on every machine and what is due on it, each reckoned once until the machine or the day changes."""

    def __init__(self, material: Material) -> None:
        self.material = material
        self._points = points_by_model(material)
        self._named = frozenset(point.id for points in self._points.values() for point in points)
        self._lines: dict[int, AgeLine | str] = {}
        self._work: dict[int, dict[str, Job]] = {}
        self._dues: dict[int, memory.OfMachine] = {}
        self._day: date | None = None

    def line(self, machine: Machine) -> AgeLine | str:
        """The machine's ages over time, or why they cannot be told."""
        if machine.id not in self._lines:
            self._lines[machine.id] = age_line(machine)
        return self._lines[machine.id]

    # -- taking in ----------------------------------------------------------------------------------------------------

    def take(self, wholes: Iterable[Whole]) -> None:
        """Take in closed jobs read whole."""
        for job, _ in wholes:
            self._note(self._work.setdefault(job.machine, {}), job)
        self._dues.clear()

    def forget(self, machine: int) -> None:
        """A machine's readings changed, or it is gone."""
        self._lines.pop(machine, None)
        self._dues.pop(machine, None)

    def renew(self, machine: int, wholes: Iterable[Whole]) -> None:
        """A machine's closed jobs are these now."""
        work = self._work[machine] = {}
        for job, _ in wholes:
            self._note(work, job)

    def _note(self, work: dict[str, Job], job: Job) -> None:
        """Note the job where it was the last to see to a service point."""
        for each in job.operations:
            if each.done and each.id in self._named:
                before = work.get(each.id)
                if before is None or memory.when_done(before) <= memory.when_done(job):
                    work[each.id] = job

    # -- what is due --------------------------------------------------------------------------------------------------

    def today(self) -> date:
        """The day in the shop's zone."""
        return self.material.now.astimezone(self.material.zone).date()

    def to_ring(self, model: str = "") -> memory.Service:
        """What is due on machines (of a model) that do not stand here now and was noted before."""
        state = self.material.state
        self._turn_day()
        here = {job.machine for job in state.jobs.values() if not job.stage.closed}
        since = self.material.now - timedelta(days=SEEN_DAYS)
        for id, machine in state.machines.items():
            if id not in self._dues and (not machine.readings or machine.readings[-1].at >= since):
                self._dues[id] = self._due_on(machine, noted_only=True)
        kept = {id: each for id, each in self._dues.items() if id in state.machines and id not in here}
        own = (each for id, each in kept.items() if model in ("", state.machines[id].model))
        return memory.service_of(own, DUES)

    def here(self) -> dict[int, tuple[memory.ServiceDue, ...]]:
        """Every service point of the machines that stand here, those used most first."""
        state = self.material.state
        self._turn_day()
        found: dict[int, tuple[memory.ServiceDue, ...]] = {}
        for id in {job.machine for job in state.jobs.values()} & state.machines.keys():
            own = self._due_on(state.machines[id], EVER)
            found[id] = tuple(sorted(own.dues, key=lambda due: (-due.used, due.point)))
        return found

    def _due_on(self, machine: Machine, within: int = 28, *, noted_only: bool = False) -> memory.OfMachine:
        points, line = self._points.get(machine.model, ()), self.line(machine)
        last: dict[str, memory.Done] = {}
        ages: dict[int, float | None] = {}
        for point, job in self._work.get(machine.id, {}).items():
            if job.id not in ages:
                ages[job.id] = memory.age_in(job, line)
            last[point] = memory.Done(machine.id, point, memory.when_done(job), ages[job.id])
        return memory.due_on(machine, points, last, self._fleet, self.today(), within, noted_only=noted_only, line=line)

    def _turn_day(self) -> None:
        """What is due changes with the day, and how much machines are used is looked at once a day."""
        if (today := self.today()) != self._day:
            self._day, self._fleet = today, memory.fleet(self.material.state.machines.values())
            self._dues.clear()


def points_by_model(material: Material) -> Mapping[str, tuple[ServicePoint, ...]]:
    """The service points of every model: its own manual's, else the shop's defaults for its layout."""
    defaults = {str(layout): default_points(material.book, str(layout)) for layout in Layout}
    return {id: memory.points_of(each, defaults[str(each.layout)]) for id, each in material.state.models.items()}
