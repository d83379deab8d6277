"""Closed jobs at rest: one file a month, read when a job is asked for; and the index made again from the months."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator, Mapping
from functools import lru_cache
from pathlib import Path

from shopboard.records import FORMAT, ClosedJob, FieldError, Job, PartLine, decode

from .disk_faults import said
from .journal import damaged
from .protocol import ShopUnusable, Store
from .replay import Unfiled, Whole, month_of, summary
from .tiny_files import AtomicStorage, IndexFile, Meta, MonthFile, RawMonthFile, about, month_path, months, read_tiny
from .upgrades import SUMMARIES_SINCE


def load(db: Path, id: int, month: str) -> Whole | None:
    """The closed job with its part lines from its month's file; None if it is not there. Raises ShopUnusable."""
    path = month_path(db, month)
    try:
        stat = path.stat()
        file = _month(path, (stat.st_ino, stat.st_size, stat.st_mtime_ns))
    except FileNotFoundError:
        return None
    if id not in file.jobs:
        return None
    mark = b'"job":%d,' % id
    try:
        job = decode(bytes(file.jobs[id]), Job, f"job {id}")
        lines = [decode(line, PartLine, "part") for raw in file.parts.values() if mark in (line := bytes(raw))]
    except FieldError as error:
        raise damaged(path, f"holds a record that cannot be read ({error})") from None
    return job, tuple(line for line in lines if line.job == id)


@lru_cache(maxsize=1)
def _month(path: Path, stamp: tuple[int, int, int]) -> RawMonthFile:
    """The month's file as it stands since `stamp`, kept: whoever asks for one job of a month often asks for more."""
    return read_tiny(path, RawMonthFile)


def each_closed(db: Path, closed: Mapping[int, ClosedJob], unfiled: Mapping[int, Whole]) -> Iterator[Whole]:
    """Every job of `closed` whole with its part lines: those `unfiled` as they are there, the others month by month.

    A job that another terminal brought back meanwhile is left out. What can be read comes first; then raises
    ShopUnusable, naming the months that cannot.
    """
    month_by_id = {id: month_of(job) for id, job in closed.items() if id not in unfiled}
    held = Counter(month_by_id.values())
    faults: list[ShopUnusable] = []
    for month in sorted(held):
        try:
            file = read_tiny(month_path(db, month), MonthFile)
        except FileNotFoundError:
            faults.append(damaged(month_path(db, month), f"is missing, with {held[month]} closed jobs in it"))
            continue
        except OSError as error:
            faults.append(damaged(month_path(db, month), f"cannot be read ({said(error)})"))
            continue
        except ShopUnusable as error:
            faults.append(error)
            continue
        lines: dict[int, list[PartLine]] = {}
        for line in file.parts.values():
            if line.job is not None:
                lines.setdefault(line.job, []).append(line)
        for id, job in file.jobs.items():
            if month_by_id.get(id) == month:
                yield job, tuple(lines.get(id, ()))
    yield from (unfiled[id] for id in sorted(unfiled.keys() & closed.keys()))
    if faults:
        more = f" (and {len(faults) - 1} more months)" if len(faults) > 1 else ""
        raise ShopUnusable(f"{faults[0].why}{more}", faults[0].would_do)


def readable_jobs(store: Store, tell: Callable[[str], None]) -> Iterator[Job]:
    """Every closed job that can be read, whole; what cannot is told at the end and left out."""
    try:
        yield from (job for job, _ in store.closed_jobs())
    except ShopUnusable as error:
        tell(f"{error}; the other closed jobs count all the same")


def file_away(db: Path, unfiled: Unfiled, seq: int) -> None:
    """Put closed jobs into their months' files and take those that moved out of the files they left.

    Safe to cut short anywhere and to repeat: the changes that closed or moved them carry them whole. Raises OSError.
    """
    arriving: dict[str, list[Whole]] = {}
    for whole in unfiled.jobs.values():
        arriving.setdefault(month_of(whole[0]), []).append(whole)
    for month in sorted(arriving.keys() | unfiled.stale.keys()):
        _rewrite(month_path(db, month), arriving.get(month, []), unfiled.stale.get(month, set()), seq)


def _rewrite(path: Path, arriving: list[Whole], leaving: set[int], seq: int) -> None:
    try:
        file = read_tiny(path, MonthFile)
    except FileNotFoundError:
        file = MonthFile(meta={1: Meta(seq=0)})
    if not arriving and not leaving & file.jobs.keys():
        return
    touched = leaving | {job.id for job, _ in arriving}
    jobs = {id: job for id, job in file.jobs.items() if id not in touched}
    parts = {id: line for id, line in file.parts.items() if line.job not in touched}
    for job, lines in arriving:
        jobs[job.id] = job
        parts.update((line.id, line) for line in lines)
    AtomicStorage(path).write_signed({"jobs": jobs, "parts": parts}, Meta(seq=max(seq, file.about.seq)))


def read_index(db: Path, at_least: int) -> dict[int, ClosedJob] | None:
    """The summaries of closed jobs; None where the index is missing, damaged or older than change `at_least`."""
    try:
        index = read_tiny(db / "index.json", IndexFile)
    except (FileNotFoundError, ShopUnusable):
        return None
    return index.closed if index.about.seq >= at_least and SUMMARIES_SINCE <= index.about.format <= FORMAT else None


def index_is_there(db: Path, at_least: int) -> bool:
    """Whether there is an index that `read_index` would take, as far as its end tells. Raises nothing."""
    try:
        found = about(db / "index.json")
    except OSError:
        return False
    return found is not None and found.seq >= at_least and SUMMARIES_SINCE <= found.format <= FORMAT


def summaries(db: Path, index_seq: int) -> tuple[dict[int, ClosedJob], bool]:
    """The summaries of closed jobs, and whether the index had to be made again from the months. Raises ShopUnusable
    where a month is damaged then."""
    found = read_index(db, index_seq)
    if found is not None:
        return found, False
    made = rebuild_index(db)
    return made, bool(made or index_seq)


def rebuild_index(db: Path) -> dict[int, ClosedJob]:
    """The summaries read again from every month. A job that stands in two months (a move cut short) counts where
    it was filed last. Raises ShopUnusable where a month is damaged."""
    found: dict[int, tuple[int, ClosedJob]] = {}
    for month in months(db):
        file = read_tiny(month_path(db, month), MonthFile)
        for id, job in file.jobs.items():
            if id not in found or found[id][0] <= file.about.seq:
                found[id] = (file.about.seq, summary(job))
    return {id: closed for id, (_, closed) in sorted(found.items())}
