"""Four terminals that each write ten times a second: how long a commit takes, beside a bare fsync of the same bytes.

    python tests/benchmarks/store_four.py [--seconds 60] [--folder DISK]

Every process reads its job, changes a word of it and commits it, then appends and syncs as many bytes to a file of its
own, and waits for the next tenth of a second: so a busy disk is busy for both. What is under test is that a commit's
slow cases are the disk's own.
"""

from __future__ import annotations

import argparse
import multiprocessing
import os
import platform
import shutil
import statistics
import sys
import tempfile
import time
from datetime import datetime
from multiprocessing.connection import Connection
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

import msgspec
from aids.store_steps import take_in

from shopboard.records import ShopState, Step
from shopboard.store import new_shop, open_shop
from shopboard.store.journal import line_of

WRITERS, PER_SECOND = 4, 10

Times = list[tuple[float, float]]


def write(shop: Path, number: int, seconds: int, told: Connection) -> None:
    """One terminal: (commit, bare fsync) in seconds, for each write."""
    store, times = open_shop(shop), []
    job = sorted(store.state.jobs)[number]
    bare = os.open(shop.with_name(f"bare-{number}"), os.O_CREAT | os.O_WRONLY | os.O_APPEND)

    def again(state: ShopState, now: datetime) -> Step:
        """The job as it is, with another word: as long each time."""
        found = state.jobs[job]
        return Step("kept", (msgspec.structs.replace(found, keys=f"{now:%H:%M:%S}"),), subject=job)

    told.send("ready")
    told.recv()
    tick = time.perf_counter() + number / PER_SECOND / WRITERS / 3
    for turn in range(seconds * PER_SECOND):
        time.sleep(max(0.0, tick + turn / PER_SECOND - time.perf_counter()))
        begun = time.perf_counter()
        change = store.commit("ana", again)
        took = time.perf_counter() - begun
        data = line_of(change)
        begun = time.perf_counter()
        os.write(bare, data)
        os.fsync(bare)
        times.append((took, time.perf_counter() - begun))
    told.send(times)
    store.close()


def run(place: Path, seconds: int) -> list[Times]:
    """All terminals at once, begun together."""
    shop = place / "shop"
    new_shop(shop)
    store = open_shop(shop)
    for number in range(WRITERS):
        store.commit("ana", take_in(f"machine {number}"))
    store.close()
    pipes, processes = [], []
    for number in range(WRITERS):
        here, there = multiprocessing.Pipe()
        processes.append(multiprocessing.Process(target=write, args=(shop, number, seconds, there), daemon=True))
        processes[-1].start()
        pipes.append(here)
    for pipe in pipes:
        assert pipe.recv() == "ready"
    for pipe in pipes:
        pipe.send("go")
    told = [pipe.recv() for pipe in pipes]
    for process in processes:
        process.join()  # it puts the shop at rest before it goes
    return told


def centile(times: list[float], share: float) -> float:
    """The value that `share` of the times do not pass, in milliseconds."""
    ordered = sorted(times)
    return ordered[min(len(ordered) - 1, int(len(ordered) * share))] * 1e3


def main() -> None:
    """Measure and print."""
    options = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    options.add_argument("--seconds", type=int, default=60)
    options.add_argument("--folder", type=Path, default=None)
    given = options.parse_args()
    place = Path(tempfile.mkdtemp(prefix="store-four-", dir=given.folder))
    try:
        told = run(place, given.seconds)
    finally:
        shutil.rmtree(place)
    kinds = {
        "commit": [took for times in told for took, _ in times],
        "bare fsync": [bare for times in told for _, bare in times],
    }
    load = os.getloadavg()[0] if hasattr(os, "getloadavg") else float("nan")
    print(
        f"{platform.system()} {platform.machine()}, {os.cpu_count()} cores, Python {platform.python_version()}, "
        f"load {load:.1f}, {WRITERS} processes × {PER_SECOND} writes/s × {given.seconds} s"
    )
    for name, times in kinds.items():
        median, late = statistics.median(times) * 1e3, centile(times, 0.99)
        print(f"{name:12} median {median:7.2f} ms  p99 {late:7.2f} ms  p99/median {late / median:5.1f}")


if __name__ == "__main__":
    main()
