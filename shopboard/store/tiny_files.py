"""The files at rest: plain TinyDB databases, written whole and at once from the state, and read back typed."""

from __future__ import annotations

import os
import re
import zlib
from collections.abc import Mapping
from pathlib import Path
from typing import Any, TypeVar

import msgspec
from tinydb.storages import Storage

from shopboard.records import (
    FORMAT,
    ClosedJob,
    Closure,
    Customer,
    FieldError,
    Job,
    Machine,
    PartLine,
    Return,
    Stock,
    Table,
    decode,
)

from .disk import replace_file
from .journal import damaged, from_the_future
from .upgrades import upgraded

F = TypeVar("F", bound="TinyFile")

_META = b',"meta":{"1":'
#: The table `meta` is no longer than so many bytes.
_END = 2000


class Meta(msgspec.Struct, frozen=True):
    """Document 1 of the table `meta`: the last change the file knows, the format of its records, the ids to give next,
    which number the index must have at least, and the checksum of all that stands before this table."""

    seq: int
    format: int = FORMAT
    next_ids: dict[Table, int] = {}
    index_seq: int = 0
    crc: str = ""


class TinyFile(msgspec.Struct):
    """What every file at rest has: `meta`. Other tables by document id."""

    meta: dict[int, Meta]

    @property
    def about(self) -> Meta:
        """Document 1 of `meta`."""
        return self.meta[1]


class OpenFile(TinyFile):
    """open.json: everything that is not over."""

    customers: dict[int, Customer] = {}
    machines: dict[int, Machine] = {}
    jobs: dict[int, Job] = {}
    parts: dict[int, PartLine] = {}
    closures: dict[int, Closure] = {}
    stock: dict[int, Stock] = {}
    returns: dict[int, Return] = {}


class MonthFile(TinyFile):
    """closed-YYYY-MM.json: the jobs closed in one month, with their part lines."""

    jobs: dict[int, Job] = {}
    parts: dict[int, PartLine] = {}


class RawMonthFile(TinyFile):
    """The same, each record left as bytes until it is asked for: one job costs a tenth of reading the month."""

    jobs: dict[int, msgspec.Raw] = {}
    parts: dict[int, msgspec.Raw] = {}


class IndexFile(TinyFile):
    """index.json: the summaries of all closed jobs; it can be made again from the months."""

    closed: dict[int, ClosedJob] = {}


class AtomicStorage(Storage):
    """A TinyDB storage that encodes with msgspec and replaces the file at once: whole and old, or whole and new.

    `TinyDB(path, storage=AtomicStorage)` works, and so does plain `TinyDB(path)` on what it wrote.
    """

    def __init__(self, path: Path | str) -> None:
        super().__init__()
        self._path = Path(path)

    def read(self) -> dict[str, dict[str, Any]] | None:
        """All tables as plain data; None where there is no file yet."""
        try:
            data = self._path.read_bytes()
        except FileNotFoundError:
            return None
        found: dict[str, dict[str, Any]] | None = msgspec.json.decode(data) if data else None
        return found

    def write(self, data: Mapping[str, Mapping[Any, Any]]) -> None:
        """Replace the file by these tables. Raises OSError with the old file in place."""
        replace_file(self._path, msgspec.json.encode(data))

    def write_signed(self, tables: Mapping[str, Mapping[int, Any]], meta: Meta) -> None:
        """Replace the file by these tables and `meta`, which then holds FORMAT and their checksum. Raises OSError."""
        replace_file(self._path, signed_tables(tables, meta))


def signed_tables(tables: Mapping[str, Mapping[int, Any]], meta: Meta) -> bytes:
    """These tables and `meta`, with FORMAT and their checksum in it, as a file at rest holds them."""
    body = msgspec.json.encode(tables)[:-1]
    signed = msgspec.structs.replace(meta, format=FORMAT, crc=f"{zlib.crc32(body):08x}")
    return b"%s%s%s}}" % (body, _META, msgspec.json.encode(signed))


def checksum_fault(data: bytes) -> str:
    """Why a file's tables are not those its `meta` was signed for, or ""."""
    at = data.rfind(_META)
    signed = re.search(rb'"crc":"([0-9a-f]{8})"', data[at:]) if at >= 0 else None
    if not signed:
        return "carries no checksum"
    return "" if zlib.crc32(data[:at]) == int(signed[1], 16) else "does not match its checksum"


def read_tiny(path: Path, kind: type[F]) -> F:
    """The file at rest as `kind`. Raises FileNotFoundError, and ShopUnusable where it is damaged or from the future."""
    try:
        return tiny_from(path.read_bytes(), kind, f"db/{path.name}")
    except FieldError as error:
        raise damaged(path, error.why) from None


def about(path: Path) -> Meta | None:
    """What the end of a file at rest says about it, the rest unread; None where that cannot be told. Raises OSError."""
    with path.open("rb") as file:
        size = file.seek(0, os.SEEK_END)
        file.seek(max(0, size - _END))
        data = file.read()
    at = data.rfind(_META)
    if at < 0 or not data.endswith(b"}}"):
        return None
    try:
        return msgspec.json.decode(data[at + len(_META) : -2], type=Meta)
    except (msgspec.DecodeError, UnicodeDecodeError):
        return None


def tiny_from(data: bytes, kind: type[F], name: str) -> F:
    """What a file at rest holds, as `kind`. Raises FieldError where it is damaged, ShopUnusable from the future."""
    written = re.search(rb'"format":([0-9]+)', data[data.rfind(_META) :]) if _META in data else None
    if written and int(written[1]) > FORMAT:
        raise from_the_future(name, int(written[1]))
    try:
        found = decode(_upgraded(data) if written and int(written[1]) < FORMAT else data, kind, name.rpartition("/")[2])
    except (FieldError, msgspec.DecodeError, UnicodeDecodeError) as error:
        raise FieldError(name, "", f"cannot be read ({error})") from None
    if 1 not in found.meta:
        raise FieldError(name, "", "has no document 1 in table meta")
    return found


def _upgraded(data: bytes) -> bytes:
    tables = msgspec.json.decode(data, type=dict[str, dict[int, Any]])
    found = tables["meta"][1]["format"]
    for table in Table:
        kept = tables.get(table.value, {})
        tables[table.value] = {id: upgraded(table, record, found) for id, record in kept.items()}
    return msgspec.json.encode(tables)


def month_path(db: Path, month: str) -> Path:
    """The file of the jobs closed in `month` (2026-03)."""
    return db / f"closed-{month}.json"


def months(db: Path) -> list[str]:
    """The months that have a file, oldest first."""
    return sorted(path.name[7:14] for path in db.glob("closed-????-??.json"))
