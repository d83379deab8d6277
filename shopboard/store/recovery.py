"""Opening what is there: the files at rest, then the journal from where they end; and mending what a crash left."""

from __future__ import annotations

import contextlib
import gc
import itertools
import os
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

from shopboard.records import Change, ClosedJob, Table

from . import disk
from .closed import index_is_there, summaries
from .closed_later import ClosedLater
from .follower import Follower
from .journal import (
    SegmentGone,
    damaged,
    is_torn,
    line_number,
    scan,
    sealed,
    segment_path,
    segments,
)
from .protocol import ShopUnusable
from .tiny_files import AtomicStorage, Meta, OpenFile, read_tiny

_TRIES = 5

#: Stands in the shop's folder while a customer is being erased.
ERASING = "erasing.json"

INDEX_MADE_AGAIN = "db/index.json was missing, damaged or of an older format; it was made again from the months' files"


@dataclass
class Loaded:
    """What stands on the disk: the files at rest, the changes since, and a follower at the end of the journal."""

    open: OpenFile
    closed: dict[int, ClosedJob]
    follower: Follower
    changes: list[Change] = field(default_factory=list)
    notices: list[str] = field(default_factory=list)
    index_rebuilt: bool = False


@contextlib.contextmanager
def nothing_is_garbage() -> Iterator[None]:
    """What is read here stays, and looking for garbage among it takes longer than reading."""
    was_on = gc.isenabled()
    gc.disable()
    try:
        yield
        gc.freeze()
    finally:
        if was_on:
            gc.enable()


def prepare(shop: Path) -> None:
    """Make the database of a shop that has none yet (under the lock).

    Raises ShopUnusable where it had one and open.json is gone, OSError where it cannot be made.
    """
    db, journal = shop / "db", shop / "journal"
    if (db / "open.json").exists():
        return
    traces = [path for folder in (db, journal) if folder.is_dir() for path in folder.iterdir()]
    if any(path.suffix != ".tmp" and not _is_empty_first(path) for path in traces):
        raise damaged(db / "open.json", "is missing")
    disk.make_folder(db)
    disk.make_folder(journal)
    new_segment(journal, 1)
    disk.sync_folder(shop)
    AtomicStorage(db / "open.json").write_signed(_tables(OpenFile(meta={})), Meta(seq=0))


def _is_empty_first(path: Path) -> bool:
    return path.name == segment_path(path.parent, 1).name and path.stat().st_size == 0


def _tables(file: OpenFile) -> dict[str, dict[int, object]]:
    return {table.value: {**getattr(file, table.value)} for table in Table}


def new_segment(journal: Path, first: int) -> None:
    """Make the empty segment that change `first` will start, on the disk. Raises OSError."""
    fd = os.open(segment_path(journal, first), os.O_WRONLY | os.O_CREAT, 0o600)
    try:
        disk.sync_file(fd)
    finally:
        os.close(fd)
    disk.sync_folder(journal)


def sweep(shop: Path) -> None:
    """Remove the half-written spare files of a process that was killed (under the lock)."""
    for folder in (shop / "db", shop / "journal"):
        for spare in folder.glob(".*.tmp"):
            with contextlib.suppress(FileNotFoundError):
                spare.unlink()


def load(shop: Path, *, closed_later: bool = False) -> Loaded:
    """Read the shop's data without changing anything; needs no lock. With `closed_later` the summaries of closed jobs
    may be left for later: they are a ClosedLater then.

    Raises ShopUnusable where something is missing, damaged or from the future.
    """
    # Without the lock a checkpoint or a mend may pass by: what looks damaged is looked at again before it is believed
    for _ in range(_TRIES - 1):
        with contextlib.suppress(SegmentGone, ShopUnusable):
            return _load(shop, closed_later)
    try:
        return _load(shop, closed_later)
    except SegmentGone:
        raise ShopUnusable("the journal's files change faster than they can be read", "try again") from None


def _load(shop: Path, closed_later: bool) -> Loaded:
    db, journal = shop / "db", shop / "journal"
    try:
        file = read_tiny(db / "open.json", OpenFile)
    except FileNotFoundError:
        raise damaged(db / "open.json", "is missing") from None
    # The index after open.json, never before: it may be newer, and replay sets right what it knows too early
    if closed_later and index_is_there(db, file.about.index_seq):
        loaded = Loaded(file, ClosedLater(file.about.index_seq), Follower(journal, 0))
    else:
        closed, rebuilt = summaries(db, file.about.index_seq)
        loaded = Loaded(file, closed, Follower(journal, 0), index_rebuilt=rebuilt)
        loaded.notices += [INDEX_MADE_AGAIN] if rebuilt else []
    _read_journal(journal, file.about.seq, loaded)
    return loaded


def _read_journal(journal: Path, seq: int, loaded: Loaded) -> None:
    try:
        found = segments(journal)
    except FileNotFoundError:
        raise damaged(journal / segment_path(journal, seq + 1).name, "is missing: the shop has no journal") from None
    start = max((n for n, segment in enumerate(found) if segment.first <= seq + 1), default=None)
    if start is None:
        raise damaged(segment_path(journal, seq + 1), "is missing: nothing holds the changes after the database's")
    needed = found[start:]
    for segment, following in itertools.pairwise(needed):
        loaded.changes += scan(sealed(segment, following), segment.first, after=seq).changes
    last = needed[-1]
    if last.packed:
        raise damaged(last.path, "is sealed, but no segment follows it")
    data = last.read()
    ending = scan(data, last.first, after=seq)
    if ending.tail and not is_torn(ending.tail):
        raise damaged(last.path, f"line {line_number(data, ending.good)} {ending.why}, and more follows it")
    if ending.seq < seq:
        line = line_number(data, ending.good)
        raise damaged(last.path, f"ends at line {line}, before change {seq}, which the database already holds")
    loaded.changes += ending.changes
    loaded.follower = Follower(journal, last.first)
    loaded.follower.start(data, ending)


def cut_torn(follower: Follower) -> str:
    """Cut the unfinished line after the last good one and keep it aside (under the lock); what to tell about it.

    Raises ShopUnusable where it is damage rather than an unfinished line, OSError where the disk refuses.
    """
    path = follower.path
    if not is_torn(follower.tail):
        line = line_number(path.read_bytes(), follower.end)
        raise damaged(path, f"line {line} {follower.why}, and more follows it")
    number = follower.seq + 1
    kept = next(
        name
        for copy in range(1_000_000)
        if not (name := path.parent / f"torn-{number:012d}{f'-{copy}' if copy else ''}.bin").exists()
    )
    disk.replace_file(kept, follower.tail)
    disk.reached("torn kept")
    disk.cut(path, follower.end)
    follower.tail = b""
    return (
        f"change {number}, the last line of the journal, was not whole: it was cut off and kept as "
        f"journal/{kept.name}; see whether what was entered last is there"
    )
