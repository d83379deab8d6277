"""The trouble book as it was read last, kept ready in the user's cache: reading its files is a good part of a start.

What is kept stands beside the very texts it was made from and the program files that made it, and counts only where
both are the same now. A kept book that is damaged, of another owner or of another program is as good as none.
"""

from __future__ import annotations

import contextlib
import os
import zlib
from collections.abc import Callable, Mapping
from pathlib import Path

import msgspec

from shopboard import trouble
from shopboard.trouble.book import Book, Cause, Caution, Check, Correction, Cover, Service, Symptom

from . import disk

#: So many books are kept at most: one for each shop that is opened here.
_MOST = 6
_PATTERN = "book-*.kept"

Texts = Mapping[str, str]


class _Kept(msgspec.Struct, frozen=True):
    """A book, the texts it was made from, and what made it."""

    made_by: list[tuple[str, int, int]]
    texts: dict[str, str]
    additions: dict[str, str]
    symptoms: dict[str, Symptom]
    checks: dict[str, Check]
    causes: dict[str, Cause]
    corrections: dict[str, Correction]
    covers: dict[str, Cover]
    service_points: dict[str, Service]
    cautions: dict[str, Caution]


_TABLES = _Kept.__struct_fields__[3:]


def kept(texts: Texts, additions: Texts, read: Callable[[Texts, Texts], Book]) -> Book:
    """The book in these texts: the one kept, else the one that `read` makes, which is then kept. Raises as `read`."""
    try:
        made_by, path = _made_by(), _path(texts, additions)
    except (OSError, RuntimeError):  # no home, or a program that is no files
        return read(texts, additions)
    found = _found(path)
    if found is not None and (found.made_by, found.texts, found.additions) == (made_by, texts, additions):
        return Book(**{name: getattr(found, name) for name in _TABLES})
    book = read(texts, additions)
    tables = (dict(getattr(book, name)) for name in _TABLES)
    with contextlib.suppress(OSError):
        _keep(path, _Kept(made_by, dict(texts), dict(additions), *tables))
    return book


def _made_by() -> list[tuple[str, int, int]]:
    """The program's files that read a book: name, size, moment of their last change."""
    folder = Path(trouble.__file__).parent
    with os.scandir(folder) as entries:
        files = [(entry.name, entry.stat()) for entry in entries if entry.name.endswith(".py")]
    return sorted((name, stat.st_size, stat.st_mtime_ns) for name, stat in files)


def _path(texts: Texts, additions: Texts) -> Path:
    home = os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache"
    number = 0
    for name, text in (*texts.items(), *additions.items()):
        number = zlib.crc32(f"{name}\n{text}\n".encode(), number)
    return Path(home) / "shopboard" / f"book-{number:08x}.kept"


def _found(path: Path) -> _Kept | None:
    """What is kept there; None for anything that is not whole and this user's own."""
    try:
        if hasattr(os, "getuid") and path.stat().st_uid != os.getuid():
            return None
        data = path.read_bytes()
        if zlib.crc32(data[4:]) != int.from_bytes(data[:4], "big"):
            return None
        return msgspec.msgpack.decode(data[4:], type=_Kept)
    except (OSError, msgspec.DecodeError, UnicodeDecodeError):
        return None


def _keep(path: Path, book: _Kept) -> None:
    """Keep the book in place of what was there, and forget those kept longest ago."""
    disk.make_folder(path.parent)
    data = msgspec.msgpack.encode(book)
    disk.replace_file(path, zlib.crc32(data).to_bytes(4, "big") + data)
    known = sorted(path.parent.glob(_PATTERN), key=lambda one: one.stat().st_mtime_ns, reverse=True)
    for old in known[_MOST:]:
        old.unlink(missing_ok=True)
