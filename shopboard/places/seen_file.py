"""The file in which the plan people saw last is kept, beside the shop's records. Light to load: the first screen reads
the public holidays from it, which are slow to look up.

It is no record: it can be deleted at any time, and a new plan is made. Places stand as moments, which mean the same on
every calendar.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from pathlib import Path

import msgspec

from shopboard.records import Moment, Settings
from shopboard.store import disk


class Row(msgspec.Struct, frozen=True):
    """A step's place; `lag` slots must pass before it after the step before."""

    job: int
    kind: str
    start: Moment
    end: Moment
    person: str
    bay: str = ""
    waits_for: str = ""
    lag: int = 0


class Best(msgspec.Struct, frozen=True):
    """What would help: what to do with which part line, customer or job, the chance now and then, what others lose."""

    what: str
    subject: int
    words: str
    now: float
    then: float
    others: float


class Sure(msgspec.Struct, frozen=True):
    """How sure a job's date is, and what would help most."""

    job: int
    on_time: float | None = None
    even: Moment | None = None
    sure: Moment | None = None
    help: Best | None = None


class Seen(msgspec.Struct, frozen=True):
    """The plan as of change `seq` at moment `at`, and the public holidays of the country and region it went by."""

    seq: int
    at: Moment
    rows: tuple[Row, ...]
    sure: tuple[Sure, ...] = ()
    unplaceable: tuple[tuple[int, str], ...] = ()
    where: str = ""
    holidays: dict[date, str] = {}


def path_of(folder: Path) -> Path:
    """Where the plan is kept."""
    return (folder / "db" if (folder / "db").is_dir() else folder) / "plan.seen"


def write(folder: Path, seen: Seen) -> None:
    """Keep the plan; where that cannot be written, the plan is simply made anew the next time."""
    try:
        disk.replace_file(path_of(folder), msgspec.json.encode(seen))
    except OSError:
        return


def read(folder: Path) -> Seen | None:
    """The plan people saw last; None where there is none that can be read."""
    try:
        return msgspec.json.decode(path_of(folder).read_bytes(), type=Seen)
    except (OSError, msgspec.MsgspecError, UnicodeDecodeError):
        return None


def where_of(settings: Settings) -> str:
    """Whose public holidays count, as the file names it."""
    return f"{settings.country.strip().upper()} {settings.region.strip().upper()}".strip()


def holidays(folder: Path | None, settings: Settings) -> Mapping[date, str]:
    """The public holidays as they were looked up for the last plan; none where that is not kept."""
    seen = read(folder) if folder is not None and settings.country.strip() else None
    return seen.holidays if seen is not None and seen.where == where_of(settings) else {}
