"""The shop's whole history, newest first: every change over all segments, filtered, only its outside read."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

import msgspec

from shopboard.records import Change, Moment

from .journal import BODY, SegmentGone, any_line, damaged, scan, sealed, segments
from .protocol import Store


class Told(msgspec.Struct, frozen=True, kw_only=True, rename={"seq": "s"}):
    """A change without its records: number, when, who, the sentence why, which job, which change it undoes."""

    seq: int
    at: Moment
    by: str
    why: str
    subject: int | None = None
    undoes: int | None = None


@dataclass(frozen=True)
class Wanted:
    """Which changes: of one job, by one person (their id), with all of these words in the sentence (small
    letters), from `since` on and before `until`. What is left out asks nothing."""

    job: int | None = None
    by: str = ""
    words: tuple[str, ...] = ()
    since: datetime | None = None
    until: datetime | None = None

    def takes(self, told: Told) -> bool:
        """Whether the change is wanted, the job aside."""
        if (self.by and told.by != self.by) or (self.since and told.at < self.since):
            return False
        if self.until and told.at >= self.until:
            return False
        why = told.why.casefold() if self.words else ""
        return all(word in why for word in self.words)

    def mark(self) -> Callable[[bytes], bool]:
        """Whether a journal line may be of the job: quicker than reading it."""
        if self.job is None:
            return any_line
        found = re.compile(rb'"subject":%d\b|\["(?:put|remove)","jobs",%d\b' % (self.job, self.job))
        return lambda line: found.search(line) is not None


def story(store: Store, wanted: Wanted) -> Iterator[Told | None]:
    """The changes wanted, newest first; None now and then where nothing was found for a while, so that who asks can
    do something else in between. Raises ShopUnusable where the history is damaged."""
    folder = getattr(store, "journal_folder", None)
    if isinstance(folder, Path):
        yield from _in_folder(folder, store.state.seq, wanted)
        return
    for change in reversed(list(store.changes(wanted.job))):
        told = outside(change)
        yield told if wanted.takes(told) else None


def outside(change: Change) -> Told:
    """The change without its records."""
    return Told(
        seq=change.seq, at=change.at, by=change.by, why=change.why, subject=change.subject, undoes=change.undoes
    )


def _in_folder(folder: Path, upto: int, wanted: Wanted) -> Iterator[Told | None]:
    mark = wanted.mark()
    while upto > 0:
        try:
            for first, lines in _segments_backwards(folder, upto):
                for line in reversed(lines):
                    if mark(line) and wanted.takes(told := _told(folder, line)):
                        yield told
                upto = first - 1
                yield None
            return
        except SegmentGone:
            continue  # packed meanwhile: from where the last whole segment ended


def _segments_backwards(folder: Path, upto: int) -> Iterator[tuple[int, list[bytes]]]:
    """Each segment's first number and its sound lines up to change `upto`, the newest segment first."""
    found = segments(folder)
    for segment, following in reversed(list(zip(found, [*found[1:], None], strict=True))):
        if segment.first > upto:
            continue
        if following:
            data = sealed(segment, following)
        else:
            data = segment.read()
            data = data[: scan(data, segment.first, wanted=lambda _: False).good]
        yield segment.first, data.split(b"\n")[:-1][: upto - segment.first + 1]


def _told(folder: Path, line: bytes) -> Told:
    try:
        return msgspec.json.decode(b"{" + line[BODY:], type=Told)
    except msgspec.MsgspecError as error:
        raise damaged(folder, f"holds a change that cannot be read ({error})") from None
