"""What a terminal knows of a branch in the database: opening, following, being away, history."""

from __future__ import annotations

import contextlib
import gc
import threading
from collections import deque
from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from uuid import UUID
from zoneinfo import ZoneInfo

import psycopg

from shopboard.records import Change, FieldError, Job, PartLine, ShopState, Step, Table
from shopboard.store import undo
from shopboard.store.address import Address
from shopboard.store.protocol import ShopUnusable
from shopboard.store.replay import Unfiled, apply

from . import rest
from .branch import Branch, Row, all_rows, id_of, rows_after, rows_before
from .connection import Link, connect, lost, mend, opened, said
from .settling import Append, Settled, settle
from .watch import Away, Back, Broken, Watch

_Made = tuple[Step, int | None]

#: After so many changes the state is put at rest again; on closing, after so many.
CHANGES, ON_CLOSING = 1_000, 100
#: So often a rule runs without the lock before it runs under it.
FREE_TRIES = 3
#: So many of the last changes are known by id, to say which are gone if another server does not have them.
_KNOWN = 500
#: Held, shared, by every board that may write; a move wants it alone.
USING = 4715


class BranchReader:
    """The reading half of a `Store` on a branch."""

    def __init__(
        self,
        address: Address,
        link: Link,
        branch: Branch,
        state: ShopState,
        clock: Callable[[], datetime],
        *,
        using: bool = True,
    ) -> None:
        self._address, self._branch, self._state, self._clock = address, branch, state, clock
        self._using = using and branch.may != "wall"
        self._link: Link | None = link
        self._id: UUID | None = None
        self._known: deque[tuple[int, UUID, str]] = deque(maxlen=_KNOWN)
        self._unfiled = Unfiled()
        self._others: list[Change] = []
        self._notices: list[str] = []
        self._rest_seq = self._try_again_at = 0
        self._away: Away | None = None
        self._unsettled: Append | None = None
        self._after_all: Settled | None = None
        self._watch: Watch | None = None
        self._broken = ""
        self._closed = False
        self._guard = threading.RLock()
        state.load_closed = self._load_closed
        self._use(link)
        self._load(link)

    # -- what it is -----------------------------------------------------------------------------------------------

    @property
    def state(self) -> ShopState:
        """See `Store.state`."""
        return self._state

    @property
    def read_only(self) -> str:
        """See `Store.read_only`."""
        if self._branch.may == "wall":
            return "this login may only look"
        if self._away is not None:
            at = self._away.since.astimezone(ZoneInfo(self._state.settings.zone))
            return f"the server has been away since {at:%H:%M}; what you see is of then ({self._away.why})"
        return self._broken

    def notices(self) -> tuple[str, ...]:
        """See `Store.notices`."""
        told, self._notices = tuple(self._notices), []
        return told

    # -- opening and reading --------------------------------------------------------------------------------------

    def _load(self, link: Link) -> None:
        """Read everything from the database into the same state."""
        was_on = gc.isenabled()
        gc.disable()  # nothing read here is garbage, and looking for some takes longer than reading
        try:
            with link.transaction():
                link.execute("set transaction isolation level repeatable read, read only")
                found = rest.read(link, self._branch.id)
                state, file = self._state, found.open
                for table in Table:
                    setattr(state, table.value, getattr(file, table.value))
                state.closed, state.next_ids, state.seq = found.closed, dict(file.about.next_ids), file.about.seq
                self._rest_seq = file.about.seq
                self._id = id_of(link, self._branch.id, state.seq) if state.seq else None
                self._unfiled.clear()
                self._known.clear()
                self._take(all_rows(link, self._branch.id, state.seq))
            gc.freeze()
        finally:
            if was_on:
                gc.enable()

    def _take(self, rows: Iterator[Row] | list[Row]) -> list[Change]:
        """Let rows act that come next; those known already are passed over."""
        found = []
        for row in rows:
            if row.seq <= self._state.seq:
                continue
            change = row.change()
            self._apply(change, row.id)
            found.append(change)
        return found

    def _apply(self, change: Change, id: UUID) -> None:
        try:
            apply(self._state, self._unfiled, [change])
        except FieldError as error:
            raise ShopUnusable(
                f"change {change.seq} holds a record that cannot be read ({error})", "see `shopboard verify`"
            ) from None
        self._id = id
        self._known.append((change.seq, id, change.why))

    def _catch_up(self) -> list[Change]:
        link, found = self._connected(), []
        while rows := rows_after(link, self._branch.id, self._state.seq):
            found += self._take(rows)
        self._others += found
        return found

    def refresh(self) -> tuple[Change, ...]:
        """See `Store.refresh`. While the server is away it returns nothing, and `read_only` says since when.

        Raises ShopUnusable when the journal can no longer be read.
        """
        with self._guard:
            if not self._closed:
                try:
                    self._drain(self._watch) if self._watch else self._catch_up()
                except psycopg.Error as error:
                    self._gone(error)
            found, self._others = tuple(self._others), []
            return found

    def follow(self) -> None:
        """See `Store.follow`."""
        with self._guard:
            if self._watch is None and not self._closed:
                self._watch = Watch(self._address, self._branch, self._state.seq, self._id, self._now)

    def _drain(self, watch: Watch) -> None:
        while not watch.inbox.empty():
            found = watch.inbox.get()
            if isinstance(found, Away):
                self._away = self._away or found
            elif isinstance(found, Broken):
                raise found.why
            elif isinstance(found, Back):
                self._back(found)
            elif found[0].seq > self._state.seq + 1:
                self._catch_up()  # what lies between was taken in by neither
            else:
                self._others += self._take(found)

    def _back(self, found: Back) -> None:
        self._drop_link()
        self._away = None
        link = self._connected()
        if found.other:
            self._load_other(link)

    # -- being away -----------------------------------------------------------------------------------------------

    def _now(self) -> datetime:
        return self._clock().astimezone(UTC)

    def _connected(self) -> Link:
        """The connection, made anew where it was lost, with what was left open settled. Raises psycopg.Error."""
        if self._link is not None and not self._link.closed and not self._link.broken:
            return self._link
        self._drop_link()
        link = connect(self._address)
        try:
            self._use(link)
            self._settle(link)
            if self._state.seq and id_of(link, self._branch.id, self._state.seq) != self._id:
                self._load_other(link)
        except BaseException:  # however this ends, a half-settled connection must not stay
            link.close()
            raise
        self._link, self._away = link, None
        return link

    def _use(self, link: Link) -> None:
        """Let a move know that somebody works here. Raises ShopUnusable while one is under way."""
        if self._using:
            free = link.execute("select pg_try_advisory_lock_shared(%s, %s)", (USING, self._branch.id)).fetchone()
            if not free or not free[0]:
                raise ShopUnusable(f"branch {self._branch.name} is being moved", "wait until that is over")

    def _drop_link(self) -> None:
        if self._link is not None:
            with contextlib.suppress(psycopg.Error):
                self._link.close()
        self._link = None

    def _gone(self, error: psycopg.Error) -> None:
        """Note that the server is away, unless it only said no."""
        if not lost(error, self._link):
            raise ShopUnusable(f"the database says no: {said(error)}", mend(error)) from None
        self._drop_link()
        self._away = self._away or Away(self._now(), said(error))
        if self._watch:
            self._watch.look_now()

    def _load_other(self, link: Link) -> None:
        """The server that answers has another journal than the one known here: read it, and say what is gone."""
        gone = [(seq, why) for seq, id, why in self._known if id_of(link, self._branch.id, seq) != id]
        self._load(link)
        self._others.clear()
        some = "; ".join(f"{seq} {why}" for seq, why in gone[-5:])
        self._notices.append(
            "the server that answers now does not have all that was shown here: "
            + (f"{len(gone)} changes are gone ({some}); see what must be entered again" if gone else "look again")
        )

    def _settle(self, link: Link) -> None:
        """Ask after a change of which nobody knew whether it was kept."""
        if self._unsettled is None:
            return
        done = settle(link, self._unsettled)
        self._unsettled = None
        self._after_all = done if done.seq else None
        self._notices.append(done.said)

    # -- history --------------------------------------------------------------------------------------------------

    def _load_closed(self, id: int) -> tuple[Job, tuple[PartLine, ...]] | None:
        with self._guard:
            if id in self._unfiled.jobs:
                return self._unfiled.jobs[id]
            if id not in self._state.closed:
                return None
            try:
                return rest.whole(self._reading(), self._branch.id, id)
            except psycopg.Error as error:
                raise self._unreadable(error) from None

    def _reading(self) -> Link:
        """The connection, for something that is asked for now. Raises ShopUnusable while the server is away."""
        if self._away is not None and self._watch is not None:
            raise ShopUnusable(self.read_only, "it is tried again and again by itself")
        return self._connected()

    def _unreadable(self, error: psycopg.Error) -> ShopUnusable:
        try:
            self._gone(error)
        except ShopUnusable as no:
            return no
        return ShopUnusable(self.read_only, "it is tried again and again by itself")

    def changes(self, subject: int | None = None, since: int = 0) -> Iterator[Change]:
        """See `Store.changes`. Raises ShopUnusable where the server is away."""
        upto = self._state.seq
        while since < upto:
            with self._guard:
                try:
                    rows = self._rows(subject, since)
                except psycopg.Error as error:
                    raise self._unreadable(error) from None
            if not rows:
                return
            yield from (row.change() for row in rows if row.seq <= upto)
            since = rows[-1].seq

    def _rows(self, subject: int | None, since: int) -> list[Row]:
        if subject is None:
            return rows_after(self._reading(), self._branch.id, since)
        found = self._reading().execute(
            "select c.seq, c.id, c.line from shopboard.change c where c.branch = %(b)s and c.seq in (select t.seq"
            " from shopboard.touched t where t.branch = %(b)s and t.kind in ('jobs', 'about') and t.record = %(job)s"
            " and t.seq > %(since)s) order by c.seq limit 500",
            {"b": self._branch.id, "job": subject, "since": since},
            binary=True,
        )
        return [Row(*row) for row in found.fetchall()]

    def closed_jobs(self) -> Iterator[tuple[Job, tuple[PartLine, ...]]]:
        """See `Store.closed_jobs`. Reads on a connection of its own, so that no commit waits for it."""
        with self._guard:
            closed, unfiled = set(self._state.closed), dict(self._unfiled.jobs)
        with opened(self._address) as link:
            try:
                for whole in rest.each_whole(link, self._branch.id):
                    if whole[0].id in closed and whole[0].id not in unfiled:
                        yield whole
            except psycopg.Error as error:
                raise ShopUnusable(f"closed jobs cannot be read: {said(error)}", mend(error)) from None
        yield from (whole for id, whole in sorted(unfiled.items()) if id in closed)

    def backwards(self, upto: int) -> Iterator[Change]:
        """See `undo.History`."""
        return self._earlier(upto, None)

    def touching(self, keys: set[undo.Key], upto: int) -> Iterator[Change]:
        """See `undo.History`."""
        return self._earlier(upto, [(table.value, id) for table, id in keys])

    def oldest(self) -> int:
        """See `undo.History`: a database holds the whole history."""
        return 1

    def _earlier(self, upto: int, keys: list[tuple[str, int]] | None) -> Iterator[Change]:
        while upto > 0 and (rows := rows_before(self._reading(), self._branch.id, upto, keys)):
            yield from (row.change() for row in rows)
            upto = rows[-1].seq - 1
