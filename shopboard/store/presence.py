"""Who holds a shop's folder open: every process that does shares the file `in-use`; a restore must have it alone."""

from __future__ import annotations

import contextlib
import os
import threading
from collections.abc import Iterator
from pathlib import Path

from . import disk
from .disk_faults import said
from .protocol import ShopUnusable

FILE = "in-use"

#: A process holds one shop open, or a few; of very many only the newest are kept in mind, so that files do not run out.
_MOST = 100

_guard = threading.Lock()
_held: dict[Path, tuple[int, int]] = {}


def enter(folder: Path) -> None:
    """Say that this process holds the folder open. Raises ShopUnusable while it is being restored.

    In a folder that cannot be written nothing is said.
    """
    path = folder.resolve() / FILE
    with _guard:
        fd, times = _held.pop(path, (-1, 0))
        if fd < 0 or not disk.same_file(fd, path):
            _close(fd)
            fd, times = _share(path), 0
        if fd >= 0:
            _held[path] = (fd, times + 1)
        while len(_held) > _MOST:
            _close(_held.pop(next(iter(_held)))[0])


def leave(folder: Path) -> None:
    """Say that it is let go."""
    path = folder.resolve() / FILE
    with _guard:
        fd, times = _held.pop(path, (-1, 0))
        if times > 1:
            _held[path] = (fd, times - 1)
        else:
            _close(fd)


@contextlib.contextmanager
def alone(folder: Path) -> Iterator[None]:
    """Be the only one who holds the folder; nobody can open it meanwhile.

    Raises ShopUnusable where somebody holds it open, or it cannot be written.
    """
    path = folder.resolve() / FILE
    try:
        fd = disk.open_mark(path, write=True)
    except OSError as error:
        raise ShopUnusable(f"{folder} cannot be replaced: {said(error)}", "see who may write it") from None
    try:
        if not disk.claim_mark(fd):
            raise ShopUnusable(f"{folder} is open at a terminal", "close every board on it first (Ctrl+Q)")
        yield
    finally:
        _close(fd)


def _share(path: Path) -> int:
    for write in (True, False):
        try:
            fd = disk.open_mark(path, write=write)
        except OSError:
            continue
        if disk.share_mark(fd):
            return fd
        _close(fd)
        raise ShopUnusable(f"{path.parent} is being restored", "open it again in a minute")
    return -1


def _close(fd: int) -> None:
    if fd >= 0:
        with contextlib.suppress(OSError):
            os.close(fd)
