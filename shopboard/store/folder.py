"""A shop kept in a folder: the journal is the commit, TinyDB files are the database at rest."""

from __future__ import annotations

import contextlib
import re
import threading
from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

from shopboard.records import Change, ClosedJob, FieldError, Job, PartLine, ShopState, Step, Table

from . import checkpoint, closed, disk, presence, recovery
from .closed import summaries
from .closed_later import ClosedLater
from .disk_faults import mend, said
from .follower import Follower
from .journal import FolderHistory, SegmentGone, damaged, history
from .making import concerns, make_change
from .protocol import Action, CommitFailed, ShopUnusable, StoreError
from .replay import Unfiled, apply, month_of
from .shop_files import read_catalogue, read_models, read_settings

if TYPE_CHECKING:  # looked for only when somebody erases
    from .erasing import Erased

#: A rule's step, and which change it undoes, if any.
_Made = tuple[Step, int | None]


def utc_now() -> datetime:
    """This moment, in UTC."""
    return datetime.now(UTC)


def open_shop(folder: Path, *, clock: Callable[[], datetime] = utc_now, closed_later: bool = False) -> FolderStore:
    """Open the shop in `folder`; what a crash left half done is mended and told in `notices`. With `closed_later` the
    summaries of closed jobs are read when somebody first asks for `state.closed`.

    A folder that cannot be written opens read-only. Raises ShopUnusable, in one line, where there is no shop, or its
    files are broken, damaged or from a newer program.
    """
    folder = Path(folder)
    try:
        settings = read_settings(folder)
        catalogue = read_catalogue(folder, settings)
        state = ShopState(settings=settings, models=read_models(folder), catalogue=catalogue)
        return FolderStore(folder, state, clock, closed_later)
    except OSError as error:
        raise ShopUnusable(f"{folder} cannot be opened: {said(error)}", "see who may read it") from None


class FolderStore:
    """A `Store` on a folder, shared by any number of processes. Safe to use from several threads."""

    def __init__(
        self, folder: Path, state: ShopState, clock: Callable[[], datetime], closed_later: bool = False
    ) -> None:
        self._folder, self._clock, self._state = folder, clock, state
        self._db, self._journal = folder / "db", folder / "journal"
        self._unfiled = Unfiled()
        self._others: list[Change] = []
        self._notices: list[str] = []
        self._read_only = ""
        self._index_stale = False
        self._rest_seq = self._index_seq = self._try_again_at = 0
        self._closed = False
        self._closed_later: ClosedLater | None = None
        self._guard = threading.RLock()
        presence.enter(folder)
        try:
            self._open(closed_later)
        except BaseException:  # however the opening ends, also by Ctrl+C, nobody is here then
            presence.leave(folder)
            raise

    # -- what it is -----------------------------------------------------------------------------------------------

    @property
    def state(self) -> ShopState:
        """See `Store.state`."""
        return self._state

    @property
    def read_only(self) -> str:
        """See `Store.read_only`."""
        return self._read_only

    @property
    def journal_folder(self) -> Path:
        """Where its journal stands, for who reads it line by line."""
        return self._journal

    def notices(self) -> tuple[str, ...]:
        """See `Store.notices`."""
        told, self._notices = tuple(self._notices), []
        return told

    # -- opening --------------------------------------------------------------------------------------------------

    def _open(self, closed_later: bool) -> None:
        self._state.load_closed, self._state.read_closed = self._load_closed, self._read_closed
        try:
            with disk.locked(self._folder / "lock"):
                recovery.prepare(self._folder)
                recovery.sweep(self._folder)
                self._load(closed_later=closed_later)
                self._cut_torn()
                self._tell_of_an_erasing()
                # A writer killed before its sync left lines that only memory holds: what is shown must stay
                disk.sync(self._follower.path)
        except disk.LockBusy:
            self._load(closed_later=closed_later)
        except OSError as error:
            self._read_only = f"{said(error)} ({self._folder})"
            if not (self._db / "open.json").exists():
                raise ShopUnusable(self._read_only, "a shop's database must be made there first") from None
            self._load(closed_later=closed_later)

    def _tell_of_an_erasing(self) -> None:
        if not (self._folder / recovery.ERASING).exists():
            return
        from . import erasing

        if (customer := erasing.unfinished(self._folder)) is not None:
            finish = f"`shopboard erase customer {customer}` finishes it"
            self._notices.append(f"the erasing of customer {customer} was cut short: {finish}")

    def _load(self, *, closed_later: bool = False) -> None:
        """Read everything again from the disk into the same state; the summaries of closed jobs perhaps `closed_later`,
        when they are asked for."""
        with recovery.nothing_is_garbage():
            loaded = recovery.load(self._folder, closed_later=closed_later)
            state, file = self._state, loaded.open
            for table in Table:
                setattr(state, table.value, getattr(file, table.value))
            state.closed, state.next_ids, state.seq = loaded.closed, dict(file.about.next_ids), file.about.seq
            self._unfiled.clear()
            self._apply(loaded.changes, loaded.follower.path)
            self._closed_later = loaded.closed if isinstance(loaded.closed, ClosedLater) else None
            if self._closed_later is not None:
                del state.closed
        self._follower: Follower = loaded.follower
        self._rest_seq, self._index_seq = file.about.seq, file.about.index_seq
        self._index_stale = self._index_stale or loaded.index_rebuilt
        self._notices += loaded.notices

    def _read_closed(self) -> None:
        """Let the state have the closed jobs that were left for later."""
        with self._guard:
            later, self._closed_later = self._closed_later, None
            if later is None:
                return
            closed: dict[int, ClosedJob] = {}
            try:
                with recovery.nothing_is_garbage():
                    closed, rebuilt = summaries(self._db, later.index_seq)
                later.act_on(closed, self._unfiled)
                if rebuilt:
                    self._index_stale = True
                    self._notices.append(recovery.INDEX_MADE_AGAIN)
            except (ShopUnusable, OSError) as error:  # a board that is open stays open, to be read
                self._read_only = error.why if isinstance(error, ShopUnusable) else said(error)
            self._state.closed = closed

    def _cut_torn(self) -> None:
        if self._follower.tail:
            self._notices.append(recovery.cut_torn(self._follower))

    def _apply(self, changes: list[Change], path: Path) -> None:
        try:
            apply(self._state, self._unfiled, changes)
        except FieldError as error:
            raise damaged(path, f"holds a record that cannot be read ({error})") from None

    # -- reading --------------------------------------------------------------------------------------------------

    def _load_closed(self, id: int) -> tuple[Job, tuple[PartLine, ...]] | None:
        if id in self._unfiled.jobs:
            return self._unfiled.jobs[id]
        summary = self._state.closed.get(id)
        return closed.load(self._db, id, month_of(summary)) if summary else None

    def refresh(self) -> tuple[Change, ...]:
        """See `Store.refresh`. Raises ShopUnusable when the journal can no longer be read."""
        with self._guard:
            try:
                self._others += self._catch_up()
            except OSError as error:
                raise ShopUnusable(f"{self._folder} cannot be read: {said(error)}", "see to the disk") from None
            found, self._others = tuple(self._others), []
            return found

    def follow(self) -> None:
        """See `Store.follow`: looking at the journal's file is quick enough already."""

    def _catch_up(self, *, sure: bool = False) -> list[Change]:
        before = self._state.seq
        try:
            found = self._follower.poll(sure=sure)
        except SegmentGone:
            self._load()
            return list(history(self._journal, before, self._state.seq))
        at_rest = [change for change in found if change.seq <= self._follower.crossed]
        self._apply(at_rest, self._follower.path)
        if self._follower.crossed:
            self._unfiled.clear()
            self._rest_seq = self._follower.crossed
        self._apply(found[len(at_rest) :], self._follower.path)
        return found

    def changes(self, subject: int | None = None, since: int = 0) -> Iterator[Change]:
        """See `Store.changes`. Raises ShopUnusable where a sealed segment is damaged."""
        upto = self._state.seq
        if subject is None:
            yield from history(self._journal, since, upto)
            return
        mark = re.compile(rb'"subject":%d\b|\["(?:put|remove)","jobs",%d\b' % (subject, subject))
        for change in history(self._journal, since, upto, lambda line: mark.search(line) is not None):
            if concerns(change, subject):
                yield change

    def closed_jobs(self) -> Iterator[tuple[Job, tuple[PartLine, ...]]]:
        """See `Store.closed_jobs`. As of the first look; a commit meanwhile neither waits for it nor changes it."""
        with self._guard:
            summaries, unfiled = dict(self._state.closed), dict(self._unfiled.jobs)
        yield from closed.each_closed(self._db, summaries, unfiled)

    # -- writing --------------------------------------------------------------------------------------------------

    def commit(self, by: str, action: Action) -> Change:
        """See `Store.commit`."""
        return self._commit(by, lambda state, now: (action(state, now), None))

    def undo(self, by: str, seq: int | None = None) -> Change:
        """See `Store.undo`."""
        from . import undo

        return self._commit(by, lambda state, _: undo.step_back(FolderHistory(self._journal), state, by, seq))

    def undoable(self, by: str) -> Change | None:
        """See `Store.undoable`."""
        from . import undo

        while True:
            with contextlib.suppress(SegmentGone):
                return undo.find(FolderHistory(self._journal), self._state, by, None).change

    def erase_customer(self, by: str, customer: int) -> Erased:
        """Take every word of and about a customer out of the records, the history and what lies about in the folder;
        the figures stay. Cut short, it is done again from the start. Holds the lock until it is through.

        Raises Refused (not the owner, not known, a job open), CommitFailed where the disk refuses on the way.
        """
        from . import erasing

        with self._guard, self._writing():
            plan = erasing.plan(self._folder, self._state, by, customer)
            step = erasing.step(self._state, plan, self._db, self._unfiled.jobs)
            if step.puts:
                self._keep(by, lambda state, now: (step, None))
            self._put_at_rest(roll=True)
            erasing.again_in_months(self._db, plan)
            lines = erasing.rewrite_history(self._journal, plan)
            files = erasing.tidy(self._folder, plan)
            left = erasing.left_over(self._folder, plan)
            erasing.done(self._folder)
            return erasing.Erased(len(step.puts), lines, files, left, plan.unsure)

    def _commit(self, by: str, make: Callable[[ShopState, datetime], _Made]) -> Change:
        with self._guard:
            with self._writing():
                change = self._keep(by, make)
            disk.reached("unlocked")
            if self._full():
                self._try_checkpoint(roll=True)
            return change

    def _keep(self, by: str, make: Callable[[ShopState, datetime], _Made]) -> Change:
        """Make and append the change, under the lock."""
        now = self._clock().astimezone(UTC)
        step, undoes = make(self._state, now)
        change, line = make_change(self._state, by, now, step, undoes)
        self._append(line)
        self._apply([change], self._follower.path)
        self._follower.wrote(line, change)
        disk.reached("applied")
        return change

    @contextlib.contextmanager
    def _writing(self) -> Iterator[None]:
        """Hold the lock with the state fresh and the journal's end sound. Raises CommitFailed."""
        if self._read_only or self._closed:
            raise CommitFailed(
                f"nothing can be saved here: {self._read_only or 'the shop is closed'}", "open the shop again"
            )
        try:
            with disk.locked(self._folder / "lock"):
                disk.reached("locked")
                self._freshen()
                disk.reached("caught up")
                yield
        except disk.LockBusy as busy:
            holder = f" (process {busy.holder})" if busy.holder else ""
            raise CommitFailed(
                f"another terminal{holder} has been writing for {disk.LOCK_WAIT:g} seconds",
                "look there, then do it again",
            ) from None
        except ShopUnusable as error:
            raise CommitFailed(error.why, error.would_do) from None
        except OSError as error:
            raise self._failed(error) from None

    def _freshen(self) -> None:
        try:
            self._others += self._catch_up(sure=True)
            self._cut_torn()
        except ShopUnusable as error:
            self._read_only = error.why
            raise

    def _append(self, line: bytes) -> None:
        disk.reached("before append")
        disk.append(self._follower.path, line, self._follower.end)
        disk.reached("synced")

    def _failed(self, error: OSError) -> CommitFailed:
        why = said(error)
        if isinstance(error, disk.SyncFailed):
            # After a failed sync nobody knows what the disk holds: asking again would only look like success
            self._read_only = f"{why}, so what is written may not stay"
            why = f"{self._read_only}; nothing more is saved until the shop is opened again"
            return CommitFailed(why, "open it again and see what is there")
        return CommitFailed(f"not saved: {why}", mend(error))

    # -- putting to rest ------------------------------------------------------------------------------------------

    def _full(self) -> bool:
        first = self._follower.segment
        full = self._follower.end >= checkpoint.BYTES or self._state.seq - first + 1 >= checkpoint.CHANGES
        return full and self._state.seq >= self._try_again_at

    def _try_checkpoint(self, *, roll: bool) -> None:
        try:
            self._checkpoint(roll=roll)
        except StoreError as error:
            self._try_again_at = self._state.seq + checkpoint.CHANGES // 10
            # What was committed is safe in the journal; only the tidying waits
            self._notices.append(
                f"the database could not be put at rest ({error.why}); every change is safe in the journal"
            )

    def checkpoint(self) -> None:
        """See `Store.checkpoint`."""
        with self._guard:
            self._checkpoint(roll=True)

    def _checkpoint(self, *, roll: bool) -> None:
        with self._writing():
            self._put_at_rest(roll=roll)

    def _put_at_rest(self, *, roll: bool) -> None:
        state = self._state
        if self._closed_later is not None and self._closed_later.acted:
            self._read_closed()  # what the journal's end did is filed now
        if self._read_only:
            raise CommitFailed(f"nothing can be put at rest: {self._read_only}", "open the shop again")
        if state.seq > self._rest_seq or self._index_stale:
            self._index_seq = checkpoint.write_rest(
                self._db, state, self._unfiled, self._index_seq, index=self._index_stale
            )
            self._rest_seq, self._index_stale = state.seq, False
            self._unfiled.clear()
        if roll and self._follower.end:
            disk.sync(self._follower.path)
            checkpoint.roll(self._journal, state.seq)
            self._catch_up()

    def close(self) -> None:
        """See `Store.close`."""
        with self._guard:
            if not self._closed and not self._read_only and self._state.seq > self._rest_seq:
                self._try_checkpoint(roll=self._full())
            if not self._closed:
                presence.leave(self._folder)
            self._closed = True
