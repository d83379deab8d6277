"""Starts processes that commit, kills them, keeps what they acknowledged, and holds the shop to it."""

from __future__ import annotations

import multiprocessing
import random
import signal
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field
from multiprocessing.connection import Connection
from pathlib import Path
from typing import Any

from aids import store_steps as steps
from aids.crash_worker import step_file
from shopboard.store import FolderStore, open_shop, verify

_CONTEXT = multiprocessing.get_context("forkserver")
_CONTEXT.set_forkserver_preload(["shopboard.store", "aids.crash_worker"])


@dataclass
class Child:
    """A started process and what it acknowledged, kept on this side of the pipe."""

    process: Any
    pipe: Connection
    acks: list[tuple[int, str]] = field(default_factory=list)

    def wait_ready(self) -> None:
        """Until it has opened the shop."""
        assert self.pipe.recv() == (0, "ready")

    def kill(self) -> None:
        """kill -9, at once."""
        self.process.kill()

    def finish(self) -> int:
        """Collect every acknowledgement until the pipe breaks; the exit code (-9 after a kill)."""
        try:
            while True:
                self.acks.append(self.pipe.recv())
        except (EOFError, OSError):
            pass
        self.process.join()
        self.pipe.close()
        return self.process.exitcode


def start(target: Callable[..., None], *args: Any) -> Child:
    """Start `target(*args, acks)` in a process of its own."""
    here, there = _CONTEXT.Pipe(duplex=False)
    process = _CONTEXT.Process(target=target, args=(*args, there), daemon=True)
    process.start()
    there.close()
    return Child(process, here)


def check(folder: Path, acks: list[tuple[int, str]]) -> FolderStore:
    """The shop opens; every acknowledged change is there, none half, and what verify says of the data is nothing."""
    store = open_shop(folder)
    assert store.read_only == ""
    history = list(store.changes())
    assert [change.seq for change in history] == list(range(1, store.state.seq + 1))
    by_number = {change.seq: change for change in history}
    for seq, word in acks:
        assert seq in by_number, f"acknowledged change {seq} is lost"
        if word:
            assert [
                op.data.get("name", op.data.get("serial", op.data.get("complaint"))) for op in by_number[seq].ops
            ] == [word] * 3, f"change {seq} is not what was acknowledged"
    _check_nothing_half(store)
    faults = [fault for fault in verify(folder) if not fault.where.startswith(("book/", "machine"))]
    assert not faults, faults
    return store


def _check_nothing_half(store: FolderStore) -> None:
    state = store.state
    jobs = {**state.jobs, **{id: state.load_closed(id)[0] for id in state.closed}}
    assert len(jobs) == len(state.customers) == len(state.machines)
    for job in jobs.values():
        assert job.complaint == state.customers[job.customer].name == state.machines[job.machine].serial


def replayed(folder: Path, store: FolderStore) -> None:
    """The state is exactly what the history says, replayed from its first change by a route of its own."""
    tables: dict[str, dict[int, Any]] = {name: {} for name in ("customers", "machines", "jobs", "parts")}
    for change in store.changes():
        for op in change.ops:
            if hasattr(op, "data"):
                tables[op.table][op.id] = op.data
            else:
                tables[op.table].pop(op.id, None)
    seen = steps.picture(store.state)
    whole = seen["whole"].values()
    assert tables["customers"].keys() == seen["customers"].keys()
    assert tables["jobs"].keys() == seen["jobs"].keys() | seen["closed"].keys()
    assert tables["parts"].keys() == seen["parts"].keys() | {line.id for _, lines in whole for line in lines}
    for id, data in tables["jobs"].items():
        job = seen["jobs"].get(id) or seen["whole"][id][0]
        assert (job.complaint, job.stage, len(job.notes)) == (
            data["complaint"],
            data.get("stage", "arrived"),
            len(data.get("notes", ())),
        )


#: Steps after which nothing more is being written; the last one of a checkpoint among them, since it is passed as the
#: checkpoint ends.
BETWEEN = {"", "locked", "caught up", "synced", "applied", "unlocked", "plain removed"}


@dataclass
class Killed:
    """What came of many kills: every acknowledgement, and after which step each process died."""

    acks: list[tuple[int, str]] = field(default_factory=list)
    steps: Counter[str] = field(default_factory=Counter)

    def inside(self) -> float:
        """The share of kills that fell while something was being written: append, sync or checkpoint."""
        return 1 - sum(count for step, count in self.steps.items() if step in BETWEEN) / self.steps.total()


def _wait_for_writing(files: list[Path]) -> None:
    for _ in range(20_000):
        if any(file.read_bytes().strip(b" \0").decode() not in BETWEEN for file in files):
            return


def kill_rounds(
    folder: Path,
    rounds: int,
    seed: int,
    worker: Callable[..., None],
    writers: int = 1,
    most_acks: int = 12,
    aimed: float = 0.5,
) -> Killed:
    """`rounds` times: start `writers` workers, let them commit for a drawn while, kill them all, check the shop.

    The drawn while is a number of acknowledgements below `most_acks`, then a drawn number of turns of an idle loop;
    for the share `aimed` of the rounds it goes on until one of the workers is seen to write, so that many kills fall
    inside append, sync and checkpoint.
    """
    draw, result = random.Random(seed), Killed()
    for _ in range(rounds):
        names = [f"w{number}" for number in range(writers)]
        children = [start(worker, folder, name, draw.getrandbits(40)) for name in names]
        for child in children:
            child.wait_ready()
        for _ in range(draw.randrange(most_acks)):
            child = draw.choice(children)
            child.acks.append(child.pipe.recv())
        for _ in range(draw.randrange(30_000)):
            pass
        if draw.random() < aimed:
            _wait_for_writing([step_file(folder, name) for name in names])
        for child in children:
            child.kill()
        for child, name in zip(children, names, strict=True):
            assert child.finish() == -signal.SIGKILL
            step = step_file(folder, name).read_bytes().strip(b" \0").decode()
            result.steps[step] += 1
            result.acks += child.acks
        check(folder, result.acks).close()
    return result
