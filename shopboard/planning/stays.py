"""Steps between which the machine cannot be moved: they share one stay in one bay, waits in between included."""

from __future__ import annotations

from typing import TYPE_CHECKING

from .windows import ones
from .works import Place, Step

if TYPE_CHECKING:
    from .bookings import Bookings


def stay(bookings: Bookings, group: list[Step], done: int) -> list[Place]:
    """The places of the steps of a stay, in the bay where it ends first; empty when no bay has room for it. `done` ends
    what the job did before."""
    bays = set(group[0].bays).intersection(*(step.bays for step in group[1:]))
    best: list[Place] = []
    for bay in sorted(bays):
        found = _stay_in(bookings, group, bay, done)
        if found and (not best or found[-1][1] < best[-1][1]):
            best = found
    return best


def _stay_in(bookings: Bookings, group: list[Step], bay: int, done: int) -> list[Place]:
    own = 0  # what fixed steps of this stay hold already
    for step in group:
        if step.fixed is not None:
            own |= ones(step.fixed[4], step.fixed[1])
    others = bookings.busy[bay] & ~own
    ready = done + group[0].lag
    while True:
        places = _chain(bookings, group, bay, ready, done)
        if not places:
            return []
        since, end = places[0][4], places[-1][1]
        conflict = (others >> since) & ones(0, end - since)
        if not conflict:
            return places
        if group[0].stays or group[0].fixed is not None:
            return []  # the machine stands there already: starting later frees nothing
        ready = since + conflict.bit_length()


def _chain(bookings: Bookings, group: list[Step], bay: int, ready: int, done: int) -> list[Place]:
    """One step after the other in one bay, its other machines left out of account."""
    places: list[Place] = []
    since = bookings.now if group[0].stays else -1
    for step in group:
        if step.fixed is not None:
            place: Place | None = step.fixed if step.fixed[3] == bay and step.fixed[0] >= done else None
        else:
            place = _soonest(bookings, step, bay, max(step.earliest, ready))
        if place is None:
            return []
        place = (*place[:4], place[0] if since < 0 else since) if step.fixed is None else place
        places.append(place)
        done = since = place[1]
        ready = done + (group[len(places)].lag if len(places) < len(group) else 0)
    return places


def _soonest(bookings: Bookings, step: Step, bay: int, ready: int) -> Place | None:
    best: Place | None = None
    for person in step.people:
        taken, busy = bookings.starts_taken(person, step.slots), (bookings.busy[person],)
        start, end = bookings.hours_of(person, bay).earliest(taken, busy, ready, step.slots)
        if end >= 0 and (best is None or end < best[1]):
            best = (start, end, person, bay, start)
    return best
