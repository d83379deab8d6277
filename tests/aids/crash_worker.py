"""A process that commits until it is killed, and says so to an outside process after each commit that returned."""

from __future__ import annotations

import mmap
import os
import random
import signal
from collections.abc import Callable
from multiprocessing.connection import Connection
from pathlib import Path

from aids import store_steps as steps
from shopboard.records import Change, Refused
from shopboard.store import CommitFailed, FolderStore, ShopUnusable, checkpoint, disk, open_shop, read_settings

#: One acknowledgement: number of the change, and the word all its records carry ("" if it made none).
Ack = tuple[int, str]


def _work(store: FolderStore, name: str, draw: random.Random, tell: Callable[[Change, str], None]) -> None:
    """One step, drawn: mostly new machines, some collected, some noted, some undone, now and then a checkpoint."""
    kind = draw.random()
    jobs = sorted(store.state.jobs)
    if kind < 0.5 or not jobs:
        word = f"{name}-{draw.getrandbits(40):010x}"
        tell(store.commit(name, steps.take_in(word)), word)
    elif kind < 0.65:
        tell(store.commit(name, steps.collect(draw.choice(jobs))), "")
    elif kind < 0.75:
        tell(store.commit(name, steps.need(draw.choice(jobs), "S-1")), "")
    elif kind < 0.85:
        tell(store.commit(name, steps.remark(draw.choice(jobs), "x" * draw.randrange(4000))), "")
    elif kind < 0.93:
        change = store.undoable(name)
        if change:
            tell(store.undo(name), "")
    else:
        store.checkpoint()


def step_file(folder: Path, name: str) -> Path:
    """Where worker `name` notes the step it passed last, in memory shared with whoever looks after its death."""
    return folder.with_name(f"{folder.name}.{name}.step")


def _note_steps(folder: Path, name: str) -> None:
    step_file(folder, name).write_bytes(bytes(32))
    with step_file(folder, name).open("r+b") as file:
        shared = mmap.mmap(file.fileno(), 32)

    def hook(step: str) -> None:
        shared[:] = step.encode().ljust(32)

    disk.hook = hook


def run(folder: Path, name: str, seed: int, acks: Connection) -> None:
    """Open and commit until killed. Segments are sealed every 20 changes, so that checkpoints are often hit."""
    checkpoint.CHANGES = 20
    draw = random.Random(seed)
    _note_steps(folder, name)
    store = open_shop(folder)
    acks.send((0, "ready"))
    while True:
        try:
            _work(store, name, draw, lambda change, word: acks.send((change.seq, word)))
        except Refused:
            continue
        except CommitFailed as error:
            if "has been writing" not in error.why:  # a machine so busy that the others' turn took too long
                raise


def run_to_step(folder: Path, step: str, times: int, half: bool, acks: Connection) -> None:
    """Do a fixed round of steps and die by kill -9 the moment `step` is reached for the `times`-th time."""
    _kill_at(step, times)
    if half:
        _write_half()
    fixed_round(open_shop(folder), lambda change, word: acks.send((change.seq, word)))
    acks.send((0, "done"))


def _kill_at(step: str, times: int) -> None:
    left = [times]

    def hook(reached: str) -> None:
        if reached == step:
            left[0] -= 1
            if left[0] == 0:
                os.kill(os.getpid(), signal.SIGKILL)

    disk.hook = hook


def _write_half() -> None:
    whole = disk.write_all

    def write_half(fd: int, data: bytes) -> None:
        whole(fd, data[: len(data) // 2])
        disk.reached("half written")
        whole(fd, data[len(data) // 2 :])

    disk.write_all = write_half


def fixed_round(store: FolderStore, tell: Callable[[Change, str], None]) -> None:
    """Every kind of step once or more, with checkpoints between, each acknowledged by `tell` as soon as it returns."""
    for word in ("one", "two", "three"):
        tell(store.commit("ana", steps.take_in(word)), word)
    first = min(store.state.jobs)
    tell(store.commit("ana", steps.need(first, "S-1")), "")
    tell(store.commit("ana", steps.collect(first)), "")
    store.checkpoint()
    tell(store.commit("ana", steps.remark(first, "rang")), "")
    tell(store.commit("bo", steps.take_in("four")), "four")
    store.checkpoint()
    tell(store.undo("ana"), "")
    tell(store.commit("bo", steps.collect(first + 1)), "")
    store.close()


class HastyStore(FolderStore):
    """A store that lies: it acknowledges a change before anything of it is on the disk."""

    tell: Callable[[Ack], None]

    def _append(self, line: bytes) -> None:
        self.tell((self.state.seq + 1, ""))
        super()._append(line)


def run_hasty(folder: Path, name: str, seed: int, acks: Connection) -> None:
    """Commit until killed, acknowledging too early."""
    _note_steps(folder, name)
    store = HastyStore(folder, open_shop(folder).state, steps.ticking())
    store.tell = acks.send
    acks.send((0, "ready"))
    draw = random.Random(seed)
    while True:
        store.commit(name, steps.take_in(f"{name}-{draw.getrandbits(40):010x}"))


def run_hasty_to_append(folder: Path, times: int, acks: Connection) -> None:
    """Acknowledge too early, and die by kill -9 when the append number `times` is about to begin."""
    store = HastyStore(folder, open_shop(folder).state, steps.ticking())
    store.tell = acks.send
    _kill_at("before append", times)
    while True:
        store.commit("ana", steps.take_in("early"))


def stop_inside(folder: Path, acks: Connection) -> None:
    """Commit, and stop (SIGSTOP) in the middle of it, holding the lock; go on when continued."""
    store = open_shop(folder)

    def hook(step: str) -> None:
        if step == "before append":
            disk.hook = None
            acks.send((0, "stopping"))
            os.kill(os.getpid(), signal.SIGSTOP)

    disk.hook = hook
    acks.send((store.commit("bo", steps.take_in("held")).seq, "held"))


def churn(folder: Path, times: int, acks: Connection) -> None:
    """Commit `times` times with a checkpoint after every third, closing jobs as it goes."""
    store = open_shop(folder)
    for number in range(times):
        job = min(store.state.jobs, default=None)
        if number % 2 and job:
            store.commit("bo", steps.collect(job))
        else:
            store.commit("bo", steps.take_in(f"churn-{number}"))
        if number % 3 == 0:
            store.checkpoint()
    acks.send((store.state.seq, "done"))


def look_as_nobody(folder: Path, acks: Connection) -> None:
    """Open and try to commit as a user without rights; says what it met, a line each."""
    read_settings(folder)  # loads what reading needs while it may still be loaded
    if os.geteuid() == 0:
        os.setgid(65534)
        os.setuid(65534)
    try:
        store = open_shop(folder)
    except ShopUnusable as error:
        acks.send((0, f"unusable: {error}"))
        return
    acks.send((store.state.seq, f"{store.state.seq} {store.read_only}"))
    try:
        store.commit("ana", steps.take_in())
    except CommitFailed as error:
        acks.send((store.state.seq, f"failed: {error}"))
    store.close()


def count(folder: Path, name: str, times: int, acks: Connection) -> None:
    """Raise the number in customer 1's note `times` times, one commit each."""
    checkpoint.CHANGES = 150
    store = open_shop(folder)
    for _ in range(times):
        acks.send((store.commit(name, steps.count_up(1)).seq, ""))
    store.close()


def run_unsynced(folder: Path, name: str, seed: int, acks: Connection) -> None:
    """Commit until killed, never putting anything on the disk itself: what a power cut must show."""
    disk.sync_file = lambda fd: None
    run(folder, name, seed, acks)
