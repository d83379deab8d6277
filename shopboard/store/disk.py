"""What differs between operating systems, in one place: durable writes, folder syncs and the shop's lock."""

from __future__ import annotations

import contextlib
import errno
import os
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path

#: Called with the name of each step of commit and checkpoint as it is reached; None costs nothing.
hook: Callable[[str], None] | None = None

#: How long a commit waits for another terminal, and how often it looks (seconds).
LOCK_WAIT, LOCK_POLL = 5.0, 0.001

_BINARY = getattr(os, "O_BINARY", 0)
_MARKS = 1 << 24  # more than there are process numbers


class SyncFailed(OSError):
    """The system could not promise that written bytes are on the disk; asking again proves nothing."""


class LockBusy(Exception):
    """Another process held the lock for the whole wait; `holder` is its process number, or 0."""

    def __init__(self, holder: int) -> None:
        super().__init__(holder)
        self.holder = holder


def reached(step: str) -> None:
    """Say that a step of commit or checkpoint is reached, to whoever listens."""
    if hook is not None:
        hook(step)


def sync_file(fd: int) -> None:
    """Put the file's bytes on the disk itself. Raises SyncFailed."""
    try:
        if sys.platform == "darwin":
            # fsync on macOS stops at the drive's cache
            import fcntl

            fcntl.fcntl(fd, fcntl.F_FULLFSYNC)
        else:
            os.fsync(fd)
    except OSError as error:
        raise SyncFailed(error.errno, error.strerror) from error


def sync(path: Path) -> None:
    """Put a file's bytes on the disk, whoever wrote them. Raises OSError (SyncFailed if it was the sync)."""
    fd = os.open(path, os.O_RDWR | _BINARY)
    try:
        sync_file(fd)
    finally:
        os.close(fd)


def sync_folder(folder: Path) -> None:
    """Put the folder's list of names on the disk (Windows has no such call and needs none). Raises SyncFailed."""
    if sys.platform == "win32":
        return
    fd = os.open(folder, os.O_RDONLY)
    try:
        sync_file(fd)
    finally:
        os.close(fd)


def write_all(fd: int, data: bytes) -> None:
    """Write every byte; a disk that takes only some raises OSError at the next piece."""
    rest = memoryview(data)
    while rest:
        rest = rest[os.write(fd, rest) :]


def make_folder(folder: Path) -> None:
    """Make the folder for its owner only, with its parents as the system likes them."""
    folder.parent.mkdir(parents=True, exist_ok=True)
    folder.mkdir(mode=0o700, exist_ok=True)


def replace_file(path: Path, data: bytes) -> None:
    """Let `path` hold `data`: afterwards the whole new file is there, after any failure the whole old one.

    Raises OSError (SyncFailed among them) with the old file untouched, unless only the folder's sync failed.
    """
    spare = path.with_name(f".{path.name}.{os.getpid()}.tmp")
    try:
        fd = os.open(spare, os.O_WRONLY | os.O_CREAT | os.O_TRUNC | _BINARY, 0o600)
        try:
            write_all(fd, data)
            reached("temp written")
            sync_file(fd)
        finally:
            os.close(fd)
        reached("temp synced")
        os.replace(spare, path)
    except OSError:
        with contextlib.suppress(OSError):
            spare.unlink(missing_ok=True)
        raise
    reached("replaced")
    sync_folder(path.parent)


def append(path: Path, data: bytes, end: int) -> None:
    """Add `data` to the file, whose length is `end`, and sync it.

    Raises OSError when not all could be written and SyncFailed when the sync failed: either way the file is cut
    back to `end` as far as the disk still obeys.
    """
    fd = os.open(path, os.O_WRONLY | os.O_APPEND | _BINARY)
    try:
        try:
            write_all(fd, data)
            reached("written")
            sync_file(fd)
        except OSError:
            with contextlib.suppress(OSError):
                os.ftruncate(fd, end)
                sync_file(fd)
            raise
    finally:
        os.close(fd)


def cut(path: Path, end: int) -> None:
    """Cut the file to its first `end` bytes, on the disk. Raises OSError."""
    fd = os.open(path, os.O_WRONLY | _BINARY)
    try:
        os.ftruncate(fd, end)
        sync_file(fd)
    finally:
        os.close(fd)


def _try_lock(fd: int) -> bool:
    try:
        if sys.platform == "win32":
            import msvcrt

            # Far behind the end, so that the holder's number stays readable
            os.lseek(fd, 1 << 30, os.SEEK_SET)
            msvcrt.locking(fd, msvcrt.LK_NBLCK, 1)
        else:
            import fcntl

            fcntl.flock(fd, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError as error:
        if error.errno in (errno.EACCES, errno.EAGAIN, errno.EDEADLK):
            return False
        raise
    return True


def _unlock(fd: int) -> None:
    if sys.platform == "win32":
        import msvcrt

        os.lseek(fd, 1 << 30, os.SEEK_SET)
        msvcrt.locking(fd, msvcrt.LK_UNLCK, 1)
    else:
        import fcntl

        fcntl.flock(fd, fcntl.LOCK_UN)


def _holder(fd: int) -> int:
    os.lseek(fd, 0, os.SEEK_SET)
    text = os.read(fd, 16).strip()
    return int(text) if text.isdigit() else 0


def _sign(fd: int) -> None:
    # Only for the message of one who waits in vain: a full disk must not stop the lock
    with contextlib.suppress(OSError):
        os.lseek(fd, 0, os.SEEK_SET)
        write_all(fd, b"%10d\n" % os.getpid())


def same_file(fd: int, path: Path) -> bool:
    """Whether the open file is still the one that stands there."""
    try:
        return os.path.samestat(os.fstat(fd), path.stat())
    except FileNotFoundError:
        return False


@contextlib.contextmanager
def locked(path: Path, wait: float | None = None) -> Iterator[None]:
    """Hold the lock file (made if missing, never deleted) for the block.

    Raises LockBusy after `wait` seconds (default LOCK_WAIT), OSError if the file cannot be opened for writing.
    """
    until = time.monotonic() + (LOCK_WAIT if wait is None else wait)
    while True:
        fd = os.open(path, os.O_RDWR | os.O_CREAT | _BINARY, 0o600)
        try:
            while not _try_lock(fd):
                if time.monotonic() > until:
                    raise LockBusy(_holder(fd))
                time.sleep(LOCK_POLL)
            if not same_file(fd, path):
                continue  # somebody deleted the file: a lock on the old one protects nothing
            _sign(fd)
            try:
                yield
            finally:
                _unlock(fd)
            return
        finally:
            os.close(fd)


def open_mark(path: Path, *, write: bool) -> int:
    """Open a file that is only there to be shared or claimed; with `write` it is made. Raises OSError."""
    return os.open(path, (os.O_RDWR | os.O_CREAT if write else os.O_RDONLY) | _BINARY, 0o600)


def share_mark(fd: int) -> bool:
    """Share the file with others until it is closed; False where somebody has claimed it."""
    return _lock_mark(fd, alone=False)


def claim_mark(fd: int) -> bool:
    """Have the file alone until it is closed; False where somebody shares it."""
    return _lock_mark(fd, alone=True)


def _lock_mark(fd: int, *, alone: bool) -> bool:
    try:
        if sys.platform == "win32":
            import msvcrt

            # No shared locks there: each process takes a byte of its own, whoever wants it alone takes all of them
            os.lseek(fd, 0 if alone else os.getpid() % _MARKS, os.SEEK_SET)
            msvcrt.locking(fd, msvcrt.LK_NBLCK, _MARKS if alone else 1)
        else:
            import fcntl

            fcntl.flock(fd, (fcntl.LOCK_EX if alone else fcntl.LOCK_SH) | fcntl.LOCK_NB)
    except OSError as error:
        if error.errno in (errno.EACCES, errno.EAGAIN, errno.EDEADLK):
            return False
        raise
    return True
