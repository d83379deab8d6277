"""Bringing a backup back: each entry proved, never over a shop that is open, what was there kept aside."""

from __future__ import annotations

import contextlib
import errno
import glob
import hashlib
import lzma
import os
import shutil
import struct
import zipfile
import zlib
from collections.abc import Iterator
from datetime import datetime
from pathlib import Path, PurePosixPath

import msgspec

from shopboard.records import FORMAT

from . import disk, presence, recovery
from .disk_faults import mend, said
from .journal import from_the_future
from .pins import PINS_FILES
from .protocol import CommitFailed, ShopUnusable

KIND = "shopboard backup 1"
MANIFEST = "manifest.json"

#: What reading a damaged archive may meet.
_BROKEN = (
    zipfile.BadZipFile, zlib.error, lzma.LZMAError, struct.error, EOFError, ValueError, KeyError, RuntimeError,
    OverflowError,
)  # fmt: skip


class Entry(msgspec.Struct, frozen=True):
    """One file of a backup."""

    bytes: int
    sha256: str


class Manifest(msgspec.Struct, frozen=True):
    """What a backup holds: which shop, as of which change, when, in which FORMAT its records are, and its files."""

    kind: str
    shop: str
    seq: int
    at: datetime
    records: int
    files: dict[str, Entry]


class Restored(msgspec.Struct, frozen=True):
    """What was brought back: where to, the last change in it, and where what stood there before is now ("" if nothing
    did)."""

    folder: str
    seq: int
    aside: str


def restore(file: Path, folder: Path, now: datetime) -> Restored:
    """Bring the shop in `file` back into `folder`; what stood there is kept beside it by a dated name, whole.

    All of it or nothing. Raises ShopUnusable for a file that is no whole backup, a folder that is open anywhere or is
    no shop, CommitFailed when it cannot be written.
    """
    manifest = look_through(file)
    folder = folder.resolve()
    try:
        if not folder.exists() or (folder.is_dir() and not any(folder.iterdir())):
            _build(file, manifest, folder)
            return Restored(str(folder), manifest.seq, "")
        if not (folder / "shop.toml").is_file():
            raise ShopUnusable(f"{folder} is there already and is no shop", "name a shop's folder, or a new one")
        with presence.alone(folder):
            aside = _build(file, manifest, folder, now)
        return Restored(str(folder), manifest.seq, str(aside))
    except OSError as error:
        raise CommitFailed(f"nothing was restored: {said(error)}", mend(error)) from None


def look_through(file: Path) -> Manifest:
    """The manifest of a backup, every entry read and held against it. Raises ShopUnusable where anything is amiss."""
    try:
        with zipfile.ZipFile(file) as archive:
            return _checked(archive, file)
    except FileNotFoundError:
        raise ShopUnusable(f"there is no file {file}", "name a file that `shopboard backup` made") from None
    except OSError as error:
        if error.errno in (None, errno.EINVAL):  # a decompressor's complaint, or a place before the file begins
            raise _damaged(file, "it is no whole archive") from None
        raise ShopUnusable(f"{file} cannot be read: {said(error)}", "see who may read it") from None
    except _BROKEN:
        raise _damaged(file, "it is no whole archive") from None


def _checked(archive: zipfile.ZipFile, file: Path) -> Manifest:
    names = [info.filename for info in archive.infolist()]
    if MANIFEST not in names:
        raise _damaged(file, "it has no manifest")
    try:
        manifest = msgspec.json.decode(archive.read(MANIFEST), type=Manifest)
    except msgspec.MsgspecError:
        raise _damaged(file, "its manifest cannot be read") from None
    if manifest.kind != KIND:
        raise _damaged(file, "it is of another kind")
    if manifest.records > FORMAT:
        raise from_the_future("this backup", manifest.records)
    if sorted(names) != sorted([*manifest.files, MANIFEST]):
        raise _damaged(file, "it holds other files than its manifest says")
    for name, entry in manifest.files.items():
        if not _inside(name):
            raise _damaged(file, f"it names a file outside the shop ({name})")
        if archive.getinfo(name).file_size != entry.bytes or _sum(archive.read(name)) != entry.sha256:
            raise _damaged(file, f"{name} does not match its checksum")
    return manifest


def _sum(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()


def _inside(name: str) -> bool:
    path = PurePosixPath(name)
    return bool(path.parts) and not path.is_absolute() and not {"..", "."} & set(name.split("/")) and "\\" not in name


def _damaged(file: Path, why: str) -> ShopUnusable:
    return ShopUnusable(f"{file} is damaged or no backup: {why}", "nothing was changed; take another backup")


def unpack(file: Path, place: Path) -> None:
    """Write every file of a backup that was looked through under `place`, on the disk. Raises OSError."""
    disk.make_folder(place)
    with zipfile.ZipFile(file) as archive:
        for info in archive.infolist():
            if info.filename == MANIFEST:
                continue
            path = place.joinpath(*PurePosixPath(info.filename).parts)
            for folder in reversed(path.relative_to(place).parents[:-1]):
                disk.make_folder(place / folder)
            disk.replace_file(path, archive.read(info))


def _build(file: Path, manifest: Manifest, folder: Path, now: datetime | None = None) -> Path | None:
    """Build the shop beside its place, prove that it opens, and only then let it take the place of what is there."""
    making = folder.with_name(f".{folder.name}.{os.getpid()}.restoring")
    for left in folder.parent.glob(f".{glob.escape(folder.name)}.*.restoring"):
        shutil.rmtree(left, ignore_errors=True)  # of a process that was killed
    try:
        unpack(file, making)
        if recovery.load(making).follower.seq != manifest.seq:
            raise _damaged(file, f"it does not end at change {manifest.seq}")
        for name in PINS_FILES if now else ():
            if (folder / name).is_file():
                disk.replace_file(making / name, (folder / name).read_bytes())
        aside = _swap(making, folder, now)
        disk.sync_folder(folder.parent)
        return aside
    except _BROKEN:
        raise _damaged(file, "it is no whole archive") from None
    finally:
        shutil.rmtree(making, ignore_errors=True)


def _swap(making: Path, folder: Path, now: datetime | None) -> Path | None:
    aside = None
    if now is not None:
        aside = next(path for path in _asides(folder, now) if not path.exists())
        folder.rename(aside)
    elif folder.exists():
        folder.rmdir()  # it is empty, and not every system renames onto a folder
    try:
        making.rename(folder)
    except OSError:
        if aside is not None:
            with contextlib.suppress(OSError):
                aside.rename(folder)
        raise
    return aside


def _asides(folder: Path, now: datetime) -> Iterator[Path]:
    dated = f"{folder.name}.before-{now:%Y-%m-%d-%H%M%S}"
    yield folder.with_name(dated)
    yield from (folder.with_name(f"{dated}-{copy}") for copy in range(2, 1000))
