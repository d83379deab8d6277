"""How fast the store is, as ratios within one run, so that they mean the same on any machine.

    python tests/benchmarks/store_bench.py [--jobs 1000 10000 50000] [--commits 300] [--folder DISK]

Each figure stands beside the bare thing it is held against: an fsync of the same bytes, SQLite (write-ahead log,
full sync), plain TinyDB. Run it on the disk that matters; it makes its shops from seed 1.
"""

from __future__ import annotations

import argparse
import json
import os
import platform
import shutil
import sqlite3
import statistics
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Callable
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

from aids import big_shop
from aids.store_steps import remark
from tinydb import TinyDB

from shopboard.records import Step, encode
from shopboard.store import FolderStore, open_shop
from shopboard.store.journal import line_of
from shopboard.store.tiny_files import MonthFile, month_path, months, read_tiny


def timed(times: int, work: Callable[[], object]) -> list[float]:
    """Seconds of each of so many turns of `work`."""
    taken = []
    for _ in range(times):
        begun = time.perf_counter()
        work()
        taken.append(time.perf_counter() - begun)
    return taken


def say(name: str, seconds: list[float] | float, beside: str = "", ratio: float | None = None) -> None:
    """One line of the result."""
    if isinstance(seconds, list):
        ordered = sorted(seconds)
        tail = ordered[min(len(ordered) - 1, int(len(ordered) * 0.99))]
        figures = f"median {statistics.median(ordered) * 1e3:8.3f} ms  p99 {tail * 1e3:8.3f} ms"
    else:
        figures = f"       {seconds * 1e3:8.3f} ms" + " " * 18
    print(f"{name:46} {figures}  {beside + f' {ratio:.3g} x' if ratio is not None else ''}", flush=True)


def bare_fsync(place: Path, size: int) -> Callable[[], object]:
    """Append and sync so many bytes, nothing else."""
    data = b"x" * (size - 1) + b"\n"
    fd = os.open(place / "bare", os.O_CREAT | os.O_WRONLY | os.O_APPEND)
    return lambda: (os.write(fd, data), os.fsync(fd))


def sqlite_commit(place: Path, body: bytes) -> Callable[[], object]:
    """The same record and its line of history, read, changed and kept by SQLite in one transaction."""
    base = sqlite3.connect(place / "base.sqlite", isolation_level=None)
    base.execute("pragma journal_mode=wal")
    base.execute("pragma synchronous=full")
    base.execute("create table if not exists jobs (id integer primary key, data blob)")
    base.execute("create table if not exists changes (seq integer primary key, data blob)")
    base.execute("insert or replace into jobs values (1, ?)", (body,))

    def once() -> None:
        base.execute("begin immediate")
        (data,) = base.execute("select data from jobs where id = 1").fetchone()
        json.loads(data)
        base.execute("insert or replace into jobs values (1, ?)", (body,))
        base.execute("insert into changes (data) values (?)", (body,))
        base.execute("commit")

    return once


def in_turn(times: int, *works: Callable[[], object]) -> list[list[float]]:
    """Seconds of each of so many turns, the works taking turns so that a busy disk is busy for all of them."""
    rounds = [[timed(1, work)[0] for work in works] for _ in range(times)]
    return [list(column) for column in zip(*rounds, strict=True)]


def plain_tinydb(path: Path, shop: Path) -> None:
    """Every job of the shop in one plain TinyDB file."""
    jobs = {}
    for month in months(shop / "db"):
        for id, job in read_tiny(month_path(shop / "db", month), MonthFile).jobs.items():
            jobs[str(id)] = json.loads(encode(job))
    path.write_text(json.dumps({"jobs": jobs}))


_OPEN = "shopboard.store.open_shop({shop!r})"
_TINY = "tinydb.TinyDB({path!r}).table('jobs').get(doc_id=1)"
_NOTHING = "import shopboard.store, tinydb, re"


def in_process(code: str) -> tuple[float, float]:
    """Seconds, and megabytes at the peak, that the code takes in a process of its own, imports aside (Linux)."""
    peak = r"int(re.search(r'VmHWM:\s+(\d+)', open('/proc/self/status').read())[1]) / 1024"
    wrapped = f"import time; {_NOTHING}; m = {peak}; t = time.perf_counter(); x = {code}; d = time.perf_counter() - t; "
    wrapped += f"print(d, {peak} - m)"
    ran = [
        subprocess.run([sys.executable, "-c", wrapped], capture_output=True, text=True, check=True) for _ in range(3)
    ]
    taken = [tuple(map(float, one.stdout.split())) for one in ran]
    return min(one[0] for one in taken), min(one[1] for one in taken)


def others_delay(shop: Path, times: int) -> list[float]:
    """From a commit's return in one terminal to its sight in another that looks every 50 ms."""
    writer, reader = open_shop(shop), open_shop(shop)
    seen: dict[int, float] = {}
    stop = threading.Event()

    def look() -> None:
        while not stop.wait(0.05):
            for change in reader.refresh():
                seen[change.seq] = time.perf_counter()

    watcher = threading.Thread(target=look)
    watcher.start()
    job, said = min(writer.state.jobs), {}
    for n in range(times):
        change = writer.commit("ana", remark(job, "seen?"))
        said[change.seq] = time.perf_counter()
        time.sleep(0.013 * (n % 7))
    while len(seen) < times:
        time.sleep(0.01)
    stop.set()
    watcher.join()
    return [max(0.0, seen[seq] - at) for seq, at in said.items()]


def commits(place: Path, shops: dict[int, Path], times: int) -> None:
    """A commit in each shop, SQLite's and the bare fsync, taking turns."""
    stores = {jobs: open_shop(shop) for jobs, shop in shops.items()}
    steps = {}
    for jobs, store in stores.items():
        job = store.state.jobs[min(store.state.jobs)]
        steps[jobs] = Step("kept", (job,), subject=job.id)
    first = next(iter(shops))
    size = len(line_of(stores[first].commit("ana", lambda *_: steps[first])))
    ours = [lambda jobs=jobs: stores[jobs].commit("ana", lambda *_: steps[jobs]) for jobs in shops]
    lite = sqlite_commit(place, encode(steps[first].puts[0]))
    bare, base, *kept = in_turn(times, bare_fsync(place, size), lite, *ours)
    say(f"append and fsync of the same {size} bytes", bare)
    say("SQLite, write-ahead log, full sync", base)
    for jobs, taken in zip(shops, kept, strict=True):
        median = statistics.median(taken)
        say(f"commit at {jobs} jobs", taken, "bare fsync", median / statistics.median(bare))
        say("", taken, "SQLite", median / statistics.median(base))
        say("", taken, f"commit at {first} jobs", median / statistics.median(kept[0]))
    for store in stores.values():
        store.close()


def measure(jobs: int, shop: Path, place: Path) -> None:
    """All other figures for one size."""
    print(f"\n{jobs} jobs")
    store = open_shop(shop)
    job = min(store.state.jobs)
    say("checkpoint, no job newly closed", _after_a_remark(store, job))
    path = place / "plain.json"
    plain_tinydb(path, shop)
    if jobs <= 10_000:
        with TinyDB(path) as db:
            table = db.table("jobs")
            slow, ours = in_turn(
                3, lambda: table.update({"hours": 1.0}, doc_ids=[1]), lambda: store.commit("ana", remark(job, "x"))
            )
        say("plain TinyDB, one update", slow, "commit", statistics.median(slow) / statistics.median(ours))
    store.close()
    (opened, held), (plain, plainly) = (
        in_process(_OPEN.format(shop=str(shop))),
        in_process(_TINY.format(path=str(path))),
    )
    say("open the shop", opened, "plain TinyDB", opened / plain)
    say("plain TinyDB, open and look at one job", plain)
    print(f"memory: {held:.1f} MB, plain TinyDB {plainly:.1f} MB, {held / plainly:.2f} x")
    store = open_shop(shop)
    closed = sorted(store.state.closed)
    say("one closed job whole", timed(20, lambda: store.state.load_closed(closed[len(closed) // 2])))
    store.commit("ana", remark(job, "to undo"))
    say("the last change, undone", timed(1, lambda: store.undo("ana"))[0])
    say("all of one job's history", timed(3, lambda: list(store.changes(subject=job))))
    store.close()
    delay = others_delay(shop, 60)
    late = sorted(delay)[int(len(delay) * 0.95)]
    print(f"another terminal sees it: median {statistics.median(delay) * 1e3:.0f} ms, p95 {late * 1e3:.0f} ms")


def _after_a_remark(store: FolderStore, job: int) -> list[float]:
    taken = []
    for _ in range(5):
        store.commit("ana", remark(job, "something to put at rest"))
        taken += timed(1, store.checkpoint)
    return taken


def main() -> None:
    """Measure and print."""
    options = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    options.add_argument("--jobs", type=int, nargs="+", default=[1_000, 10_000, 50_000])
    options.add_argument("--commits", type=int, default=300)
    options.add_argument(
        "--folder", type=Path, default=None, help="where to make the shops (default: a scratch folder)"
    )
    given = options.parse_args()
    place = Path(tempfile.mkdtemp(prefix="store-bench-", dir=given.folder))
    print(
        f"{platform.system()} {platform.machine()}, {os.cpu_count()} cores, Python {platform.python_version()}, seed 1"
    )
    try:
        shops = {jobs: place / f"shop-{jobs}" for jobs in given.jobs}
        for jobs, shop in shops.items():
            big_shop.make(shop, jobs)
        commits(place, shops, given.commits)
        for jobs, shop in shops.items():
            measure(jobs, shop, place)
    finally:
        shutil.rmtree(place)


if __name__ == "__main__":
    main()
