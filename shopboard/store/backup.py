"""One file that holds a whole shop as of one change: made while others write, proved by restoring it.

A backup is a zip archive: the shop's files under their own names, and last `manifest.json` with the length and SHA-256
of each. PINs are left out, and so are half-typed forms.
"""

from __future__ import annotations

import contextlib
import hashlib
import os
import tempfile
import zipfile
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path, PurePosixPath

import msgspec

from shopboard.records import FORMAT

from . import disk, presence
from .disk_faults import mend, said
from .journal import scan, segments
from .pins import PINS_FILES
from .protocol import CommitFailed, ShopUnusable
from .restore import KIND, MANIFEST, Entry, Manifest, look_through, unpack
from .shop_files import read_settings
from .verifying import verify

#: What is no part of the shop: locks, secrets, what one terminal has half typed.
_LEFT_OUT = frozenset({"lock", presence.FILE, "drafts", *PINS_FILES})


class BackedUp(msgspec.Struct, frozen=True):
    """What was kept: the file, the last change in it, how many files of how many bytes."""

    file: str
    seq: int
    files: int
    bytes: int


def backup(folder: Path, target: Path, now: datetime) -> BackedUp:
    """Keep the shop in `target`, a new file, or in a file named by shop and moment where `target` is a folder.

    Others may write meanwhile: it is the shop as of one change. Before the file gets its name it is restored into a
    scratch folder and looked over. Raises CommitFailed with nothing left behind, ShopUnusable where there is no shop.
    """
    settings = read_settings(folder)
    if target.is_dir():
        target = target / f"{folder.resolve().name}-{now:%Y-%m-%d-%H%M%S}.zip"
    if target.exists():
        raise CommitFailed(f"{target} is there already", "name a file that does not exist yet")
    spare = target.with_name(f".{target.name}.{os.getpid()}.tmp")
    try:
        manifest = _write(folder, spare, settings.name, now)
        _prove(spare, manifest)
        os.replace(spare, target)
        disk.sync_folder(target.parent)
    except FileNotFoundError as error:
        raise CommitFailed(f"{error.filename or target} is not there", "name a file in a folder that exists") from None
    except OSError as error:
        raise CommitFailed(f"no backup was made: {said(error)}", mend(error)) from None
    finally:
        with contextlib.suppress(OSError):
            spare.unlink(missing_ok=True)
    size = sum(entry.bytes for entry in manifest.files.values())
    return BackedUp(str(target), manifest.seq, len(manifest.files), size)


def _write(folder: Path, spare: Path, shop: str, now: datetime) -> Manifest:
    fd = os.open(spare, os.O_RDWR | os.O_CREAT | os.O_TRUNC, 0o600)
    with os.fdopen(fd, "w+b") as file, zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED, compresslevel=1) as archive:
        entries: dict[str, Entry] = {}
        seq = 0
        for name, data, last in _frozen(folder):
            entries[name] = Entry(len(data), hashlib.sha256(data).hexdigest())
            how = zipfile.ZIP_STORED if name.endswith(".gz") else zipfile.ZIP_DEFLATED
            archive.writestr(zipfile.ZipInfo(name, (1980, 1, 1, 0, 0, 0)), data, how)
            seq = max(seq, last)
        manifest = Manifest(kind=KIND, shop=shop, seq=seq, at=now.astimezone(UTC), records=FORMAT, files=entries)
        archive.writestr(zipfile.ZipInfo(MANIFEST, (1980, 1, 1, 0, 0, 0)), msgspec.json.encode(manifest))
        archive.close()
        file.flush()
        disk.sync_file(file.fileno())
    return manifest


def _frozen(folder: Path) -> Iterator[tuple[str, bytes, int]]:
    """Each file's name, its bytes as of one change, and the last change a segment of the journal holds (else 0).

    Under the lock every file is only opened: those at rest are replaced, never written into, and the journal only
    grows, so what is open stays as it was while others go on writing.
    """
    with contextlib.ExitStack() as stack:
        opened: list[tuple[str, int, int]] = []
        _let_many_be_open()
        try:
            with disk.locked(folder / "lock"):
                newest = segments(folder / "journal")[-1] if (folder / "journal").is_dir() else None
                for path in _files(folder):
                    fd = os.open(path, os.O_RDONLY | getattr(os, "O_BINARY", 0))
                    stack.callback(os.close, fd)
                    opened.append((path.relative_to(folder).as_posix(), fd, os.fstat(fd).st_size))
                if os.name == "nt":  # there a file that is open cannot be replaced: read now, while nobody writes
                    yield from _read(opened, newest.path.name if newest else "", newest.first if newest else 1)
                    return
        except disk.LockBusy:
            why = "another terminal has been writing for too long"
            raise CommitFailed(why, "look there, then do it again") from None
        yield from _read(opened, newest.path.name if newest else "", newest.first if newest else 1)


def _read(opened: list[tuple[str, int, int]], newest: str, first: int) -> Iterator[tuple[str, bytes, int]]:
    for name, fd, size in opened:
        with os.fdopen(os.dup(fd), "rb") as file:
            data = file.read(size)
        if name == f"journal/{newest}":
            sound = scan(data, first, wanted=lambda _: False)
            yield name, data[: sound.good], sound.seq
        else:
            yield name, data, 0


def _files(folder: Path) -> list[Path]:
    """Every file of the shop, the database before the journal; spare files of writers that were killed are none."""
    found = []
    for path in sorted(folder.rglob("*")):
        parts = PurePosixPath(path.relative_to(folder).as_posix()).parts
        if parts[0] in _LEFT_OUT or path.name.startswith(".") or not path.is_file() or path.is_symlink():
            continue
        found.append(path)
    return found


def _let_many_be_open() -> None:
    """A shop of many years has more files than a process may have open at first."""
    with contextlib.suppress(ImportError, OSError, ValueError):
        import resource

        _, most = resource.getrlimit(resource.RLIMIT_NOFILE)
        resource.setrlimit(resource.RLIMIT_NOFILE, (most, most))


def _prove(spare: Path, manifest: Manifest) -> None:
    """Restore it into a scratch folder and look that over. Raises CommitFailed where it is not the shop, whole."""
    with tempfile.TemporaryDirectory(prefix="shopboard-proof-") as scratch:
        place = Path(scratch) / "shop"
        try:
            if look_through(spare) != manifest:
                raise CommitFailed("the backup reads back otherwise than it was written", "look after that disk")
            unpack(spare, place)
        except ShopUnusable as error:
            raise CommitFailed(f"no backup was made: {error.why}", "look after that disk") from None
        faults = [fault for fault in verify(place) if fault.where.startswith(("journal", "db"))]
    if faults:
        where, why = faults[0].where, faults[0].why
        raise CommitFailed(f"no backup was made: the shop itself is damaged ({where} {why})", faults[0].mend)
