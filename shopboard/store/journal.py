"""The journal: one line a change, numbered without a gap, each with its checksum, in segments named by first number."""

from __future__ import annotations

import gzip
import re
import zlib
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path

import msgspec

from shopboard.records import FORMAT, Change, FieldError, Table, decode, encode

from .protocol import ShopUnusable

#: A line starts with this and eight hexadecimal digits; no record can hold it, since quotes in text are escaped.
START = b'{"c":"'
_HEAD = re.compile(rb'\{"c":"([0-9a-f]{8})","s":([1-9][0-9]*),')
_OP = re.compile(rb'\["(?:put|remove)","(\w+)",(\d+)[,\]]')
BODY = len(START) + 10  # where the change itself goes on after `"c":"........",`
#: What brings a damaged shop back.
RESTORE = "bring your last backup back with `shopboard restore FILE FOLDER`"
_OPENING = zlib.crc32(b"{")


class _Format(msgspec.Struct):
    """The one field that must stay readable in every format."""

    v: int = 1


class BadLine(ValueError):
    """A line that is not one whole, sound change of the expected number; its text says why."""


class SegmentGone(Exception):
    """The segment being read was sealed or replaced meanwhile: start again from the snapshot."""


def line_of(change: Change) -> bytes:
    """The change as its journal line, with checksum and line end."""
    body = encode(change)
    return b'%s%08x",%s\n' % (START, zlib.crc32(body), body[1:])


def number_in(line: bytes) -> int:
    """The number of the change in a line without its line end, once the checksum is proved. Raises BadLine."""
    head = _HEAD.match(line)
    if not head:
        raise BadLine("is not the line of a change")
    if zlib.crc32(line[BODY:], _OPENING) != int(head[1], 16):
        raise BadLine("does not match its checksum")
    return int(head[2])


def change_in(line: bytes) -> Change:
    """The change in a line whose checksum is good. Raises ShopUnusable if a newer program wrote it."""
    body = b"{" + line[BODY:]
    try:
        written = decode(body, _Format, "change").v
        if written > FORMAT:
            raise from_the_future("the journal", written)
        return decode(body, Change, "change")
    except FieldError as error:
        raise BadLine(f"cannot be understood ({error.path or 'line'}: {error.why})") from None


def from_the_future(what: str, found: int) -> ShopUnusable:
    """The error for data that a newer program wrote."""
    return ShopUnusable(
        f"{what} was written by a newer shopboard (format {found}, this one reads up to {FORMAT})",
        "install the newer version on this machine too",
    )


@dataclass
class Scan:
    """Sound, consecutive lines at the start of some bytes: the changes asked for, how many bytes are `good`, where the
    `last` good line starts, its number `seq`, the `tail` that follows, and `why` the first line of that is not good."""

    changes: list[Change] = field(default_factory=list)
    good: int = 0
    last: int = 0
    seq: int = 0
    tail: bytes = b""
    why: str = ""


def any_line(line: bytes) -> bool:
    """Every line is wanted."""
    return True


def scan(data: bytes, expect: int, after: int = 0, wanted: Callable[[bytes], bool] = any_line) -> Scan:
    """Read lines from `data`, whose first must be change `expect`; changes up to `after`, and those whose line is not
    `wanted`, are checked but not decoded."""
    found = Scan(seq=expect - 1)
    while (end := data.find(b"\n", found.good)) >= 0:
        line = data[found.good : end]
        try:
            number = number_in(line)
            if number != found.seq + 1:
                raise BadLine(f"is change {number} where {found.seq + 1} was expected")
            if number > after and wanted(line):
                found.changes.append(change_in(line))
        except BadLine as bad:
            found.why = str(bad)
            break
        found.last, found.good, found.seq = found.good, end + 1, number
    found.tail = data[found.good :]
    return found


def is_torn(tail: bytes) -> bool:
    """Whether `tail` can be one unfinished line: at most one line starts in it, and no good one follows."""
    if tail.count(START) > 1:
        return False
    for line in tail.split(b"\n")[:-1]:
        try:
            number_in(line)
        except BadLine:
            continue
        return False
    return True


@dataclass(frozen=True, order=True)
class Segment:
    """One file of the journal, by the number of its first change; `packed` when sealed and compressed."""

    first: int
    path: Path
    packed: bool

    def read(self) -> bytes:
        """Its lines. Raises SegmentGone if it was packed meanwhile, ShopUnusable if it cannot be unpacked."""
        try:
            data = self.path.read_bytes()
            return gzip.decompress(data) if self.packed else data
        except FileNotFoundError:
            raise SegmentGone from None
        except (EOFError, gzip.BadGzipFile, zlib.error):
            raise damaged(self.path, "cannot be unpacked") from None


def damaged(path: Path, why: str) -> ShopUnusable:
    """The error for a damaged file of the journal or the database."""
    return ShopUnusable(
        f"{path.parent.name}/{path.name} {why}",
        f"nothing was changed; `shopboard verify` says more; then {RESTORE}",
    )


def line_number(data: bytes, at: int) -> int:
    """Which line, counted from 1, the byte `at` is in."""
    return data.count(b"\n", 0, at) + 1


def segment_path(folder: Path, first: int) -> Path:
    """Where the plain segment that starts with change `first` stands."""
    return folder / f"{first:012d}.jsonl"


def segments(folder: Path) -> list[Segment]:
    """The journal's segments in order; where a plain and a packed one have the same number, the plain one."""
    found: dict[int, Segment] = {}
    for path in folder.iterdir():
        name = re.fullmatch(r"(\d{12})\.jsonl(\.gz)?", path.name)
        if name and (not name[2] or int(name[1]) not in found):
            found[int(name[1])] = Segment(int(name[1]), path, bool(name[2]))
    return sorted(found.values())


def sealed(segment: Segment, following: Segment) -> bytes:
    """The bytes of a segment that another follows, proved whole. Raises ShopUnusable with the line."""
    data = segment.read()
    found = scan(data, segment.first, after=following.first)
    if found.tail:
        raise damaged(segment.path, f"line {line_number(data, found.good)} {found.why or 'is cut short'}")
    if found.seq != following.first - 1:
        raise damaged(following.path, f"starts with change {following.first} where {found.seq + 1} was expected")
    return data


def history(folder: Path, since: int, upto: int, wanted: Callable[[bytes], bool] = any_line) -> Iterator[Change]:
    """The changes after `since` up to `upto` whose line is `wanted`, oldest first, over all segments.

    Raises ShopUnusable where a sealed segment is damaged. A segment packed while this reads is found again.
    """
    while since < upto:
        try:
            for change in _history(folder, since, upto, wanted):
                yield change
                since = change.seq
            return
        except SegmentGone:
            continue


def _history(folder: Path, since: int, upto: int, wanted: Callable[[bytes], bool]) -> Iterator[Change]:
    found = segments(folder)
    for segment, following in zip(found, [*found[1:], None], strict=True):
        if segment.first > upto:
            return
        if following and following.first <= since + 1:
            continue
        data = sealed(segment, following) if following else segment.read()
        for change in scan(data, segment.first, after=since, wanted=wanted).changes:
            if change.seq <= upto:
                yield change


def backwards(folder: Path, upto: int, wanted: Callable[[bytes], bool]) -> Iterator[Change]:
    """The changes from `upto` down to the oldest kept whose line is `wanted`. Raises ShopUnusable as `history`."""
    found = segments(folder)
    for segment, following in reversed(list(zip(found, [*found[1:], None], strict=True))):
        if segment.first > upto:
            continue
        data = sealed(segment, following) if following else segment.read()
        lines = data.split(b"\n")[:-1][: upto - segment.first + 1]
        for line in reversed(lines):
            if wanted(line):
                yield change_in(line)


@dataclass(frozen=True)
class FolderHistory:
    """A folder's journal as undo asks for it (see `undo.History`)."""

    folder: Path

    def backwards(self, upto: int) -> Iterator[Change]:
        """The changes from `upto` down to the oldest kept."""
        return backwards(self.folder, upto, any_line)

    def touching(self, keys: set[tuple[Table, int]], upto: int) -> Iterator[Change]:
        """Of these, those that touch one of the records."""
        asked = {(table.value.encode(), b"%d" % id) for table, id in keys}
        return backwards(self.folder, upto, lambda line: any(op.groups() in asked for op in _OP.finditer(line)))

    def oldest(self) -> int:
        """The number of the oldest change kept."""
        return segments(self.folder)[0].first
