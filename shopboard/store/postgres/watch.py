"""A thread that takes in what others commit, and notices when the server is away and when it is back.

What it finds waits in `inbox` until the board asks for it: the board's own thread never waits for the network here.
NOTIFY is only a hint that wakes it; it always reads what lies after the last change it has.
"""

from __future__ import annotations

import contextlib
import queue
import selectors
import socket
import threading
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

import psycopg

from shopboard.store.address import Address
from shopboard.store.protocol import ShopUnusable

from .branch import Branch, Row, id_of, rows_after
from .connection import Link, connect, said

#: Without a hint it looks after so many seconds.
LOOK = 1.0
#: Pauses between attempts to reach a server that is away, in seconds; the last one goes on.
PAUSES = (0.25, 0.5, 1.0, 2.0, 4.0, 8.0, 15.0, 30.0)


@dataclass(frozen=True)
class Away:
    """The server is away since a moment, and why."""

    since: datetime
    why: str


@dataclass(frozen=True)
class Back:
    """The server is back; `other` where its journal is not the one that was known here."""

    other: bool


@dataclass(frozen=True)
class Broken:
    """What the server says cannot be read."""

    why: ShopUnusable


Found = list[Row] | Away | Back | Broken


class Watch:
    """Watches one branch from change `seq` (of which `id` is the id) on."""

    def __init__(
        self, address: Address, branch: Branch, seq: int, id: UUID | None, clock: Callable[[], datetime]
    ) -> None:
        self._address, self._branch, self._clock = address, branch, clock
        self._seq, self._id = seq, id
        self.inbox: queue.SimpleQueue[Found] = queue.SimpleQueue()
        self._stop, self._anew = threading.Event(), threading.Event()
        self._wake_out, self._wake_in = socket.socketpair()  # a pipe cannot be waited for on every system
        self._thread = threading.Thread(target=self._run, name="shopboard watch", daemon=True)
        self._thread.start()

    def look_now(self) -> None:
        """Connect anew and say how that went: the board's own connection was lost."""
        self._anew.set()
        self._wake()

    def stop(self) -> None:
        """End the thread; it may take until an attempt to connect is over, which nobody waits for."""
        self._stop.set()
        self._wake()
        self._thread.join(timeout=0.5)

    def _wake(self) -> None:
        with contextlib.suppress(OSError):
            self._wake_in.send(b".")

    def _run(self) -> None:
        attempt = 0
        while not self._stop.is_set():
            try:
                with connect(self._address) as link:
                    self._begin(link, back=attempt > 0 or self._anew.is_set())
                    attempt = 0
                    self._anew.clear()
                    while not (self._stop.is_set() or self._anew.is_set()):
                        self._take(link)
                        self._wait(link)
            except ShopUnusable as error:
                self.inbox.put(Broken(error))
                attempt += 1
                self._pause(attempt)
            except (psycopg.Error, OSError) as error:
                if attempt == 0:
                    why = said(error) if isinstance(error, psycopg.Error) else str(error)
                    self.inbox.put(Away(self._clock(), why))
                attempt += 1
                self._pause(attempt)
        self._wake_out.close()
        self._wake_in.close()

    def _begin(self, link: Link, *, back: bool) -> None:
        with contextlib.suppress(psycopg.errors.ReadOnlySqlTransaction):  # a standby gives no hints
            link.execute(f"listen {self._branch.channel}")
        known = id_of(link, self._branch.id, self._seq) if self._seq else None
        other = known != self._id
        if back or other:
            self.inbox.put(Back(other))
        if other:
            found = rows_head(link, self._branch.id)
            self._seq, self._id = found

    def _take(self, link: Link) -> None:
        while rows := rows_after(link, self._branch.id, self._seq):
            self._seq, self._id = rows[-1].seq, rows[-1].id
            self.inbox.put(rows)

    def _wait(self, link: Link) -> None:
        with selectors.DefaultSelector() as selector:
            selector.register(link.pgconn.socket, selectors.EVENT_READ, "server")
            selector.register(self._wake_out, selectors.EVENT_READ, "wake")
            for key, _ in selector.select(LOOK):
                if key.data == "wake":
                    self._wake_out.recv(100)
                else:
                    link.pgconn.consume_input()
                    while link.pgconn.notifies():
                        pass

    def _pause(self, attempt: int) -> None:
        with selectors.DefaultSelector() as selector:
            selector.register(self._wake_out, selectors.EVENT_READ)
            if selector.select(PAUSES[min(attempt, len(PAUSES)) - 1]) and not self._stop.is_set():
                self._wake_out.recv(100)


def rows_head(link: Link, branch: int) -> tuple[int, UUID | None]:
    """The last change of the journal: its number (0 for none) and its id."""
    found = link.execute(
        "select seq, id from shopboard.change where branch = %s order by seq desc limit 1", (branch,), binary=True
    ).fetchone()
    return (found[0], found[1]) if found else (0, None)
