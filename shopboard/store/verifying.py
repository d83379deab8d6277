"""Looking a shop over: its own files, the journal, the files at rest, and the rules that hold across records."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

import msgspec

from shopboard.records import FieldError, Model, Settings, ShopState, Table, tag

from . import erasing, recovery
from .journal import RESTORE, damaged, is_torn, line_number, scan, sealed, segments
from .pins import Pins
from .protocol import ShopUnusable
from .replay import Unfiled, apply, month_of
from .shop_files import book_additions, read_catalogue, read_models, read_settings, shipped_book
from .tiny_files import MonthFile, checksum_fault, month_path, months, read_tiny
from .verify_records import Known, record_faults

if TYPE_CHECKING:
    from shopboard.trouble import Book

T = TypeVar("T")


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
    settings, faults = _tried(lambda: read_settings(folder))
    yield from faults
    models, faults = _tried(lambda: read_models(folder))
    yield from faults
    book, faults = _read_book(folder)
    yield from faults
    yield from _pin_faults(folder, settings)
    if not (folder / "db").exists() and not (folder / "journal").exists():
        return
    if (erased := erasing.unfinished(folder)) is not None:
        mend = f"`shopboard erase customer {erased}` finishes it"
        yield Fault(erasing.PLAN, f"the erasing of customer {erased} was cut short", mend)
    yield from _journal_faults(folder / "journal")
    yield from _rest_faults(folder / "db")
    loaded, faults = _tried(lambda: recovery.load(folder))
    yield from faults
    if loaded is not None:
        yield from _month_faults(folder / "db", loaded)
        state, faults = _tried(lambda: _state(loaded, settings, models))
        yield from faults
        catalogue, faults = _tried(lambda: read_catalogue(folder, settings) if settings else {})
        yield from faults
        if state is not None:
            state.catalogue = catalogue or {}
        known = Known(settings=settings is not None, models=models is not None, book=book)
        yield from (Fault(*fault) for fault in (record_faults(state, known) if state else ()))


def _pin_faults(folder: Path, settings: Settings | None) -> Iterator[Fault]:
    pins = Pins(folder)
    holders, faults = _tried(pins.holders)
    yield from faults
    for person in holders or ():
        if settings and settings.person(person) is None:
            mend = "delete that table in pins.toml, or add the person to shop.toml"
            yield Fault("pins.toml", f'holds a PIN of "{person}", whom shop.toml does not know', mend)
    if pins.open_to_others():
        mend = "let only its owner read it (chmod 600 pins.toml), and let everybody set a new PIN"
        yield Fault("pins.toml", "can be read by other users of this machine", mend)


def _tried(read: Callable[[], T]) -> tuple[T | None, list[Fault]]:
    """What can be read, or the fault that says why it cannot."""
    try:
        return read(), []
    except ShopUnusable as error:
        return None, [_from(error)]
    except OSError as error:
        return None, [
            Fault(str(error.filename or "the shop"), (error.strerror or str(error)).lower(), "see who may read it")
        ]


def _from(error: ShopUnusable) -> Fault:
    where, _, why = error.why.partition(": ")
    return Fault(where, why, error.would_do) if why else Fault("the shop", error.why, error.would_do)


def _read_book(folder: Path) -> tuple[Book | None, list[Fault]]:
    from shopboard.trouble import BookErrors, load_book

    try:
        return _tried(lambda: load_book(shipped_book(), book_additions(folder)))
    except BookErrors as found:
        return None, [Fault(f"book/{one.file}: {one.entry}", one.why, one.mend) for one in found.errors]


def _journal_faults(journal: Path) -> Iterator[Fault]:
    if not journal.is_dir():
        yield Fault("journal", "is missing", RESTORE)
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


def _state(loaded: recovery.Loaded, settings: Settings | None, models: dict[str, Model] | None) -> ShopState:
    file = loaded.open
    state = ShopState(settings=settings or Settings(name=""), models=models or {}, seq=file.about.seq)
    for table in Table:
        setattr(state, table.value, getattr(file, table.value))
    state.closed, state.next_ids = loaded.closed, dict(file.about.next_ids)
    try:
        apply(state, Unfiled(), loaded.changes)
    except FieldError as error:
        raise damaged(loaded.follower.path, f"holds a record that cannot be read ({error})") from None
    return state


def _month_faults(db: Path, loaded: recovery.Loaded) -> Iterator[Fault]:
    """The months against the index, but for jobs that changes not yet at rest touch: those the journal holds whole."""
    restore, again = damaged(db, "").would_do, "delete db/index.json: it is made again at the next opening"
    touched = {op.id for change in loaded.changes for op in change.ops if op.table is Table.JOBS}
    missing = {id for id in loaded.closed if id not in touched}
    for month in months(db):
        try:
            file = read_tiny(month_path(db, month), MonthFile)
        except ShopUnusable as error:
            yield Fault(f"db/closed-{month}.json", error.why, error.would_do)
            continue
        for job in (job for job in file.jobs.values() if job.id not in touched):
            where = f"db/closed-{month}.json: {job.tag}"
            missing.discard(job.id)
            if month_of(job) != month:
                yield Fault(where, f"was closed in {month_of(job)}", restore)
            elif job.id not in loaded.closed:
                yield Fault(where, "is missing from the index", again)
    for id in sorted(missing):
        yield Fault(f"db/index.json: {tag(id)}", "is in no month's file", restore)
