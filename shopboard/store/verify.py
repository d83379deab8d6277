"""Looking a shop over: its own files, the journal, the files at rest, and the rules that hold across records."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import msgspec

from shopboard.records import Model, Settings, ShopState

from . import recovery
from .journal import damaged, is_torn, line_number, scan, sealed, segments
from .protocol import ShopUnusable
from .replay import Unfiled, apply, month_of
from .shop_files import book_additions, read_models, read_settings, shipped_book
from .tiny_files import MonthFile, checksum_fault, month_path, months, read_tiny
from .verify_records import record_faults


class Fault(msgspec.Struct, frozen=True):
    """One thing that is not as it should be: `where` (file, line, record), `why`, and how to `mend` it."""

    where: str
    why: str
    mend: str = ""


def verify(folder: Path) -> tuple[Fault, ...]:
    """Every fault found in the shop, an empty tuple if there is none. Changes nothing and needs no lock.

    Raises ShopUnusable only where there is no shop at all.
    """
    folder = Path(folder)
    if not (folder / "shop.toml").is_file():
        read_settings(folder)
    return tuple(_faults(folder))


def _faults(folder: Path) -> Iterator[Fault]:
    settings: Settings | None = None
    models: dict[str, Model] | None = None
    try:
        settings = read_settings(folder)
    except ShopUnusable as error:
        yield _from(error)
    try:
        models = read_models(folder)
    except ShopUnusable as error:
        yield _from(error)
    yield from _book_faults(folder)
    if not (folder / "db").exists() and not (folder / "journal").exists():
        return
    yield from _journal_faults(folder / "journal")
    yield from _rest_faults(folder / "db")
    state = _state(folder, settings, models)
    if isinstance(state, ShopUnusable):
        fault = _from(state)
        yield fault
    else:
        yield from _month_faults(folder / "db", state)
        checked = record_faults(state, settings_known=settings is not None, models_known=models is not None)
        yield from (Fault(*fault) for fault in checked)


def _from(error: ShopUnusable) -> Fault:
    where, _, why = error.why.partition(": ")
    return Fault(where, why, error.would_do) if why else Fault("the shop", error.why, error.would_do)


def _book_faults(folder: Path) -> Iterator[Fault]:
    from shopboard.trouble import BookErrors, load_book

    try:
        load_book(shipped_book(), book_additions(folder))
    except BookErrors as found:
        for error in found.errors:
            yield Fault(f"book/{error.file}: {error.entry}", error.why, error.mend)
    except ShopUnusable as error:
        yield _from(error)


def _journal_faults(journal: Path) -> Iterator[Fault]:
    if not journal.is_dir():
        yield Fault("journal", "is missing", "`shopboard restore` brings back a backup")
        return
    found = segments(journal)
    for number, segment in enumerate(found):
        try:
            if number + 1 < len(found):
                sealed(segment, found[number + 1])
                continue
            data = segment.read()
        except ShopUnusable as error:
            yield Fault(f"journal/{segment.path.name}", error.why, error.would_do)
            continue
        ending = scan(data, segment.first)
        if ending.tail:
            where = f"journal/{segment.path.name}, line {line_number(data, ending.good)}"
            if is_torn(ending.tail):
                yield Fault(where, "is not whole", "open the shop: the line is cut off and kept beside the journal")
            else:
                yield Fault(where, ending.why, damaged(segment.path, "").would_do)


def _rest_faults(db: Path) -> Iterator[Fault]:
    for path in sorted(db.glob("*.json")):
        why = checksum_fault(path.read_bytes())
        if why:
            yield Fault(f"db/{path.name}", f"{why}: damaged, or changed by another program", damaged(path, "").would_do)


def _state(folder: Path, settings: Settings | None, models: dict[str, Model] | None) -> ShopState | ShopUnusable:
    try:
        loaded = recovery.load(folder)
    except ShopUnusable as error:
        return error
    file = loaded.open
    state = ShopState(settings=settings or Settings(name=""), models=models or {}, seq=file.about.seq)
    state.customers, state.machines, state.jobs, state.parts = file.customers, file.machines, file.jobs, file.parts
    state.closed, state.next_ids = loaded.closed, dict(file.about.next_ids)
    apply(state, Unfiled(), loaded.changes)
    return state


def _month_faults(db: Path, state: ShopState) -> Iterator[Fault]:
    """Months against the index, for jobs that have long been filed."""
    mend = damaged(db / "index.json", "").would_do
    for month in months(db):
        try:
            file = read_tiny(month_path(db, month), MonthFile)
        except ShopUnusable as error:
            yield Fault(f"db/closed-{month}.json", error.why, error.would_do)
            continue
        for job in file.jobs.values():
            summary = state.closed.get(job.id)
            if summary is not None and month_of(job) != month:
                yield Fault(f"db/closed-{month}.json: {job.tag}", f"was closed in {month_of(job)}", mend)
