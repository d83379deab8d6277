"""What a re-plan moves and what that costs: disrupted shops of 40 jobs, against planning anew without regard.

Each shop is planned, three hours pass, and something happens (a part two days late, a person ill, a bay down, a rush
job, work that takes longer). Then it is planned anew without regard (free, with three times the tries), and re-planned
with the penalty for moves scaled by 1/4, 1 (as the board does) and 4. Costs, without penalties, stand against the least
that any of these found. Nothing due to start within two hours may move unless its person or bay is gone or taken by
work under way that lasts longer, or the step before it, which must be done first, has lost its person or bay so.

Run by hand: PYTHONPATH=tests python tests/benchmarks/bench_replan.py [shops] [tries]
Results: bench_replan.txt. The seeds are those from FIRST on, which nothing was tried out on.
"""

from __future__ import annotations

import platform
import random
import sys
import time
from dataclasses import dataclass

from aids.disruptions import KINDS, disrupted
from aids.plan_check import faults
from aids.plan_shops import busy_shop

from shopboard.planning import replan as room
from shopboard.planning.search import by_tries, plan
from shopboard.planning.tasks import Calendar, Kind, Placed, Plan, Problem

FIRST, SHOPS, TRIES = 60, 20, 10_000
FAR_SHARE, PERSON_SHARE, DEARER = 0.25, 0.15, 0.12
FACTORS = (0.25, 1.0, 4.0)
BOARD = "1.0"


@dataclass
class Seen:
    """What one re-plan did: shares of steps moved more than an hour, given to another person, and given to another
    though their own is there as before; those moved that were to start within two hours though they could have stayed;
    and cost over the least found."""

    far: float
    person: float
    chosen: float
    soon: int
    dearer: float


def judged(problem: Problem, new: Plan, old: Plan, least: float) -> Seen:
    """What moved between the plan people saw and a new one, counted from their places."""
    before = {(one.task.job, one.task.kind): one for one in old.placed}
    calendar, then = problem.calendar, old.problem.calendar
    known = [
        (before[one.task.job, one.task.kind], one) for one in new.placed if (one.task.job, one.task.kind) in before
    ]
    known = [(was, one) for was, one in known if was.start >= problem.now]
    far = sum(1 for was, one in known if abs(was.start - one.start) > 4)
    other = [was for was, one in known if was.person != one.person]
    chosen = sum(1 for was in other if calendar.people[was.person] == then.people[was.person])
    soon = 0
    for was, one in known:
        could = not _gone(was, calendar, then)
        could = could and one.task.earliest <= was.start < problem.now + room.FROZEN
        could = could and not any(_under_way_there(other, was, one) for other in new.placed)
        could = could and not any(_step_before_gone(other, one, before, calendar, then) for other in new.placed)
        soon += could and (was.start, was.person, was.bay) != (one.start, one.person, one.bay)
    return Seen(far / len(known), len(other) / len(known), chosen / len(known), soon, new.cost / least - 1)


def _under_way_there(other: Placed, was: Placed, one: Placed) -> bool:
    """Whether work under way has the old person or bay at the old time, or is the step before it, not done by then."""
    if other.task.start is None or other is one or other.end <= was.start:
        return False
    same = other.person == was.person or (was.bay and other.bay == was.bay)
    return bool(other.task.job == one.task.job or (same and other.start < was.end))


def _gone(was: Placed, calendar: Calendar, then: Calendar) -> bool:
    """Whether the person or the bay of a step is not there as it was to be."""
    away = calendar.people[was.person] != then.people[was.person]
    return away or (was.bay != "" and calendar.bays[was.bay] != then.bays[was.bay])


def _step_before_gone(
    other: Placed, one: Placed, before: dict[tuple[int, Kind], Placed], calendar: Calendar, then: Calendar
) -> bool:
    """Whether `other` is a step before `one` that cannot be done as people saw it, its person or bay being gone."""
    was = before.get((other.task.job, other.task.kind))
    return other.task.job == one.task.job and other.start < one.start and was is not None and _gone(was, calendar, then)


def replanned(problem: Problem, old: Plan, seed: int, count: int, factor: float) -> Plan:
    """The re-plan with the penalty scaled by a factor."""
    rates = room.RATES
    room.RATES = tuple(rate * factor for rate in rates)
    try:
        return room.replan(problem, old, random.Random(seed), by_tries(count)).plan
    finally:
        room.RATES = rates


def main() -> None:
    """Print the table."""
    shops, count = (int(word) for word in [*sys.argv[1:3], *(str(SHOPS), str(TRIES))[len(sys.argv[1:3]) :]])
    start = time.process_time()
    found: dict[str, list[Seen]] = {name: [] for name in ("free", *map(str, FACTORS))}
    kinds: list[str] = []
    for seed in range(FIRST, FIRST + shops):
        kind = KINDS[seed % len(KINDS)]
        kinds.append(kind)
        old = plan(busy_shop(100 + seed, 40, 6, 5, tight=seed % 2 == 0), random.Random(seed), by_tries(count))
        problem = disrupted(old, kind, seed)
        plans = {"free": plan(problem, random.Random(seed), by_tries(3 * count))}
        for factor in FACTORS:
            plans[str(factor)] = replanned(problem, old, seed, count, factor)
        least = min(new.cost for new in plans.values())
        for name, new in plans.items():
            assert not faults(new), faults(new)[:3]
            found[name].append(judged(problem, new, old, least))
        last = found[BOARD][-1]
        print(f"  {seed:>3} {kind:<12}{last.far:>8.1%}{last.person:>8.1%}{last.dearer:>8.1%}", file=sys.stderr)
    print(f"{shops} shops of 40 jobs x 6 bays x 5 people, {count} tries each, seeds {FIRST} to {FIRST + shops - 1}")
    took = time.process_time() - start
    print(f"{platform.machine()}, Python {platform.python_version()}, {took:.0f} s of processor time")
    print("\nmean over the shops (worst in brackets)")
    print(f"{'penalty':<10}{'moved > 1 h':>18}{'other person':>18}{'within 2 h':>12}{'cost over least':>20}")
    for name, seen in found.items():
        label = name if name == "free" else f"x {name}"
        print(f"{label:<10}{_pair([one.far for one in seen])}{_pair([one.person for one in seen])}", end="")
        print(f"{sum(one.soon for one in seen):>12}{_pair([one.dearer for one in seen]):>20}")
    print("\nas the board does (x 1.0), by what happened")
    for kind in KINDS:
        seen = [one for one, what in zip(found[BOARD], kinds, strict=True) if what == kind]
        if seen:
            shares = f"{_pair([one.far for one in seen])}{_pair([one.person for one in seen])}"
            print(f"{kind:<12}{shares}{_pair([one.dearer for one in seen]):>20}")
    _verdict(found[BOARD])


def _pair(values: list[float]) -> str:
    return f"{f'{sum(values) / len(values):.1%} ({max(values):.1%})':>18}"


def _verdict(seen: list[Seen]) -> None:
    print()
    for what, values, limit in (
        ("moved more than 1 h", [one.far for one in seen], FAR_SHARE),
        ("other person", [one.person for one in seen], PERSON_SHARE),
        ("other person, their own not being away", [one.chosen for one in seen], PERSON_SHARE),
        ("cost over the least found", [one.dearer for one in seen], DEARER),
    ):
        mean, over = sum(values) / len(values), sum(value > limit for value in values)
        met = "met" if mean <= limit else "NOT MET"
        print(f"{what}: mean {mean:.1%} (wanted: at most {limit:.0%}) {met}; {over} of {len(values)} shops above it")
    soon = sum(one.soon for one in seen)
    print(f"moved within two hours though it could stay: {soon} (wanted: 0)", "met" if not soon else "NOT MET")


if __name__ == "__main__":
    main()
