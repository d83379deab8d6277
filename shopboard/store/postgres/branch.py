"""One branch in the database: which it is, what this login may do there, and its journal's rows."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from uuid import UUID

from shopboard.records import Change, visible
from shopboard.store.address import Address
from shopboard.store.journal import BadLine, change_in, number_in
from shopboard.store.protocol import ShopUnusable

from .connection import Link

_BATCH = 1000


@dataclass(frozen=True)
class Branch:
    """A branch by number and name; `may` is what this login may do there: "owner", "staff" or "wall"; `arriving` where
    a move that is not over brings it from."""

    id: int
    name: str
    may: str
    arriving: str = ""

    @property
    def channel(self) -> str:
        """Where it is hinted that something was committed."""
        return f"shopboard_{self.id}"


@dataclass(frozen=True)
class Row:
    """One row of the journal."""

    seq: int
    id: UUID
    line: bytes

    def change(self) -> Change:
        """The change in it. Raises ShopUnusable where it is damaged or written by a newer program."""
        try:
            number = number_in(self.line.removesuffix(b"\n"))
            if number != self.seq:
                raise BadLine(f"holds change {number}")
            return change_in(self.line.removesuffix(b"\n"))
        except BadLine as bad:
            raise ShopUnusable(
                f"change {self.seq} of the journal in the database {bad}",
                "nothing was changed; `shopboard verify` says more; then restore the database from its backup",
            ) from None


def branches(link: Link) -> list[Branch]:
    """The branches this login may see, by name."""
    rows = link.execute(
        "select id, name, shopboard.may(id), coalesce(arriving, '') from shopboard.branch order by name"
    ).fetchall()
    return [Branch(*row) for row in rows]


def branch_of(link: Link, address: Address) -> Branch:
    """The branch an address names, or the only one there is. Raises ShopUnusable, naming those there are."""
    there = branches(link)
    found = [one for one in there if one.name == address.branch or (not address.branch and len(there) == 1)]
    if found:
        return found[0]
    names = ", ".join(one.name for one in there)
    if address.branch:
        raise ShopUnusable(
            f"there is no branch {address.branch} here that this login may see",
            f"there are {names}" if names else "`shopboard new ADDRESS` makes one, `shopboard admit` lets a login in",
        )
    if not names:
        raise ShopUnusable("there is no branch here that this login may see", "ask the owner (`shopboard admit`)")
    raise ShopUnusable("the address names no branch", f"add ?branch=… to it: there are {visible(names)}")


def rows_after(link: Link, branch: int, seq: int, limit: int = _BATCH) -> list[Row]:
    """The rows after change `seq`, consecutive, at most `limit`. Raises ShopUnusable where one is missing."""
    found = link.execute(
        "select seq, id, line from shopboard.change where branch = %s and seq > %s order by seq limit %s",
        (branch, seq, limit),
        binary=True,
    ).fetchall()
    rows = [Row(*row) for row in found]
    for number, row in enumerate(rows, seq + 1):
        if row.seq != number:
            raise ShopUnusable(
                f"change {number} is missing from the journal in the database", "restore the database from its backup"
            )
    return rows


def all_rows(link: Link, branch: int, seq: int = 0) -> Iterator[Row]:
    """Every row after change `seq`. Raises ShopUnusable as `rows_after`."""
    while rows := rows_after(link, branch, seq):
        yield from rows
        seq = rows[-1].seq


def rows_before(link: Link, branch: int, upto: int, keys: Sequence[tuple[str, int]] | None = None) -> list[Row]:
    """Rows up to change `upto`, the latest first, some hundreds at most; with `keys`, those that touch one of them."""
    if keys is None:
        return [
            Row(*row)
            for row in link.execute(
                "select seq, id, line from shopboard.change where branch = %s and seq <= %s"
                " order by seq desc limit 200",
                (branch, upto),
                binary=True,
            ).fetchall()
        ]
    return [
        Row(*row)
        for row in link.execute(
            "select c.seq, c.id, c.line from shopboard.change c where c.branch = %(branch)s and c.seq in ("
            " select distinct t.seq from shopboard.touched t"
            " join unnest(%(kinds)s::text[], %(records)s::bigint[]) as k (kind, record)"
            " on t.kind = k.kind and t.record = k.record"
            " where t.branch = %(branch)s and t.seq <= %(upto)s order by t.seq desc limit 200"
            ") order by c.seq desc",
            {
                "branch": branch,
                "upto": upto,
                "kinds": [kind for kind, _ in keys],
                "records": [record for _, record in keys],
            },
            binary=True,
        ).fetchall()
    ]


def id_of(link: Link, branch: int, seq: int) -> UUID | None:
    """The id under which the journal keeps change `seq`, None where it has no such change."""
    found = link.execute(
        "select id from shopboard.change where branch = %s and seq = %s", (branch, seq), binary=True
    ).fetchone()
    return found[0] if found else None


def touched_by(change: Change) -> tuple[list[str], list[int]]:
    """What is kept beside a change so that a job's story and undo find it: kinds and numbers, pairwise."""
    pairs = {(op.table.value, op.id) for op in change.ops}
    if change.subject is not None:
        pairs.add(("about", change.subject))
    ordered = sorted(pairs)
    return [kind for kind, _ in ordered], [id for _, id in ordered]
