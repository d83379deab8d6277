"""A `Store` on a branch in a PostgreSQL database: the journal there is the commit.

A rule runs on the state as it is known here; the server keeps its change only if nothing came after that, one writer
of a branch at a time. Where something came first it is taken in and the rule runs again, so a lost update cannot
happen, and no terminal holds a lock while it thinks. After some tries in vain the rule runs under the lock.
"""

from __future__ import annotations

import contextlib
from collections.abc import Callable, Iterator
from datetime import datetime
from uuid import uuid4

import psycopg

from shopboard.records import Change, Refused, ShopState, Step
from shopboard.store import undo
from shopboard.store.making import make_change
from shopboard.store.protocol import Action, CommitFailed, ShopUnusable, StoreError

from . import rest
from .connection import Link, connect, lost, said
from .reading import BranchReader
from .settling import Append, notify, reached
from .watch import Away

_Made = tuple[Step, int | None]

#: After so many changes the state is put at rest again; on closing, after so many.
CHANGES, ON_CLOSING = 1_000, 100
#: So often a rule runs without the lock before it runs under it.
FREE_TRIES = 3


class PostgresStore(BranchReader):
    """A `Store` on a branch, shared by any number of terminals. Safe to use from several threads."""

    # -- writing --------------------------------------------------------------------------------------------------

    def commit(self, by: str, action: Action) -> Change:
        """See `Store.commit`."""
        return self._commit(by, lambda state, now: (action(state, now), None))

    def undo(self, by: str, seq: int | None = None) -> Change:
        """See `Store.undo`."""
        return self._commit(by, lambda state, _: undo.step_back(self, state, by, seq))

    def undoable(self, by: str) -> Change | None:
        """See `Store.undoable`."""
        with self._guard:
            try:
                return undo.find(self, self._state, by, None).change
            except psycopg.Error as error:
                raise self._unreadable(error) from None

    def _commit(self, by: str, make: Callable[[ShopState, datetime], _Made]) -> Change:
        with self._guard:
            self._may_write(by)
            try:
                change = self._until_kept(by, make)
            except psycopg.Error as error:
                raise self._not_saved(error) from None
            except ShopUnusable as error:
                raise CommitFailed(error.why, error.would_do) from None
            if change.seq - self._rest_seq >= CHANGES and change.seq >= self._try_again_at:
                self._try_checkpoint(CHANGES)
            return change

    def _may_write(self, by: str) -> None:
        if self._closed:
            raise CommitFailed("nothing can be saved here: the shop is closed", "open the shop again")
        if self._branch.may == "wall":
            raise CommitFailed("nothing can be saved here: this login may only look", "work at another terminal")
        if self._away is not None and self._watch is not None:
            raise CommitFailed(f"not saved: {self.read_only}", "leave it as it is typed and do it again then")
        if self._after_all is not None and self._after_all.by == by:
            done, self._after_all = self._after_all, None
            raise Refused(done.said, "look before you save again; the same key once more saves this one too")

    def _not_saved(self, error: psycopg.Error) -> CommitFailed:
        try:
            self._gone(error)
        except ShopUnusable as no:
            return CommitFailed(f"not saved: {said(error)}", no.would_do)
        return CommitFailed(f"not saved: {self.read_only}", "leave it as it is typed and do it again then")

    def _until_kept(self, by: str, make: Callable[[ShopState, datetime], _Made]) -> Change:
        for attempt in range(FREE_TRIES + 1):
            if (change := self._attempt(by, make, sure=attempt == FREE_TRIES)) is not None:
                return change
        raise CommitFailed("another terminal came first", "do it again")

    def _attempt(self, by: str, make: Callable[[ShopState, datetime], _Made], *, sure: bool) -> Change | None:
        """One try; None where something came first, which is known here then. With `sure` under the lock."""
        link = self._connected()
        append: Append | None = None
        try:
            with self._holding(link) if sure else contextlib.nullcontext():
                try:
                    append = self._append(by, make)
                except (psycopg.Error, StoreError):
                    raise
                except Exception:
                    # It refuses, or trips, over what may have changed without being heard of here
                    if sure or not self._catch_up():
                        raise
                    return None
                outcome = append.send(link)
        except psycopg.Error as error:
            if append is None or not lost(error, link):
                raise
            outcome = self._asked_again(append)
        return self._came_of(append, outcome)

    @contextlib.contextmanager
    def _holding(self, link: Link) -> Iterator[None]:
        with link.transaction():
            link.execute("set local idle_in_transaction_session_timeout = '10s'")
            link.execute("select shopboard.hold(%s)", (self._branch.id,))
            self._catch_up()
            yield

    def _append(self, by: str, make: Callable[[ShopState, datetime], _Made]) -> Append:
        now = self._now()
        step, undoes = make(self._state, now)
        change, line = make_change(self._state, by, now, step, undoes)
        return Append(self._branch.id, self._state.seq, self._id, uuid4(), change, line)

    def _asked_again(self, append: Append) -> str:
        self._drop_link()
        try:
            outcome, self._link = append.ask_again(self._connect_anew)
        except psycopg.Error as error:
            self._unsettled = append
            self._away = self._away or Away(self._now(), said(error))
            if self._watch:
                self._watch.look_now()
            raise CommitFailed(
                f"the server went away while saving “{append.about}”, and nobody knows yet whether it was saved",
                "leave it as it is typed: as soon as the server is back the board asks, and says which it was",
            ) from None
        return outcome

    def _connect_anew(self) -> Link:
        link = connect(self._address)
        self._use(link)
        return link

    def _came_of(self, append: Append, outcome: str) -> Change | None:
        if outcome in ("kept", "there"):
            self._apply(append.change, append.id)
            reached("applied")
            if self._link is not None:
                notify(self._link, self._branch, append.change.seq)
            return append.change
        if outcome == "behind":
            self._catch_up()
        else:
            self._load_other(self._connected())
        return None

    # -- putting to rest ------------------------------------------------------------------------------------------

    def checkpoint(self) -> None:
        """See `Store.checkpoint`."""
        with self._guard:
            if self._closed or self._branch.may == "wall":
                raise CommitFailed("nothing can be put at rest here", "open the shop again, as one who may write")
            try:
                self._catch_up()
                self._put_at_rest(1)
            except psycopg.Error as error:
                raise self._not_saved(error) from None

    def _put_at_rest(self, least: int) -> None:
        there = rest.write(self._connected(), self._branch.id, self._state, self._unfiled, least=least)
        if there == self._state.seq:
            self._unfiled.clear()
        self._rest_seq = there

    def _try_checkpoint(self, least: int) -> None:
        try:
            self._put_at_rest(least)
        except psycopg.Error as error:
            self._try_again_at = self._state.seq + CHANGES // 10
            # What was committed is safe in the journal; only the tidying waits
            self._notices.append(
                f"the database could not be put at rest ({said(error)}); every change is safe in the journal"
            )

    def close(self) -> None:
        """See `Store.close`."""
        with self._guard:
            if self._closed:
                return
            self._closed = True
            if self._watch is not None:
                self._watch.stop()
            writes = self._branch.may != "wall" and self._away is None and self._link is not None
            if writes and self._state.seq - self._rest_seq >= ON_CLOSING:
                self._try_checkpoint(ON_CLOSING)
            self._drop_link()
