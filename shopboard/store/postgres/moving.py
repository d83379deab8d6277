"""A branch of a database as the source or the target of a move."""

from __future__ import annotations

import contextlib
import hashlib
from collections.abc import Iterator
from uuid import UUID

import psycopg

from shopboard.store.address import Address
from shopboard.store.journal import change_in
from shopboard.store.move import Numbered
from shopboard.store.protocol import ShopUnusable

from . import schema, texts
from .admin import make_branch, open_branch
from .branch import Branch, all_rows, branch_of, touched_by
from .connection import Link, mend, opened, said
from .reading import USING
from .store import PostgresStore
from .watch import rows_head


@contextlib.contextmanager
def branch_source(address: Address) -> Iterator[BranchSource]:
    """The shop at an address, held so that nobody commits. Raises ShopUnusable while a board has it open."""
    with _open(address) as link:
        branch = texts.ready(link, address)
        _alone(link, branch)
        yield BranchSource(address, link, branch)


@contextlib.contextmanager
def branch_target(address: Address, arriving: str) -> Iterator[BranchTarget]:
    """A branch that a shop arrives in. Raises ShopUnusable where there is a shop already."""
    if not address.branch:
        raise ShopUnusable("the address names no branch", "add ?branch=NAME to it: small letters, digits and -")
    with _open(address) as link:
        schema.bring_up(link)
        if not link.execute("select 1 from shopboard.branch where name = %s", (address.branch,)).fetchone():
            make_branch(link, address.branch, arriving)
        branch = branch_of(link, address)
        if branch.may != "owner":
            raise ShopUnusable("only the owner brings a shop into the database", "use the owner's login")
        if not branch.arriving:
            raise ShopUnusable(f"there is a branch {branch.name} already", "choose another name")
        _alone(link, branch)
        yield BranchTarget(address, link, branch)


@contextlib.contextmanager
def _open(address: Address) -> Iterator[Link]:
    with opened(address) as link:
        link.patience = 600.0  # an index over many rows takes its time
        try:
            yield link
        except psycopg.Error as error:
            raise ShopUnusable(f"{address}: {said(error)}", mend(error)) from None


def _alone(link: Link, branch: Branch) -> None:
    """Keep everybody else from committing until the connection ends. Raises ShopUnusable while a board is open."""
    alone = link.execute("select pg_try_advisory_lock(%s, %s)", (USING, branch.id)).fetchone()
    if not alone or not alone[0]:
        raise ShopUnusable(f"branch {branch.name} is in use", "close the boards on it, then move it")
    # The journal's own lock, for the whole connection: what has no board open cannot write either
    link.execute("select pg_advisory_lock(4713, %s)", (branch.id,))


class BranchSource:
    """Reads a branch that nobody else may write to."""

    def __init__(self, address: Address, link: Link, branch: Branch) -> None:
        self._address, self._link, self._branch = address, link, branch

    def last(self) -> int:
        """See `move.Source`."""
        return rows_head(self._link, self._branch.id)[0]

    def lines(self, after: int) -> Iterator[Numbered]:
        """See `move.Source`."""
        for row in all_rows(self._link, self._branch.id, after):
            row.change()  # proves checksum and number
            yield row.seq, row.line

    def texts(self) -> dict[str, str]:
        """See `move.Source`."""
        return texts.present(self._link, self._branch.id)

    def open(self) -> PostgresStore:
        """See `move.Source`."""
        return open_branch(self._address, using=False)


class BranchTarget(BranchSource):
    """Writes a branch by the owner's own rights."""

    def append(self, lines: list[Numbered]) -> None:
        """See `move.Target`."""
        with self._link.transaction(), self._link.cursor() as cursor:
            begun = self.last()
            if lines[0][0] != begun + 1:
                raise ShopUnusable(f"change {begun + 1} was to come", "try again")
            with cursor.copy(
                "copy shopboard.change (branch, seq, id, subject, line) from stdin (format binary)"
            ) as copy:
                copy.set_types(["int4", "int8", "uuid", "int4", "bytea"])
                changes = [(number, line, change_in(line[:-1])) for number, line in lines]
                for number, line, change in changes:
                    copy.write_row((self._branch.id, number, _id(line), change.subject, line))
            with cursor.copy("copy shopboard.touched (branch, kind, record, seq) from stdin (format binary)") as copy:
                copy.set_types(["int4", "text", "int8", "int8"])
                for number, _, change in changes:
                    for kind, record in zip(*touched_by(change), strict=True):
                        copy.write_row((self._branch.id, kind, record, number))

    def put_texts(self, files: dict[str, str]) -> None:
        """See `move.Target`."""
        there = texts.present(self._link, self._branch.id)
        with self._link.transaction():
            for name in there.keys() - files.keys():
                texts.put(self._link, self._branch.id, name, None)
            for name, body in files.items():
                if not texts.NAME.fullmatch(name):
                    raise ShopUnusable(f"{name} cannot be kept under that name", "letters, digits, point, _ and - only")
                if there.get(name) != body:
                    texts.put(self._link, self._branch.id, name, body)

    def open(self) -> PostgresStore:
        """See `move.Target`."""
        store = open_branch(self._address, using=False, arriving=True)
        store.checkpoint()
        return store

    def finish(self) -> None:
        """See `move.Target`."""
        self._link.execute("update shopboard.branch set arriving = null where id = %s", (self._branch.id,))


def _id(line: bytes) -> UUID:
    """An id for a change that had none of its own: of the line itself."""
    return UUID(bytes=hashlib.sha256(line).digest()[:16], version=5)
