"""Which machine said what, and when: every complaint gets a machine old enough for it and a day of its own."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from random import Random

from .hours import DAY_MINUTES, NOW, TODAY, at, moment_of
from .people import Fleet
from .sources import Complaint

#: No machine comes twice within this, unless it is written down as having come back.
APART = timedelta(days=132)
FIRST_DAY, LAST_DAY = -770, -15
#: What waits for slow parts comes early enough to be over by the sample's day: what stands here then is told by hand.
LAST_SLOW_DAY = -55


@dataclass(frozen=True)
class Visit:
    """One visit to be: who, when and why."""

    fleet: Fleet
    arrives: datetime
    complaint: Complaint


def visits(fleet: list[Fleet], said: list[Complaint], taken: dict[int, datetime], rng: Random) -> list[Visit]:
    """A visit for every complaint, oldest first. `taken` names the machines that will be here at the end, from when.

    The rarest fits are placed first. Raises ValueError for a complaint that no machine can have.
    """
    found: list[Visit] = []
    days: dict[int, list[datetime]] = {kept.machine: [] for kept in fleet}
    for complaint in sorted(said, key=lambda c: (c.before - c.after > 1e6, not c.customers, -c.after, c.said)):
        visit = _placed(complaint, fleet, days, taken, rng)
        days[visit.fleet.machine].append(visit.arrives)
        found.append(visit)
    return sorted(found, key=lambda visit: visit.arrives)


def _placed(
    complaint: Complaint, fleet: list[Fleet], days: dict[int, list[datetime]], taken: dict[int, datetime], rng: Random
) -> Visit:
    able = [kept for kept in fleet if kept.model in complaint.models]
    able = [kept for kept in able if not complaint.customers or kept.owner in complaint.customers]
    for _ in range(4000):
        kept = min(rng.sample(able, min(2, len(able))), key=lambda k: len(days[k.machine]))
        when = _some_day(rng)
        end = taken.get(kept.machine, NOW + APART)
        if when > at(LAST_SLOW_DAY, "07:00") and not complaint.quick:
            continue
        fits = complaint.after <= kept.age(when) <= complaint.before and kept.seen + timedelta(days=3) < when
        if fits and when < end - APART and all(abs(when - other) > APART for other in days[kept.machine]):
            return Visit(kept, when, complaint)
    raise ValueError(f"no machine can have said: {complaint.said}")


def _some_day(rng: Random) -> datetime:
    """A moment of the counter's day; the early years are thinner, since only the larger jobs were kept on cards."""
    share = rng.random() ** 0.62
    day = FIRST_DAY + round(share * (LAST_DAY - FIRST_DAY))
    busy = rng.choice((10, 25, 40, 70, 110, 160, 230, 330, 400, 470, 520))
    return moment_of(_minute(day) + busy + rng.randrange(25))


def _minute(day: int) -> int:
    return (TODAY + day) * DAY_MINUTES
