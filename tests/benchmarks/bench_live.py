"""How long another terminal's change takes to show: two boards in two pseudo-terminals on one shop.

`python tests/benchmarks/bench_live.py [CHANGES] [JOBS]` prints p50, p95 and the slowest, in milliseconds, from the key
that saves in one terminal to the news on the screen of the other, and from the key to the words "Saved" in its own.
"""

from __future__ import annotations

import os
import platform
import sys
import tempfile
from datetime import UTC, datetime
from pathlib import Path
from random import Random
from time import perf_counter

sys.path.insert(0, str(Path(__file__).parents[1]))

from aids.boards import shipped
from aids.pty_board import PtyBoard, pty_board
from aids.shops import Clock, make_shop

from shopboard.shop.intake import Intake, NewCustomer, NewMachine, take_in


def a_shop(folder: Path, jobs: int) -> None:
    """A shop with so many open jobs."""
    store = make_shop(folder, Clock(datetime.now(UTC)))
    for number in range(jobs):
        machine = NewMachine(model="in-line-1", serial=f"S{number}")
        intake = Intake(
            customer=NewCustomer(name=f"Farm {number}", phone=str(number)), machine=machine, complaint="will not pull"
        )
        store.commit("ana", lambda state, now, given=intake: take_in(state, now, "ana", given, book=shipped()))
    store.close()


def one_change(here: PtyBoard, there: PtyBoard, words: str) -> tuple[float, float]:
    """Save a remark here; seconds until it is acknowledged here, and until it shows there."""
    here.send(f"w{words}")
    here.until(words)
    began = perf_counter()
    here.send("\r")
    here.until(f"remark: {words}")
    saved = perf_counter() - began
    there.until(lambda screen: f"remark: {words}" in screen)
    return saved, perf_counter() - began


def centiles(times: list[float]) -> str:
    """p50, p95 and the slowest, in milliseconds."""
    ordered = sorted(times)
    p50, p95 = (ordered[min(len(ordered) - 1, int(len(ordered) * share))] for share in (0.5, 0.95))
    return f"p50 {p50 * 1000:.0f} ms, p95 {p95 * 1000:.0f} ms, slowest {ordered[-1] * 1000:.0f} ms"


def main(changes: int = 100, jobs: int = 40) -> None:
    """Measure and print."""
    random = Random(1)
    with tempfile.TemporaryDirectory() as scratch:
        folder = Path(scratch) / "shop"
        a_shop(folder, jobs)
        with pty_board(folder) as ana, pty_board(folder, who="bo") as bo:
            ana.send("1\r")
            ana.until("looked up T-0001")
            pairs = [one_change(ana, bo, f"word {random.randrange(10**9)}") for _ in range(changes)]
    print(f"{changes} changes, {jobs} open jobs, {os.cpu_count()} cores, Python {platform.python_version()}, seed 1")
    print(f"acknowledged in its own terminal: {centiles([saved for saved, _ in pairs])}")
    print(f"shown in the other terminal:      {centiles([shown for _, shown in pairs])}")


if __name__ == "__main__":
    main(*map(int, sys.argv[1:]))
