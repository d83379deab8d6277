"""How long the memory takes over 50 000 closed jobs on disk, and whether the board answers keys meanwhile.

`python tests/benchmarks/bench_memory.py [JOBS]`: a made shop of 40 models and the causes of the shipped book, over
six years.
Times are of the reckoning process (wall, and its own processor time, which other work on the machine does not stretch);
key delays are of a real board in a pseudo-terminal, from the key to the first byte it draws.
"""

from __future__ import annotations

import os
import platform
import select
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import msgspec

sys.path[:0] = [str(Path(__file__).resolve().parents[1]), str(Path(__file__).resolve().parents[2])]

from aids.big_memory import NOW, Maker, make  # noqa: E402
from aids.pty_board import PtyBoard, pty_board  # noqa: E402
from aids.shipped_book import shipped_book  # noqa: E402

from shopboard.places.knowledge import Ask, Knowledge  # noqa: E402
from shopboard.places.knowledge_work import Teacher, command, get  # noqa: E402
from shopboard.records import Job, Stage, Step  # noqa: E402
from shopboard.store import open_shop  # noqa: E402

SEED, OPEN, KEYS = 1, 30, 300


def timed(name: str, call: Callable[[], Any]) -> Any:
    """What `call` gives; prints how long it took."""
    wall, spent = time.perf_counter(), time.process_time()
    result = call()
    wall, spent = 1000 * (time.perf_counter() - wall), 1000 * (time.process_time() - spent)
    print(f"{name:<58} wall {wall:8.0f} ms   processor {spent:8.0f} ms", flush=True)
    return result


def open_jobs(folder: Path) -> None:
    """Machines that stand here now."""
    store = open_shop(folder, clock=lambda: NOW)
    first = max(store.state.closed) + 1
    jobs = [
        Job(id=first + n, customer=n + 1, machine=n + 1, arrived=NOW, since=NOW, complaint="weak", stage=Stage.ARRIVED)
        for n in range(OPEN)
    ]
    store.commit("ana", lambda state, now: Step("came in", tuple(jobs)))
    store.checkpoint()
    store.close()


def close_one(folder: Path, jobs: int, number: int) -> None:
    """One more job closes, as another terminal would do it."""
    made = Maker(shipped_book(), jobs, SEED + number)
    store = open_shop(folder, clock=lambda: NOW)
    records = made.job(max(store.state.closed) + OPEN + number, 5 + number, 2199)
    store.commit("ana", lambda state, now: Step("closed", tuple(records)))
    store.close()


def reckoning(folder: Path, jobs: int) -> None:
    """The steps of the reckoning process, in the order a board waits for them."""
    teacher = timed("opened, every machine's history, all cells counted", lambda: Teacher(folder))
    first = teacher.answers(Ask(NOW))
    known = timed("1. what the summaries teach: warnings, weights, cells", lambda: next(first))
    row = known.bulk.rows[0]
    timed("   a page with bands, curve, replacement ages", lambda: teacher.reckoning.page(row.component, row.model))
    timed("   the same page again", lambda: teacher.reckoning.page(row.component, row.model))
    timed("   the page of one component on all models", lambda: teacher.reckoning.page(row.component, ""))
    known = timed("2. every closed job read whole, service due, words held", lambda: next(first))
    list(first)
    timed("3. in spare time: lead times", teacher.spare)
    while teacher.idle.wait() == 0:
        timed("   in spare time: a lesson of the book or the plan", teacher.spare)
    for number in range(3):
        close_one(folder, jobs, number)
        timed("after one more job closed", lambda: list(teacher.answers(Ask(NOW))))
    flagged = sum(row.word in ("act", "watch") for row in known.bulk.rows)
    print(f"{len(known.bulk.rows):,} cells with a failure, {flagged} of them flagged, {known.jobs:,} closed jobs")


def fresh(folder: Path) -> None:
    """A process from its start to its first two answers, as a board that opens waits for them."""
    began = time.perf_counter()
    with subprocess.Popen(command(folder), stdin=subprocess.PIPE, stdout=subprocess.PIPE) as process:
        assert process.stdin is not None and process.stdout is not None
        process.stdin.write(msgspec.json.encode(Ask(NOW)) + b"\n")
        process.stdin.flush()
        for name in ("a fresh process, to what the summaries teach", "   to everything the pages show"):
            known = get(process.stdout)
            wall, spent = 1000 * (time.perf_counter() - began), 1000 * _spent(os.getpid())
            print(f"{name:<58} wall {wall:8.0f} ms   processor {spent:8.0f} ms", flush=True)
        assert isinstance(known, Knowledge) and known.whole
        process.kill()


def delays(board: PtyBoard, keys: int, more: Callable[[], bool]) -> list[float]:
    """Seconds from a key to the first byte drawn, for so many keys or as long as `more` holds."""
    found: list[float] = []
    while len(found) < keys and more():
        while select.select([board._fd], [], [], 0.04)[0]:
            board._read(0)
        began = time.perf_counter()
        board.send("j" if len(found) % 20 < 10 else "k")
        select.select([board._fd], [], [], 5.0)
        found.append(time.perf_counter() - began)
    return found


def told(name: str, found: list[float]) -> None:
    """Print p50, p95 and the slowest."""
    ordered = sorted(found)
    p50, p95 = (1000 * ordered[int(len(ordered) * share)] for share in (0.5, 0.95))
    print(f"{name:<58} {len(found):4} keys, p50 {p50:.0f} ms, p95 {p95:.0f} ms, slowest {1000 * ordered[-1]:.0f} ms")


def _spent(pid: int) -> float:
    """Processor seconds of a process's children."""
    total = 0.0
    for entry in Path("/proc").iterdir():
        if entry.name.isdigit():
            try:
                fields = (entry / "stat").read_text().rpartition(")")[2].split()
            except OSError:
                continue
            if int(fields[1]) == pid:
                total += (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")
    return total


def keys(folder: Path) -> None:
    """Key delays while closed jobs are gone through, and after."""
    with pty_board(folder, who="me") as board:
        board.until("arrived")
        told("a key on the Floor while all closed jobs are gone through", delays(board, KEYS, lambda: True))
        print(f"processor time the reckoning took meanwhile: {_spent(board.pid):.1f} s")
        last, still = -1.0, 0
        while still < 4:
            time.sleep(1)
            now = _spent(board.pid)
            still, last = (still + 1 if now - last < 0.05 else 0), now
        told("a key on the Floor once nothing is reckoned any more", delays(board, KEYS, lambda: True))
        print(f"processor time the reckoning took in all: {_spent(board.pid):.1f} s")


def main(jobs: int = 50_000) -> None:
    """Make the shop, then measure."""
    where = f"{os.cpu_count()} cores, Python {platform.python_version()}, load {os.getloadavg()[0]:.0f}"
    print(f"{jobs:,} closed jobs, seed {SEED}, {where}")
    with tempfile.TemporaryDirectory() as scratch:
        folder = Path(scratch) / "shop"
        make(folder, shipped_book(), jobs, SEED)
        open_jobs(folder)
        keys(folder)
        for _ in range(3):
            fresh(folder)
        reckoning(folder, jobs)


if __name__ == "__main__":
    main(*map(int, sys.argv[1:]))
