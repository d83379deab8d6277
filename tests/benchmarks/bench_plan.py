"""How good a plan is after five seconds, and how soon the first legal one is there.

Shops of 40 jobs x 6 bays x 5 people and of 120 x 8 x 6, promises tight and loose, five seeds each. Costs stand against
the best plan known of each (best_plans.json, which also says how it was found) and against the better of the plans that
FIFO and EDD give (whoever is free begins the job that came first, or is due first, of those that can begin). Seconds
are of processor time of one process, so that a busy machine does not change them; a shop of which no plan is kept is
left out of the table.

Run by hand, first where the extra `oracles` is installed, to look for better plans (each kept only if it is better):
PYTHONPATH=tests python tests/benchmarks/bench_plan.py best [seconds of ours [of the solver, hinted [as sub-solver
[seeds of each kind]]]], 60 30 30 5 where left out;
then the table: PYTHONPATH=tests python tests/benchmarks/bench_plan.py [seed]
Results: bench_plan.txt.
"""

from __future__ import annotations

import json
import platform
import random
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path

from aids.plan_check import cost_of, faults
from aids.plan_shops import busy_shop

from shopboard.planning.dispatch import dispatch, first_plan
from shopboard.planning.search import plan
from shopboard.planning.tasks import Placed, Plan, Problem

KEPT = Path(__file__).with_name("best_plans.json")
SIZES, SEEDS = ((40, 6, 5), (120, 8, 6)), range(1, 6)
BUDGET = 5.0
TOLERANCE, BELOW_RULES, FIRST = 0.02, 0.08, 0.050

#: What is known of a shop: cost, how it was found, the proved lower bound, and the places by step.
Known = dict[str, object]


def shops() -> Iterator[tuple[str, Problem]]:
    """The shops by name."""
    for seed in SEEDS:
        for jobs, bays, people in SIZES:
            for tight in (True, False):
                name = f"{jobs}x{bays}x{people} {'tight' if tight else 'loose'} {seed}"
                yield name, busy_shop(seed, jobs, bays, people, tight=tight)


def processor_seconds(seconds: float) -> Callable[[], float]:
    """The share used of so many seconds of processor time."""
    begun = time.process_time()
    return lambda: (time.process_time() - begun) / seconds


def kept() -> dict[str, Known]:
    """The best plans known."""
    return json.loads(KEPT.read_text()) if KEPT.exists() else {}


def plan_of(problem: Problem, known: Known) -> Plan:
    """A kept plan, whole, so that it can be looked over."""
    rows: list[list[object]] = known["places"]  # type: ignore[assignment]
    placed = [
        Placed(task, start, start + task.slots, person, bay)  # type: ignore[operator, arg-type]
        for task, (start, person, bay) in zip(problem.tasks(), rows, strict=True)
    ]
    over = {one.task.job: one.end for one in placed}
    lateness = {ahead.job: over[ahead.job] - ahead.promise for ahead in problem.jobs if ahead.promise is not None}
    cost = sum(cost_of(problem, ahead, over[ahead.job]) for ahead in problem.jobs)
    return Plan(problem, tuple(placed), cost, lateness)


def keep(name: str, problem: Problem, found: Plan, how: str, bound: float) -> None:
    """Keep a plan if it is better than the one kept, and the greater bound."""
    assert not faults(found), faults(found)[:3]
    all_ = kept()
    old = all_.get(name, {"cost": float("inf"), "bound": 0.0})
    if found.cost < old["cost"] - 1e-6:  # type: ignore[operator]
        where = {one.task: [one.start, one.person, one.bay] for one in found.placed}
        old = {**old, "cost": found.cost, "how": how, "places": [where[task] for task in problem.tasks()]}
    old["bound"] = max(bound, old["bound"])  # type: ignore[call-overload]
    all_[name] = old
    lines = ",\n".join(f"{json.dumps(key)}: {json.dumps(all_[key], separators=(',', ':'))}" for key in sorted(all_))
    KEPT.write_text(f"{{\n{lines}\n}}\n")


def look_for_best(ours: float, hinted: float, parts: float, seeds: float) -> None:
    """Look for better plans of every shop: our search, the solver with our plan as hint, the solver as sub-solver."""
    from aids.cp_plan import as_plan, improve_by_parts, solve

    for name, problem in shops():
        if int(name.split()[-1]) > seeds:
            continue
        mine = plan(problem, random.Random(f"best {name}"), processor_seconds(ours))
        keep(name, problem, mine, f"ours, {ours:g} s", 0.0)
        by_parts = improve_by_parts(problem, mine, parts, 1)
        keep(name, problem, by_parts, f"ours {ours:g} s, then the solver as sub-solver {parts:g} s", 0.0)
        horizon = max(one.end for one in by_parts.placed) + 150
        solved = solve(problem, hinted, mine, horizon=horizon)
        if solved.cost is not None:
            how = f"the solver, hinted with ours of {ours:g} s, {hinted:g} s"
            keep(name, problem, as_plan(problem, solved), how, solved.bound)
        costs = f"ours {mine.cost:.0f}, by parts {by_parts.cost:.0f}, hinted {solved.cost or float('nan'):.0f}"
        print(f"{name}: {costs}, bound {solved.bound:.0f}", flush=True)


def first_seconds(problem: Problem) -> float:
    """Processor seconds until the first legal plan, the best of three."""
    took = []
    for _ in range(3):
        start = time.process_time()
        first_plan(problem)
        took.append(time.process_time() - start)
    return min(took)


def main(seed: int) -> None:
    """Print the table."""
    print(f"{BUDGET:g} s of processor time each, seed {seed}; {platform.machine()}, Python {platform.python_version()}")
    print("cost: sum of weight x (10 x slots late + slots waiting), a slot being 15 minutes; gap: over the best known;")
    print("below: under the better of FIFO and EDD; bound: the solver's (see below), - where none was looked for;")
    print("late: jobs after promise\n")
    columns = f"{'shop':<18}{'first ms':>9}{'FIFO':>8}{'EDD':>8}{'5 s':>8}{'best':>8}"
    print(f"{columns}{'gap':>7}{'below':>7}{'bound':>8}{'late':>5}")
    gaps, belows, firsts, short = [], [], [], []
    known = kept()
    for name, problem in shops():
        if name not in known:
            continue
        first = first_seconds(problem)
        fifo, edd = dispatch(problem, "FIFO").cost, dispatch(problem, "EDD").cost
        found = plan(problem, random.Random(seed), processor_seconds(BUDGET))
        best = plan_of(problem, known[name])
        assert not faults(found) and not faults(best)
        gap, below = found.cost / min(best.cost, found.cost) - 1, 1 - found.cost / min(fifo, edd)
        late = sum(1 for slots in found.lateness.values() if slots > 0)
        figures = f"{first * 1000:>9.0f}{fifo:>8.0f}{edd:>8.0f}{found.cost:>8.0f}{best.cost:>8.0f}"
        bound = f"{known[name]['bound']:.0f}" if known[name]["bound"] else "-"
        print(f"{name:<18}{figures}{gap:>7.1%}{below:>7.1%}{bound:>8}{late:>5}", flush=True)
        if below < BELOW_RULES:
            short.append(f"{name}, where the best plan known is {1 - best.cost / min(fifo, edd):.1%} below")
        gaps.append(gap)
        belows.append(below)
        firsts.append(first)
    _verdict(gaps, belows, firsts)
    if short:
        print("nearer to the better rule than that:", "; ".join(short))
    proved = sum(one["bound"] >= one["cost"] - 1e-6 for one in known.values())  # type: ignore[operator]
    print("\nbound: proved by the solver for plans that end at most 150 slots after the best one;", end=" ")
    print(f"{proved} of {len(known)} proved best")
    print("\nhow the best known was found:")
    for name in known:
        print(f"  {name:<18} {known[name]['how']}")


def _verdict(gaps: list[float], belows: list[float], firsts: list[float]) -> None:
    mean, below = sum(gaps) / len(gaps), sum(belows) / len(belows)
    enough = sum(one >= BELOW_RULES for one in belows)
    print(f"\nmean gap {mean:.2%} (wanted: at most {TOLERANCE:.0%})", "met" if mean <= TOLERANCE else "NOT MET")
    print(f"mean below FIFO and EDD {below:.1%} (wanted: at least {BELOW_RULES:.0%})", end=" ")
    print(
        "met" if below >= BELOW_RULES else "NOT MET", f"and in {enough} of {len(belows)} shops; least {min(belows):.1%}"
    )
    print(f"slowest first plan {max(firsts) * 1000:.0f} ms (wanted: at most {FIRST * 1000:.0f})", end=" ")
    print("met" if max(firsts) <= FIRST else "NOT MET")


if __name__ == "__main__":
    if sys.argv[1:2] == ["best"]:
        look_for_best(*(float(word) for word in [*sys.argv[2:], *("60", "30", "30", "5")[len(sys.argv) - 2 :]]))
    else:
        main(int([*sys.argv, "1"][1]))
