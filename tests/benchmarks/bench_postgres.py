"""How fast a shop in a PostgreSQL database is, as ratios within one run, so that they mean the same on any machine.

    python tests/benchmarks/bench_postgres.py [--commits 300] [--writers 4] [--times 500] [--jobs 50000] [--folder DISK]

It starts a server of its own with its settings as shipped (every commit synced), on the disk of --folder. A commit
stands beside a bare psycopg insert and commit of the same bytes into a table with the same key, the two taking turns.
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
import threading
import time
from collections.abc import Callable
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

import psycopg
from aids import big_shop
from aids.postgres import Server, owned_by_the_server
from aids.postgres_shops import keep_out_of_home
from aids.store_steps import count_up, remark, take_in

from shopboard.places.app import POLL
from shopboard.store import Store, new_shop, open_shop, place_of
from shopboard.store.move import move

_FORK = multiprocessing.get_context("fork")


def say(name: str, seconds: list[float], beside: str = "") -> None:
    """One line of the result, in milliseconds."""
    ordered = sorted(seconds)
    p95, p99 = (ordered[min(len(ordered) - 1, int(len(ordered) * share))] * 1e3 for share in (0.95, 0.99))
    print(
        f"{name:52} median {statistics.median(ordered) * 1e3:7.2f}  p95 {p95:7.2f}  p99 {p99:7.2f} ms  {beside}",
        flush=True,
    )


def timed(work: Callable[[], object]) -> float:
    """Seconds of one turn."""
    begun = time.perf_counter()
    work()
    return time.perf_counter() - begun


def bare(server: Server, line: bytes) -> Callable[[], object]:
    """Insert and commit the same bytes, nothing else."""
    link = psycopg.connect(server.conninfo("shops"))
    link.execute("create table bare (branch int, seq bigint, line bytea, primary key (branch, seq))")
    link.commit()
    numbers = iter(range(1, 10**9))

    def once() -> None:
        link.execute("insert into bare values (1, %s, %b)", (next(numbers), line))
        link.commit()

    return once


def commits(server: Server, store: Store, times: int) -> None:
    """A commit and a bare insert, taking turns."""
    store.commit("me", take_in())
    change = store.commit("me", remark(1, "x"))
    (line,) = server.execute(f"select line from shopboard.change where seq = {change.seq} limit 1", "shops")[0]
    insert = bare(server, bytes(line))

    def note() -> object:
        # Always the same bytes: the note is put back each time
        return store.commit("me", same(store))

    pairs = [(timed(insert), timed(note)) for _ in range(times)]
    bares, ours = [p[0] for p in pairs], [p[1] for p in pairs]
    say(f"bare psycopg insert and commit of {len(line)} bytes", bares)
    say("commit", ours, f"{statistics.median(ours) / statistics.median(bares):.2f} x bare")


def same(store: Store):  # type: ignore[no-untyped-def]
    """Keeps the job as it is."""
    from shopboard.records import Step

    job = store.state.jobs[1]
    return lambda state, now: Step("noted on T-0001", (job,), subject=1)


def _count(address: str, times: int, pipe) -> None:  # type: ignore[no-untyped-def]
    store = open_shop(place_of(address))
    taken = [timed(lambda: store.commit("me", count_up(1))) for _ in range(times)]
    pipe.send(taken)
    store.close()


def writers(address: str, number: int, times: int) -> None:
    """So many processes that each read, raise and write one number so many times."""
    store = open_shop(place_of(address))
    before = int(store.state.customers[1].note or 0)
    pipes, processes = [], []
    begun = time.perf_counter()
    for _ in range(number):
        here, there = _FORK.Pipe()
        processes.append(_FORK.Process(target=_count, args=(address, times, there)))
        processes[-1].start()
        pipes.append(here)
    taken = [seconds for pipe in pipes for seconds in pipe.recv()]
    for process in processes:
        process.join()
    spent = time.perf_counter() - begun
    store.refresh()
    lost = number * times - (int(store.state.customers[1].note) - before)
    say(
        f"{number} terminals x {times} read-modify-writes of one record",
        taken,
        f"{lost} lost, {number * times / spent:.0f}/s",
    )
    store.close()


def seen_after(address: str, times: int) -> None:
    """From a commit's return in one terminal to its sight in another that looks as often as the board does."""
    writer, reader = open_shop(place_of(address)), open_shop(place_of(address))
    reader.follow()
    seen: dict[int, float] = {}
    stop = threading.Event()

    def look() -> None:
        while not stop.wait(POLL):
            for change in reader.refresh():
                seen[change.seq] = time.perf_counter()

    watcher = threading.Thread(target=look)
    watcher.start()
    time.sleep(0.5)
    said = {}
    for n in range(times):
        change = writer.commit("me", remark(1, "seen?"))
        said[change.seq] = time.perf_counter()
        time.sleep(0.02 + 0.013 * (n % 7))
    until = time.monotonic() + 10
    while len(seen.keys() & said.keys()) < times and time.monotonic() < until:
        time.sleep(0.01)
    stop.set()
    watcher.join()
    say(
        f"another terminal sees it, looking every {POLL * 1e3:.0f} ms",
        [max(0.0, seen[s] - at) for s, at in said.items()],
    )
    for store in (writer, reader):
        store.close()


def openings(server: Server, folder: Path, jobs: int) -> None:
    """Opening a large shop from a folder and from the database, in turn."""
    shop = folder / "big"
    big_shop.make(shop, jobs)
    address = place_of(server.address("shops", "big"))
    spent = timed(lambda: move(shop, address))
    print(f"moved {jobs} jobs into the database, compared record by record, in {spent:.1f} s", flush=True)
    pairs = []
    for _ in range(5):
        pairs.append((timed(lambda: open_shop(shop).close()), timed(lambda: open_shop(address).close())))
    say(f"open {jobs} jobs from a folder", [p[0] for p in pairs])
    ratio = statistics.median(p[1] for p in pairs) / statistics.median(p[0] for p in pairs)
    say(f"open {jobs} jobs from the database", [p[1] for p in pairs], f"{ratio:.2f} x the folder")


def main() -> None:
    """Measure and print."""
    options = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    options.add_argument("--commits", type=int, default=300)
    options.add_argument("--writers", type=int, default=4)
    options.add_argument("--times", type=int, default=500)
    options.add_argument("--jobs", type=int, default=50_000)
    options.add_argument("--folder", type=Path, default=None, help="on which disk (default: the scratch folder's)")
    given = options.parse_args()
    keep_out_of_home()
    place = owned_by_the_server(Path(tempfile.mkdtemp(prefix="bench-postgres-", dir=given.folder)))
    server = Server(place)
    try:
        server.make().start()
        server.execute("create database shops")
        (version,) = server.execute("show server_version")[0]
        print(
            f"{platform.system()} {platform.machine()}, {os.cpu_count()} cores shared by server and terminals, "
            f"Python {platform.python_version()}, PostgreSQL {version}, psycopg {psycopg.__version__}"
        )
        address = server.address("shops", "main")
        new_shop(place_of(address))
        store = open_shop(place_of(address))
        commits(server, store, given.commits)
        store.close()
        writers(address, given.writers, given.times)
        seen_after(address, 100)
        mine = Path(tempfile.mkdtemp(prefix="bench-shop-", dir=given.folder))
        openings(server, mine, given.jobs)
        shutil.rmtree(mine)
    finally:
        server.stop()
        shutil.rmtree(place, ignore_errors=True)


if __name__ == "__main__":
    main()
