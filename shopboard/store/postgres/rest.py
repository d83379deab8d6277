"""The state at rest in the database: what is open, summaries of closed jobs by month, and every closed job whole.

It is made from the journal and can be made again; a new terminal opens from it as fast as from a folder.
"""

from __future__ import annotations

import zlib
from collections.abc import Iterable, Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field

import msgspec

from shopboard.records import FORMAT, ClosedJob, FieldError, Job, PartLine, ShopState, Table, decode, encode, to_record
from shopboard.store.protocol import ShopUnusable
from shopboard.store.replay import Unfiled, Whole, month_of
from shopboard.store.tiny_files import IndexFile, Meta, OpenFile, signed_tables, tiny_from
from shopboard.store.upgrades import SUMMARIES_SINCE, upgraded

from .connection import Link

OPEN = "open"
#: Between two writers of the state at rest, beside the journal's own lock.
_LOCK = 4714
_MEND = "`shopboard verify` says more; the journal holds it all, and the owner may delete the rows of shopboard.rest"


@dataclass
class AtRest:
    """The state at rest: what is open, and the summaries of closed jobs."""

    open: OpenFile = field(default_factory=lambda: OpenFile(meta={1: Meta(seq=0)}))
    closed: dict[int, ClosedJob] = field(default_factory=dict)


def read(link: Link, branch: int) -> AtRest:
    """The state at rest; nothing at change 0 where there is none, or it is of a format whose summaries say less.

    Raises ShopUnusable where it is damaged or from the future.
    """
    rows = link.execute("select part, body from shopboard.rest where branch = %s", (branch,), binary=True).fetchall()
    packed = dict(rows)
    if OPEN not in packed:
        return AtRest()
    try:
        # Unpacking lets go of the interpreter: one part is unpacked while the one before is decoded
        with ThreadPoolExecutor(1) as unpacking:
            file, months = _decoded(zip(packed, unpacking.map(_body, packed.values()), strict=True))
    except FieldError as error:
        raise ShopUnusable(f"{error.what} in the database {error.why}", _MEND) from None
    if any(month.about.format < SUMMARIES_SINCE for month in months.values()):
        return AtRest()  # the journal says it all again
    closed = {id: job for part in sorted(months) for id, job in months[part].closed.items()}
    return AtRest(file, closed)


def _decoded(parts: Iterable[tuple[str, bytes]]) -> tuple[OpenFile, dict[str, IndexFile]]:
    file, months = OpenFile(meta={1: Meta(seq=0)}), {}
    for part, body in parts:
        if part == OPEN:
            file = tiny_from(body, OpenFile, "the state at rest")
        else:
            months[part] = tiny_from(body, IndexFile, f"the closed jobs of {part}")
    return file, months


def _body(packed: bytes) -> bytes:
    try:
        return zlib.decompress(packed)
    except zlib.error:
        raise ShopUnusable("the state at rest in the database is damaged", _MEND) from None


def _packed(body: bytes) -> bytes:
    return zlib.compress(body, 1)


def write(link: Link, branch: int, state: ShopState, unfiled: Unfiled, *, least: int = 1) -> int:
    """Put the state at rest as of `state.seq`, if that is `least` changes later than what is there (by whomever); the
    number that is there then.

    Other writers of the journal do not wait for this. Raises psycopg.Error.
    """
    with link.transaction():
        link.execute("select pg_advisory_xact_lock(%s, %s)", (_LOCK, branch))
        rows = link.execute("select part, seq from shopboard.rest where branch = %s", (branch,)).fetchall()
        there = dict(rows)
        if OPEN in there and there[OPEN] + least > state.seq:
            return int(there[OPEN])
        _file_away(link, branch, unfiled, state)
        months = unfiled.stale.keys() | {month_of(job) for job, _ in unfiled.jobs.values()}
        if there.keys() - {OPEN} != {month_of(job) for job in state.closed.values()}:
            months = {month_of(job) for job in state.closed.values()} | (there.keys() - {OPEN})
        for month in sorted(months):
            closed = {id: job for id, job in state.closed.items() if month_of(job) == month}
            _put(link, branch, month, state.seq, signed_tables({"closed": closed}, Meta(seq=state.seq)))
        tables = {table.value: state.table(table) for table in Table}
        meta = Meta(seq=state.seq, next_ids=dict(state.next_ids))
        _put(link, branch, OPEN, state.seq, signed_tables(tables, meta))
    return state.seq


def _put(link: Link, branch: int, part: str, seq: int, body: bytes) -> None:
    link.execute(
        "insert into shopboard.rest (branch, part, seq, body) values (%s, %s, %s, %b) "
        "on conflict (branch, part) do update set seq = excluded.seq, body = excluded.body",
        (branch, part, seq, _packed(body)),
    )


def _file_away(link: Link, branch: int, unfiled: Unfiled, state: ShopState) -> None:
    gone = [id for ids in unfiled.stale.values() for id in ids if id not in state.closed]
    if gone:
        link.execute("delete from shopboard.closed_job where branch = %s and job = any(%s)", (branch, gone))
    rows = [
        (branch, job.id, month_of(job), FORMAT, encode((job, lines)))
        for job, lines in unfiled.jobs.values()
        if job.id in state.closed
    ]
    if rows:
        with link.cursor() as cursor:
            cursor.executemany(
                "insert into shopboard.closed_job (branch, job, month, format, body) values (%s, %s, %s, %s, %b) "
                "on conflict (branch, job) do update set "
                "month = excluded.month, format = excluded.format, body = excluded.body",
                rows,
            )


def whole(link: Link, branch: int, id: int) -> Whole | None:
    """One closed job with its part lines, None where it is not there. Raises ShopUnusable where it is damaged."""
    found = link.execute(
        "select format, body from shopboard.closed_job where branch = %s and job = %s", (branch, id), binary=True
    ).fetchone()
    return _whole(id, *found) if found else None


def each_whole(link: Link, branch: int) -> Iterator[Whole]:
    """Every closed job that is at rest, a thousand at a time. Raises ShopUnusable where one is damaged."""
    after = -1
    while rows := link.execute(
        "select job, format, body from shopboard.closed_job where branch = %s and job > %s order by job limit 1000",
        (branch, after),
        binary=True,
    ).fetchall():
        for id, format, body in rows:
            yield _whole(id, format, body)
        after = rows[-1][0]


def _whole(id: int, format: int, body: bytes) -> Whole:
    try:
        if format == FORMAT:
            return decode(body, tuple[Job, tuple[PartLine, ...]], f"job {id}")
        job, lines = msgspec.json.decode(body)
        return (
            to_record(upgraded(Table.JOBS, job, format), Job, f"job {id}"),
            tuple(to_record(upgraded(Table.PARTS, line, format), PartLine, f"part of job {id}") for line in lines),
        )
    except (FieldError, msgspec.DecodeError, KeyError) as error:
        raise ShopUnusable(
            f"closed job {id} in the database cannot be read ({error})", "see `shopboard verify`"
        ) from None
