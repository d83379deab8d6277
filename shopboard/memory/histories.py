"""What happened to every machine's components: failures at which age, and which lives that makes.

Assumes that a machine not marked as first seen used was in this shop's care from new, that a machine seen used still
had its first component, and that a repair made the component new.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterable, Iterator, Mapping

import msgspec

from shopboard.records import ClosedJob, Machine, Stage

from .lives import Life
from .meters import AgeLine, age_line

#: Causes that name no component.
NAMELESS = frozenset({"", "other", "none"})
_NO_CAUSE = "closed jobs name no cause"
_NO_AGE = "closed jobs have no hour-meter reading that can be true"


class Event(msgspec.Struct, frozen=True, order=True):
    """A component of one machine failed at machine age `age` [h]: in which job, whether that job came `back` from an
    earlier one, and whether it was `mended` (False: declined)."""

    age: float
    job: int
    back: bool = False
    mended: bool = True


class Watch(msgspec.Struct, frozen=True):
    """One machine as it was watched: from age `since` to `to` [h], `used` when first seen used."""

    machine: int
    model: str
    layout: str
    since: float
    to: float
    used: bool


class Histories(msgspec.Struct, frozen=True):
    """Machines whose ages are known, what failed on them by component and machine, and what had to be left out, in
    sentences."""

    watches: dict[int, Watch]
    events: dict[str, dict[int, tuple[Event, ...]]]
    left_out: tuple[str, ...] = ()

    def components(self) -> tuple[str, ...]:
        """Every component that ever failed, most failures first."""
        many = {id: sum(map(len, by_machine.values())) for id, by_machine in self.events.items()}
        return tuple(sorted(many, key=lambda id: (-many[id], id)))

    def layouts(self, component: str) -> frozenset[str]:
        """The layouts on which the component ever failed."""
        return frozenset(self.watches[machine].layout for machine in self.events.get(component, {}))

    def lives(
        self, component: str, *, models: Collection[str] | None = None, layouts: Collection[str] | None = None
    ) -> tuple[Life, ...]:
        """The lives of a component on machines of these models (None: all) and layouts (None: where it ever failed)."""
        where = self.layouts(component) if layouts is None else layouts
        happened = self.events.get(component, {})
        return tuple(
            life
            for watch in self.watches.values()
            if (models is None or watch.model in models) and watch.layout in where
            for life in lives_on(watch, happened.get(watch.machine, ()))
        )


class Past(msgspec.Struct, frozen=True):
    """One machine's part of the histories: its watch (None: its age cannot be told, `why` says why), what failed by
    component, and how many of its closed jobs had to be left out, by reason."""

    watch: Watch | None
    why: str
    events: dict[str, tuple[Event, ...]]
    missing: dict[str, int]


def past_of(
    machine: Machine | None,
    closed: Iterable[ClosedJob],
    components: Mapping[str, str] | None = None,
    line: AgeLine | str | None = None,
) -> Past:
    """What happened to one machine by its closed jobs; `components` names the component of a cause (one that is not
    named is its own), `line` is its `age_line` where that was made before."""
    if line is None:
        line = age_line(machine) if machine else ""
    events, missing = _events(closed, None if isinstance(line, str) else line, components or {})
    if machine is None or isinstance(line, str):
        return Past(None, str(line), events, missing)
    used = machine.first_seen_used
    watch = Watch(machine.id, machine.model, str(machine.layout), line.since, line.now, used)
    return Past(watch, "", events, missing)


def histories(
    machines: Iterable[Machine], closed: Iterable[ClosedJob], components: Mapping[str, str] | None = None
) -> Histories:
    """The histories in a shop's machines and closed jobs; `components` names the component of a cause (one that is
    not named is its own). Jobs without a confirmed cause, or at an unknown age, are left out and counted."""
    jobs: dict[int, list[ClosedJob]] = {}
    for job in closed:
        jobs.setdefault(job.machine, []).append(job)
    pasts = {each.id: past_of(each, jobs.pop(each.id, ()), components) for each in machines}
    pasts |= {id: past_of(None, theirs, components) for id, theirs in jobs.items()}
    return together(pasts)


def together(pasts: Mapping[int, Past]) -> Histories:
    """The histories of machines, by id."""
    events: dict[str, dict[int, tuple[Event, ...]]] = {}
    missing: Counter[str] = Counter()
    for id, past in pasts.items():
        missing.update(past.missing)
        for component, theirs in past.events.items():
            events.setdefault(component, {})[id] = theirs
    left_out = [past.why for past in pasts.values() if past.why]
    left_out += [f"{many} {what}" for what, many in sorted(missing.items())]
    watches = {id: past.watch for id, past in pasts.items() if past.watch is not None}
    return Histories(watches, events, tuple(left_out))


def _events(
    closed: Iterable[ClosedJob], line: AgeLine | None, components: Mapping[str, str]
) -> tuple[dict[str, tuple[Event, ...]], dict[str, int]]:
    found: dict[str, list[Event]] = {}
    missing: dict[str, int] = {}
    for job in closed:
        named = {components.get(cause, cause) for cause in job.causes} - NAMELESS
        age = line.at(job.arrived, job.hours) if line else None
        if not named or age is None:
            why = _NO_AGE if named else _NO_CAUSE
            missing[why] = missing.get(why, 0) + 1
            continue
        event = Event(age, job.id, job.comeback_of is not None, job.stage is Stage.COLLECTED)
        for component in named:
            found.setdefault(component, []).append(event)
    return {component: tuple(sorted(theirs)) for component, theirs in found.items()}, missing


def lives_on(watch: Watch, events: Iterable[Event]) -> Iterator[Life]:
    """The lives of one component on one machine.

    What failed at the very visit that made a used machine known is no failure among those watched: it is why the
    machine was seen. A comeback ends a life unfailed (it was the repair, not a new component's age), and after a
    declined repair nothing is watched until one is made.
    """
    fitted, since = 0.0, watch.since
    watched = True
    for event in events:
        if watched and event.age > since:
            failed = not event.back
            yield Life(since - fitted, event.age - fitted, failed, max(watch.to, event.age) - fitted)
        fitted = since = event.age
        watched = event.mended
    if watched and watch.to > since:
        yield Life(since - fitted, watch.to - fitted, False, watch.to - fitted)
