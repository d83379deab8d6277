"""How long the memory takes over 50 000 closed jobs: `python tests/benchmarks/bench_memory.py`.

Invented records in memory, no disk: 10 000 machines of 40 models, the causes of the shipped book, six years.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

sys.path[:0] = [str(Path(__file__).resolve().parents[1]), str(Path(__file__).resolve().parents[2])]

import numpy as np  # noqa: E402
from aids.shipped_book import shipped_book  # noqa: E402

from shopboard import memory  # noqa: E402
from shopboard.places import memory_lines, memory_page  # noqa: E402
from shopboard.records import (  # noqa: E402
    ClosedJob,
    HourReading,
    Layout,
    Machine,
    Model,
    Settings,
    ShopState,
    Stage,
)

JOBS, MACHINES, MODELS, SEED = 50_000, 10_000, 40, 1
START = datetime(2020, 1, 1, tzinfo=UTC)


def big_state() -> ShopState:
    """The records, every job one visit with a meter reading."""
    rng = np.random.default_rng(SEED)
    book = shipped_book()
    layouts = list(Layout)
    models = {f"m{i}": Model(id=f"m{i}", name=f"M {i}", layout=layouts[i % 4]) for i in range(MODELS)}
    of = {str(layout): [c.id for c in book.causes.values() if layout in c.layouts] for layout in layouts}
    model = rng.integers(MODELS, size=MACHINES)
    rate = rng.lognormal(np.log(0.5), 0.5, MACHINES)
    visits: dict[int, list[int]] = {}
    for day, id in zip(np.sort(rng.integers(1, 2190, JOBS)), rng.integers(MACHINES, size=JOBS), strict=True):
        visits.setdefault(int(id), []).append(int(day))
    machines, closed = {}, {}
    for id in range(MACHINES):
        layout = layouts[int(model[id]) % 4]
        days = visits.get(id, [])
        readings = tuple(
            HourReading(at=START + timedelta(days=d), hours=round(float(d * rate[id]), 1)) for d in [0, *days]
        )
        machines[id] = Machine(id=id, customer=id % 900, model=f"m{model[id]}", layout=layout, readings=readings)
        for d in days:
            cause = str(rng.choice(of[str(layout)]))
            at, job = START + timedelta(days=d), len(closed) + 1
            closed[job] = ClosedJob(
                id=job, customer=id % 900, machine=id, complaint="", causes=(cause,), stage=Stage.COLLECTED,
                hours=round(float(d * rate[id]), 1), arrived=at, closed_at=at + timedelta(days=2), minutes=90.0,
            )  # fmt: skip
    return ShopState(settings=Settings(name="Big"), models=models, machines=machines, closed=closed)


def timed(name: str, call: Callable[[], object]) -> None:
    """Print what a call takes, the first time and the best of three more."""
    spent = []
    for _ in range(4):
        begun = time.perf_counter()
        call()
        spent.append(1000 * (time.perf_counter() - begun))
    print(f"{name:<42} first {spent[0]:8.1f} ms   then {min(spent[1:]):8.1f} ms")


def main() -> None:
    """Time each part and the whole page."""
    state, book = big_state(), shipped_book()
    now = START + timedelta(days=2200)
    found = memory.histories(state.machines.values(), state.closed.values())
    shop = memory_page.shop_record(found, state, book)
    print(f"{len(state.closed):,} closed jobs, {len(state.machines):,} machines, {len(shop.cells):,} cells")
    print(f"{sum(word in ('act', 'watch') for word in shop.words)} cells flagged")
    timed("histories", lambda: memory.histories(state.machines.values(), state.closed.values()))
    timed("every cell judged", lambda: memory_page.shop_record(found, state, book))
    timed("warnings of one model, from a record", lambda: memory.intake_warnings(shop, "m3", {}))
    timed("weights of one machine, from a record", lambda: memory.weights(shop, "m3", 800.0))
    component = found.components()[0]
    timed("ages of one component", lambda: memory.ageing(found.lives(component), np.random.default_rng(1)))
    zone = ZoneInfo("UTC")
    timed("the whole page", lambda: memory_page.look(state, book, now, zone))
    timed("the page of one model", lambda: memory_page.look(state, book, now, zone, model="m3"))
    page = memory_page.look(state, book, now, zone)
    timed("its lines", lambda: memory_lines.memory_lines(page, 80))


if __name__ == "__main__":
    main()
