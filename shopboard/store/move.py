"""Moving a shop between a folder and a database, either way: line by line, to be taken up again where it was cut short.

The source is only read, under its lock, so that nobody writes meanwhile; the target is no shop that opens until all of
it is there and proved: the same journal by its hash, the same records one by one, the same files.
"""

from __future__ import annotations

import contextlib
import hashlib
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager
from dataclasses import dataclass
from pathlib import Path
from typing import Protocol

from shopboard.records import ShopState, Table, tag

from .address import Address, Place
from .protocol import ShopUnusable
from .replay import Whole

#: One journal line with its number.
Numbered = tuple[int, bytes]
Say = Callable[[str], None]
_BATCH = 500
#: How often a move says how far it is, in changes.
_SAY_EVERY = 5_000


class Records(Protocol):
    """The records of a shop, with every closed job whole."""

    @property
    def state(self) -> ShopState:
        """What is open, and the summaries of closed jobs."""

    def closed_jobs(self) -> Iterator[Whole]:
        """Every closed job whole."""

    def close(self) -> None:
        """Let go."""


class Source(Protocol):
    """A shop that is moved from, held so that nobody writes."""

    def last(self) -> int:
        """The number of its last change."""

    def lines(self, after: int) -> Iterator[Numbered]:
        """Its journal lines after that change, each proved sound."""

    def texts(self) -> dict[str, str]:
        """The files the shop edits, by name."""

    def open(self) -> Records:
        """Its records, to be compared."""


class Target(Protocol):
    """Where a shop arrives. Until `finish` it opens nowhere."""

    def last(self) -> int:
        """The last change that is there already."""

    def lines(self, after: int) -> Iterator[Numbered]:
        """The lines that are there."""

    def append(self, lines: list[Numbered]) -> None:
        """Add the next lines; all of them or none."""

    def put_texts(self, texts: dict[str, str]) -> None:
        """Let the shop's own files be these."""

    def open(self) -> Records:
        """What has arrived, as the shop it will be, put at rest."""

    def finish(self) -> None:
        """All is there: from now on it can be opened."""


@dataclass(frozen=True)
class Moved:
    """What was moved: changes, records compared, files, and the hash of the journal that both have."""

    changes: int
    records: int
    texts: int
    digest: str
    begun_at: int


def move(source: Place, target: Place, say: Say = lambda _: None) -> Moved:
    """Bring the shop at `source` to `target`, which must not hold a shop yet; again after it was cut short.

    Raises ShopUnusable while somebody writes, where the target holds another shop, or where anything differs.
    """
    if isinstance(source, Address) == isinstance(target, Address):
        raise ShopUnusable("one of the two must be a folder and the other an address", "copy a folder with any tool")
    with _source(source) as old, _target(target, str(source)) as new:
        begun = new.last()
        _same_so_far(old, new, begun)
        if begun:
            say(f"going on after change {begun}, which had arrived already")
        _carry(old, new, begun, say)
        new.put_texts(old.texts())
        digest = _same_journal(old, new)
        records = _same_records(old, new)
        if new_texts := sorted(old.texts().items()):
            say(f"{len(new_texts)} files, {old.last()} changes and {records} records are the same on both sides")
        new.finish()
        return Moved(old.last(), records, len(new_texts), digest, begun)


def _source(place: Place) -> AbstractContextManager[Source]:
    if isinstance(place, Address):
        from .postgres.moving import branch_source

        return branch_source(place)
    from .move_folder import folder_source

    return folder_source(Path(place))


def _target(place: Place, arriving: str) -> AbstractContextManager[Target]:
    if isinstance(place, Address):
        from .postgres.moving import branch_target

        return branch_target(place, arriving)
    from .move_folder import folder_target

    return folder_target(Path(place))


def _same_so_far(old: Source, new: Target, begun: int) -> None:
    if begun > old.last():
        raise ShopUnusable(
            f"what has arrived holds {begun} changes, the source only {old.last()}",
            "it is another shop: choose a new target",
        )
    if begun and _digest(new.lines(0), begun) != _digest(old.lines(0), begun):
        raise ShopUnusable("what has arrived there is of another shop", "choose a new target")


def _carry(old: Source, new: Target, after: int, say: Say) -> None:
    batch: list[Numbered] = []
    expected = after + 1
    for number, line in old.lines(after):
        if number != expected:
            raise ShopUnusable(f"change {expected} is missing from the source", "see `shopboard verify`")
        expected += 1
        batch.append((number, line))
        if len(batch) == _BATCH:
            new.append(batch)
            batch = []
            if number % _SAY_EVERY == 0:
                say(f"{number} of {old.last()} changes")
    if batch:
        new.append(batch)


def _digest(lines: Iterator[Numbered], upto: int) -> str:
    found = hashlib.sha256()
    for number, line in lines:
        if number > upto:
            break
        found.update(line)
    return found.hexdigest()


def _same_journal(old: Source, new: Target) -> str:
    if new.last() != old.last():
        raise ShopUnusable(f"{new.last()} changes arrived of {old.last()}", "try again")
    here, there = _digest(old.lines(0), old.last()), _digest(new.lines(0), old.last())
    if here != there:
        raise ShopUnusable("the journal that arrived is not the one that was sent", "choose a new target and try again")
    return here


def _same_records(old: Source, new: Target) -> int:
    """Compare every record of both shops; how many there are. Raises ShopUnusable with the first that differs."""
    with contextlib.closing(old.open()) as here, contextlib.closing(new.open()) as there:
        compared = 0
        for name, ours, theirs in _tables(here.state, there.state):
            for id in ours.keys() | theirs.keys():
                if ours.get(id) != theirs.get(id):
                    raise _differs(f"{name} {id}")
                compared += 1
        if here.state.next_ids != there.state.next_ids:
            raise _differs("the next numbers to give")
        arrived = {job.id: (job, lines) for job, lines in there.closed_jobs()}
        for job, lines in here.closed_jobs():
            if arrived.pop(job.id, None) != (job, lines):
                raise _differs(f"closed job {tag(job.id)}")
            compared += 1
        if arrived:
            raise _differs(f"closed job {tag(min(arrived))}")
        return compared


def _tables(here: ShopState, there: ShopState) -> Iterator[tuple[str, dict[int, object], dict[int, object]]]:
    for table in Table:
        yield table.value, dict(here.table(table)), dict(there.table(table))
    yield "summary of closed job", dict(here.closed), dict(there.closed)


def _differs(what: str) -> ShopUnusable:
    return ShopUnusable(f"{what} is not the same on both sides", "the source is untouched: keep working with it")
