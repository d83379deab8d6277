"""The checkpoint: months, index and open.json written from the state, then a new segment, and the sealed ones packed.

Each file is replaced at once, and open.json comes after all it relies on: cut short anywhere, the old open.json and the
journal still give the whole state.
"""

from __future__ import annotations

import gzip
from collections.abc import Mapping
from pathlib import Path

from shopboard.records import ShopState, Table

from . import disk
from .closed import file_away
from .journal import Segment, damaged, segments
from .recovery import new_segment
from .replay import Unfiled
from .tiny_files import AtomicStorage, Meta

#: A segment with so many changes, or so many bytes, is sealed.
CHANGES, BYTES = 1_000, 4_000_000


def write_rest(db: Path, state: ShopState, unfiled: Unfiled, index_seq: int, *, index: bool) -> int:
    """Write the files at rest as of `state.seq` (under the lock); with `index`, the index even if no job closed.

    Returns the number the index has now. Raises OSError.
    """
    disk.reached("checkpoint begun")
    file_away(db, unfiled, state.seq)
    disk.reached("months filed")
    if index or unfiled.jobs or unfiled.stale:
        AtomicStorage(db / "index.json").write_signed({"closed": state.closed}, Meta(seq=state.seq))
        index_seq = state.seq
    disk.reached("index written")
    tables: dict[str, Mapping[int, object]] = {table.value: state.table(table) for table in Table}
    meta = Meta(seq=state.seq, next_ids=dict(state.next_ids), index_seq=index_seq)
    AtomicStorage(db / "open.json").write_signed(tables, meta)
    disk.reached("open written")
    return index_seq


def roll(journal: Path, seq: int) -> None:
    """Begin the segment of change `seq` + 1 and pack those before it (under the lock). Raises OSError."""
    new_segment(journal, seq + 1)
    disk.reached("segment begun")
    for segment in segments(journal)[:-1]:
        if not segment.packed:
            _pack(segment)


def _pack(segment: Segment) -> None:
    data = segment.path.read_bytes()
    packed = segment.path.with_name(segment.path.name + ".gz")
    # mtime=0: the same lines always give the same bytes
    disk.replace_file(packed, gzip.compress(data, 6, mtime=0))
    disk.reached("packed")
    if gzip.decompress(packed.read_bytes()) != data:
        raise damaged(packed, "is not what was packed into it")
    segment.path.unlink()
    disk.sync_folder(segment.path.parent)
    disk.reached("plain removed")
