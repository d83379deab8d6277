"""Reading the journal as it grows, without the lock: how a terminal sees what others commit."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from shopboard.records import Change

from .journal import BODY, BadLine, Scan, SegmentGone, damaged, line_number, number_in, scan, segment_path


@dataclass
class Follower:
    """Reads the journal as it grows: `segment` is the first number of the file being read, `end` the bytes of it
    that are read, `seq` the last change. Never needs the lock; only whole, sound, consecutive lines count."""

    folder: Path
    segment: int
    end: int = 0
    seq: int = 0
    tail: bytes = b""
    why: str = ""
    crossed: int = 0
    _last: int = 0
    _head: bytes = b""
    _stamp: tuple[int, int] = (-1, -1)

    @property
    def path(self) -> Path:
        """The file being read."""
        return segment_path(self.folder, self.segment)

    def poll(self, *, sure: bool = False) -> list[Change]:
        """What was added since the last look; `crossed` is the change before the newest segment begun meanwhile (the
        files at rest hold everything up to it), or 0. With `sure`, the last line and what follows is read
        again even if the file looks untouched.

        Raises SegmentGone when the file was replaced, cut below what was read, or packed before it was read,
        ShopUnusable when `sure` and the last line read went bad since.
        """
        found: list[Change] = []
        self.crossed = 0
        self._stamp = (-1, -1) if sure else self._stamp
        while True:
            found += self._more(sure)
            following = segment_path(self.folder, self.seq + 1)
            if self.segment == self.seq + 1 or not following.exists():
                return found
            self.segment, self.end, self._last, self._head = self.seq + 1, 0, 0, b""
            self.tail, self._stamp, self.crossed = b"", (-1, -1), self.seq

    def _check_last(self, line: bytes) -> None:
        """Nothing is ever written behind a line that went bad."""
        try:
            number_in(line)
        except BadLine as bad:
            raise damaged(self.path, f"line {line_number(self.path.read_bytes(), self._last)} {bad}") from None

    def _more(self, sure: bool) -> list[Change]:
        try:
            stat = self.path.stat()
            stamp = (stat.st_size, stat.st_mtime_ns)
            if stamp == self._stamp:
                return []
            with self.path.open("rb") as file:
                file.seek(self._last)
                data = file.read()
        except FileNotFoundError:
            if segment_path(self.folder, self.seq + 1).exists():
                return []
            raise SegmentGone from None
        read = self.end - self._last
        if len(data) < read or not data.startswith(self._head):
            raise SegmentGone
        if sure and read:
            self._check_last(data[: read - 1])
        self._stamp = stamp
        return self._take(data[read:])

    def _take(self, data: bytes) -> list[Change]:
        new = scan(data, self.seq + 1)
        self.tail, self.why = new.tail, new.why
        if new.good:
            self._last = self.end + new.last
            self._head = data[new.last : new.last + BODY]
            self.end, self.seq = self.end + new.good, new.seq
        return new.changes

    def start(self, data: bytes, found: Scan) -> None:
        """Stand at the end of the good lines of `data`, the whole of this segment's file as `found` in it."""
        self.end, self.seq, self.tail, self.why = found.good, found.seq, found.tail, found.why
        self._last, self._head = found.last, data[found.last : found.last + BODY] if found.good else b""

    def wrote(self, line: bytes, change: Change) -> None:
        """Move over a line just appended here."""
        self._last, self._head, self.end = self.end, line[:BODY], self.end + len(line)
        self.seq, self.tail, self._stamp = change.seq, b"", (-1, -1)
