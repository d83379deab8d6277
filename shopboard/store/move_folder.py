"""A folder as the source or the target of a move."""

from __future__ import annotations

import contextlib
from collections.abc import Iterator
from pathlib import Path

from shopboard.records import Settings, ShopState, Table

from . import checkpoint, closed, disk, presence
from .disk_faults import said
from .folder import FolderStore, open_shop
from .journal import SegmentGone, damaged, number_in, scan, sealed, segment_path, segments
from .move import Numbered
from .protocol import ShopUnusable
from .recovery import cut_torn, load, prepare
from .replay import Unfiled, Whole, apply
from .shop_files import read_settings

#: What a file the shop edits is called; pins.toml is nobody else's to see.
_TEXTS, _NOT_TEXTS = frozenset({".toml", ".txt", ".csv", ".md"}), frozenset({"pins.toml"})
#: Locked while a shop arrives; it goes when all is there.
_MOVING = ".moving"


@contextlib.contextmanager
def folder_source(folder: Path) -> Iterator[FolderSource]:
    """The shop in `folder`, locked until the end and not changed. Raises ShopUnusable while a board is open on it."""
    settings = read_settings(folder)
    if not (folder / "db" / "open.json").exists():
        open_shop(folder).close()  # a shop that was never opened has no journal yet
    try:
        with presence.alone(folder), disk.locked(folder / "lock", 1.0):
            yield FolderSource(folder, settings)
    except disk.LockBusy:
        raise ShopUnusable(f"somebody is writing to {folder}", "close the boards on it, then move it") from None
    except OSError as error:
        raise ShopUnusable(f"{folder}: {said(error)}", "see to the disk") from None


class Held:
    """The records of a folder as they are, read without changing a byte of it."""

    def __init__(self, folder: Path, settings: Settings) -> None:
        loaded = load(folder)
        file, self._unfiled, self._db = loaded.open, Unfiled(), folder / "db"
        self.state = ShopState(settings=settings, models={}, seq=file.about.seq)
        for table in Table:
            setattr(self.state, table.value, getattr(file, table.value))
        self.state.closed, self.state.next_ids = loaded.closed, dict(file.about.next_ids)
        apply(self.state, self._unfiled, loaded.changes)

    def closed_jobs(self) -> Iterator[Whole]:
        """Every closed job whole."""
        return closed.each_closed(self._db, self.state.closed, self._unfiled.jobs)

    def close(self) -> None:
        """Nothing is held."""


class FolderSource:
    """Reads a folder whose lock is held."""

    def __init__(self, folder: Path, settings: Settings) -> None:
        self._folder, self._journal, self._settings = folder, folder / "journal", settings
        self._last = load(folder).follower.seq
        if segments(self._journal)[0].first != 1:
            raise ShopUnusable(f"the history in {folder} does not begin with its first change", "it cannot be moved")

    def last(self) -> int:
        """See `move.Source`."""
        return self._last

    def lines(self, after: int) -> Iterator[Numbered]:
        """See `move.Source`."""
        return journal_lines(self._journal, after)

    def texts(self) -> dict[str, str]:
        """See `move.Source`. Raises ShopUnusable for a file that is no text."""
        return texts_of(self._folder)

    def open(self) -> Held:
        """See `move.Source`."""
        return Held(self._folder, self._settings)


def journal_lines(journal: Path, after: int) -> Iterator[Numbered]:
    """The lines of a folder's journal after a change, each proved sound. Raises ShopUnusable."""
    found = segments(journal)
    for segment, following in zip(found, [*found[1:], None], strict=True):
        if following and following.first <= after + 1:
            continue
        try:
            data = sealed(segment, following) if following else segment.read()
        except SegmentGone:
            raise damaged(segment.path, "went away while it was read") from None
        whole = scan(data, segment.first, after=1 << 62)
        yield from _numbered(data[: whole.good], after)


def _numbered(data: bytes, after: int) -> Iterator[Numbered]:
    for line in data.splitlines(keepends=True):
        number = number_in(line[:-1])
        if number > after:
            yield number, line


def texts_of(folder: Path) -> dict[str, str]:
    """The files a shop edits: those of its folder and of book/ that are text. Raises ShopUnusable, naming another."""
    found = {}
    for path in sorted([*folder.iterdir(), *(folder / "book").glob("*")]):
        if not path.is_file() or path.suffix not in _TEXTS or path.name in _NOT_TEXTS or path.name[0] == ".":
            continue
        name = path.relative_to(folder).as_posix()
        try:
            found[name] = path.read_bytes().decode("utf-8")
        except UnicodeDecodeError:
            raise ShopUnusable(f"{name} is not UTF-8 text", "save it as UTF-8, or take it out of the folder") from None
    return found


@contextlib.contextmanager
def folder_target(folder: Path) -> Iterator[FolderTarget]:
    """A folder that a shop arrives in; beside it until all is there. Raises ShopUnusable where something stands."""
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise ShopUnusable(f"{folder} is there already and not empty", "choose a folder that does not exist yet")
    making = folder.with_name(f".{folder.name}.arriving")
    try:
        disk.make_folder(making)
        with disk.locked(making / _MOVING, 1.0):
            yield FolderTarget(folder, making)
    except disk.LockBusy:
        raise ShopUnusable(f"another move to {folder} is under way", "wait for it") from None
    except OSError as error:
        raise ShopUnusable(f"{folder} cannot be written ({said(error)})", "see to the disk, then move again") from None


class FolderTarget:
    """Writes a journal as a board would have, segment by segment."""

    def __init__(self, folder: Path, making: Path) -> None:
        self._folder, self._making, self._journal = folder, making, making / "journal"
        prepare(making)
        follower = load(making).follower
        if follower.tail:
            cut_torn(follower)  # the move was killed while it wrote
        self._last, self._path, self._end = follower.seq, follower.path, follower.end
        self._first = follower.segment
        for torn in self._journal.glob("torn-*.bin"):
            torn.unlink()  # the source has the line whole

    def last(self) -> int:
        """See `move.Target`."""
        return self._last

    def lines(self, after: int) -> Iterator[Numbered]:
        """See `move.Target`."""
        return journal_lines(self._journal, after)

    def append(self, lines: list[Numbered]) -> None:
        """See `move.Target`."""
        data = b"".join(line for _, line in lines)
        disk.append(self._path, data, self._end)
        self._end += len(data)
        self._last = lines[-1][0]
        if self._last - self._first + 1 >= checkpoint.CHANGES or self._end >= checkpoint.BYTES:
            checkpoint.roll(self._journal, self._last)
            self._first, self._end = self._last + 1, 0
            self._path = segment_path(self._journal, self._first)

    def put_texts(self, texts: dict[str, str]) -> None:
        """See `move.Target`."""
        disk.make_folder(self._making / "book")
        for path in [*self._making.glob("*.toml"), *(self._making / "book").glob("*")]:
            if path.relative_to(self._making).as_posix() not in texts:
                path.unlink()
        for name, body in texts.items():
            disk.make_folder((self._making / name).parent)
            disk.replace_file(self._making / name, body.encode())

    def open(self) -> FolderStore:
        """See `move.Target`."""
        store = open_shop(self._making)
        store.checkpoint()
        return store

    def finish(self) -> None:
        """See `move.Target`."""
        (self._making / _MOVING).unlink()
        if self._folder.exists():
            self._folder.rmdir()
        self._making.rename(self._folder)
        disk.sync_folder(self._folder.parent)
