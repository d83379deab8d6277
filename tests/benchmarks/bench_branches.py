"""Many branches with several terminals each in one database: throughput, latency, who waits for whom.

    python tests/benchmarks/bench_branches.py [--branches 100] [--terminals 4] [--seconds 40] [--every 10]

Server and terminals share this machine. First each terminal commits every --every seconds on average (drawn, seed 1),
then one branch's lock is held for some seconds by a session that is stuck, then all commit as fast as they can. Beside
it a session samples every 50 ms which locks are waited for, and of which branch.
"""

from __future__ import annotations

import argparse
import multiprocessing
import os
import platform
import random
import shutil
import statistics
import sys
import tempfile
import threading
import time
from collections import Counter
from dataclasses import dataclass, field
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

import psycopg
from aids.postgres import Server, owned_by_the_server
from aids.postgres_shops import keep_out_of_home
from aids.store_steps import count_up, remark, take_in

from shopboard.places.app import POLL
from shopboard.store import Address, Store, StoreError, new_shop, open_shop, place_of

_FORK = multiprocessing.get_context("fork")
PROCESSES = 4


@dataclass
class Told:
    """What the terminals of one process measured, by phase: (branch, seconds) of each commit, seconds until another
    terminal saw it, and what failed."""

    commits: dict[str, list[tuple[int, float]]] = field(default_factory=dict)
    seen: list[float] = field(default_factory=list)
    failed: Counter[str] = field(default_factory=Counter)


class Terminals:
    """The terminals of some branches, a thread each, in one process."""

    def __init__(self, addresses: dict[int, str], each: int, every: float, phase, seed: int) -> None:  # type: ignore[no-untyped-def]
        self.told, self.phase, self.every = Told(), phase, every
        self.made: dict[tuple[int, int], float] = {}
        self.stores = [(branch, open_shop(place_of(one))) for branch, one in addresses.items() for _ in range(each)]
        for _, store in self.stores:
            store.follow()
        self.threads = [
            threading.Thread(target=self._work, args=(branch, store, random.Random(f"{seed} {n}")))
            for n, (branch, store) in enumerate(self.stores)
        ]

    def _work(self, branch: int, store: Store, draw: random.Random) -> None:
        due = time.monotonic() + draw.expovariate(1 / self.every)
        while (phase := PHASES[self.phase.value]) != "over":
            if phase == "flat out" or time.monotonic() >= due:
                self._commit(branch, store, draw, phase)
                due = time.monotonic() + draw.expovariate(1 / self.every)
            if phase != "flat out":
                self._look(branch, store)
                time.sleep(POLL)
        store.close()

    def _commit(self, branch: int, store: Store, draw: random.Random, phase: str) -> None:
        action = draw.choice([take_in("drawn"), remark(1, "looked at"), count_up(1)])
        begun = time.perf_counter()
        try:
            change = store.commit("me", action)
        except StoreError as error:
            self.told.failed[str(error)[:60]] += 1
            return
        now = time.perf_counter()
        self.made[branch, change.seq] = now
        self.told.commits.setdefault(phase, []).append((branch, now - begun))

    def _look(self, branch: int, store: Store) -> None:
        for change in store.refresh():
            at = self.made.get((branch, change.seq))
            if at is not None:
                self.told.seen.append(max(0.0, time.perf_counter() - at))


PHASES = ["usual", "one branch stuck", "flat out", "over"]


def _process(addresses: dict[int, str], each: int, every: float, phase, seed: int, pipe) -> None:  # type: ignore[no-untyped-def]
    terminals = Terminals(addresses, each, every, phase, seed)
    pipe.send("open")
    pipe.recv()
    for thread in terminals.threads:
        thread.start()
    for thread in terminals.threads:
        thread.join()
    pipe.send(terminals.told)


@dataclass
class Waits:
    """What was waited for, sampled: by phase and kind, and how often somebody waited for another branch's lock."""

    samples: int = 0
    kinds: dict[str, Counter[str]] = field(default_factory=dict)
    across: int = 0


_WAITING = """
select a.pid, coalesce(a.wait_event_type, ''), coalesce(a.wait_event, ''),
       (select array_agg(format('%s %s %s', l.locktype, l.classid, l.objid))
          from pg_locks l where l.pid = a.pid and not l.granted),
       (select array_agg(distinct regexp_replace(b.application_name, '^shopboard ', ''))
          from unnest(pg_blocking_pids(a.pid)) p join pg_stat_activity b on b.pid = p),
       regexp_replace(a.application_name, '^shopboard ', '')
from pg_stat_activity a
where a.backend_type = 'client backend' and a.state = 'active' and a.wait_event_type is not null
  and a.pid <> pg_backend_pid()
"""


def sample(server: Server, phase, waits: Waits, stop: threading.Event) -> None:  # type: ignore[no-untyped-def]
    """Look every 50 ms who waits for what."""
    with psycopg.connect(server.conninfo("shops"), autocommit=True) as link:
        while not stop.wait(0.05):
            waits.samples += 1
            kinds = waits.kinds.setdefault(PHASES[phase.value], Counter())
            for _, kind, event, locks, blockers, mine in link.execute(_WAITING).fetchall():
                kinds[f"{kind}: {event}"] += 1
                if (
                    kind == "Lock"
                    and any(other != mine for other in blockers or ())
                    and "stuck" not in (blockers or ())
                ):
                    waits.across += 1
                    kinds[f"ACROSS {locks}"] += 1


def say(name: str, seconds: list[float], beside: str = "") -> None:
    """One line of the result, in milliseconds."""
    if not seconds:
        print(f"{name:46} none", flush=True)
        return
    ordered = sorted(seconds)
    p95, p99 = (ordered[min(len(ordered) - 1, int(len(ordered) * share))] * 1e3 for share in (0.95, 0.99))
    print(
        f"{name:46} median {statistics.median(ordered) * 1e3:7.1f}  p95 {p95:7.1f}  p99 {p99:7.1f} ms  {beside}",
        flush=True,
    )


def stuck(server: Server, branch: int, seconds: float) -> None:
    """Hold one branch's lock, as a session that hangs in the midst of a commit would."""
    with psycopg.connect(server.conninfo("shops"), application_name="stuck") as link:
        link.execute("select shopboard.hold(%s)", (branch,))
        time.sleep(seconds)


def run(server: Server, branches: int, terminals: int, seconds: float, every: float) -> None:
    """All phases, and the figures."""
    addresses = {}
    for n in range(branches):
        place = place_of(server.address("shops", f"branch-{n:04d}"))
        assert isinstance(place, Address)
        new_shop(place)
        store = open_shop(place)
        store.commit("me", take_in("first"))
        store.close()
        addresses[n] = str(place)
    numbers = {
        n: id for n, (id,) in enumerate(server.execute("select id from shopboard.branch order by name", "shops"))
    }
    phase = _FORK.Value("i", 0)
    pipes, processes = [], []
    for p in range(PROCESSES):
        here, there = _FORK.Pipe()
        some = {n: one for n, one in addresses.items() if n % PROCESSES == p}
        processes.append(_FORK.Process(target=_process, args=(some, terminals, every, phase, p, there)))
        processes[-1].start()
        pipes.append(here)
    begun = time.perf_counter()
    for pipe in pipes:
        assert pipe.recv() == "open"
    links = server.execute("select count(*) from pg_stat_activity where backend_type = 'client backend'")[0][0]
    print(
        f"{branches * terminals} terminals open after {time.perf_counter() - begun:.1f} s, {links} connections",
        flush=True,
    )
    waits, stop = Waits(), threading.Event()
    watcher = threading.Thread(target=sample, args=(server, phase, waits, stop))
    watcher.start()
    for pipe in pipes:
        pipe.send("go")
    time.sleep(seconds)
    phase.value = 1
    stuck(server, int(str(numbers[0])), 4.0)
    time.sleep(1.0)
    phase.value = 2
    time.sleep(seconds / 2)
    phase.value = 3
    told = [pipe.recv() for pipe in pipes]
    for process in processes:
        process.join(60)
    stop.set()
    watcher.join()
    report(told, waits, {"usual": seconds, "one branch stuck": 5.0, "flat out": seconds / 2})


def report(told: list[Told], waits: Waits, spent: dict[str, float]) -> None:
    """Print the figures."""
    for name, seconds in spent.items():
        made = [one for each in told for one in each.commits.get(name, [])]
        if name == "one branch stuck":
            say("one branch stuck for 4 s: the other branches", [s for b, s in made if b != 0])
            say("  that branch itself", [s for b, s in made if b == 0])
            continue
        say(f"{name}: a commit", [s for _, s in made], f"{len(made)} in {seconds:.0f} s, {len(made) / seconds:.0f}/s")
    say("another terminal of the branch sees it", [s for each in told for s in each.seen])
    failed = sum((each.failed for each in told), Counter())
    print(f"failed: {dict(failed) or 'none'}")
    shared = sum(many for kinds in waits.kinds.values() for kind, many in kinds.items() if kind == "Lock: object")
    print(f"{waits.samples} samples of who waits: for a lock of another branch {waits.across}, ", end="")
    print(f"for the queue of hints, which all share, {shared}")
    for name, kinds in waits.kinds.items():
        print(f"  {name}: " + ", ".join(f"{kind} {many}" for kind, many in kinds.most_common(6)))


def main() -> None:
    """Measure and print."""
    options = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    options.add_argument("--branches", type=int, default=100)
    options.add_argument("--terminals", type=int, default=4)
    options.add_argument("--seconds", type=float, default=40)
    options.add_argument("--every", type=float, default=10, help="seconds between a terminal's commits, on average")
    options.add_argument("--folder", type=Path, default=None, help="on which disk (default: the scratch folder's)")
    given = options.parse_args()
    keep_out_of_home()
    place = owned_by_the_server(Path(tempfile.mkdtemp(prefix="bench-branches-", dir=given.folder)))
    server = Server(place)
    try:
        server.make()
        server.set(max_connections=str(given.branches * given.terminals * 2 + 50))
        server.start()
        server.execute("create database shops")
        (version,) = server.execute("show server_version")[0]
        print(
            f"{platform.system()} {platform.machine()}, {os.cpu_count()} cores shared by server and terminals, "
            f"Python {platform.python_version()}, PostgreSQL {version}; {given.branches} branches x {given.terminals} "
            f"terminals, a commit every {given.every:g} s each, seed 1"
        )
        run(server, given.branches, given.terminals, given.seconds, given.every)
    finally:
        server.stop()
        shutil.rmtree(place, ignore_errors=True)


if __name__ == "__main__":
    main()
