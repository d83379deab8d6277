"""Connections to the database: bounded in time, and what goes wrong said in words that hold no secret."""

from __future__ import annotations

import os
import re
import selectors
import time
from collections.abc import Callable, Generator
from typing import Any, TypeVar

import psycopg
from psycopg.conninfo import conninfo_to_dict, make_conninfo
from psycopg.waiting import Ready, Wait

from shopboard.store.address import Address
from shopboard.store.protocol import ShopUnusable

T = TypeVar("T")

#: No answer within so many seconds counts as no server.
PATIENCE = 8.0
#: So long one waits for another writer of the same branch, in seconds.
LOCK_WAIT = 5.0

_DEFAULTS = {
    "connect_timeout": "4",
    "keepalives_idle": "5",
    "keepalives_interval": "2",
    "keepalives_count": "3",
    "tcp_user_timeout": "6000",
    "client_encoding": "utf8",
    "target_session_attrs": "read-write",
}


class Link(psycopg.Connection[Any]):
    """A connection that gives up where the server has not answered within `patience` seconds: a frozen machine keeps
    its sockets open for ever."""

    patience: float = PATIENCE

    def wait(self, gen: Generator[Wait | int, Ready, T], interval: float = 0.1) -> T:  # type: ignore[override]
        """Drive one exchange with the server. Raises OperationalError when the patience is over."""
        until = time.monotonic() + self.patience
        try:
            state = next(gen)
            with selectors.DefaultSelector() as selector:
                while True:
                    selector.register(self.pgconn.socket, int(state))
                    ready = selector.select(timeout=min(interval, 0.1) if interval else 0.1)
                    selector.unregister(self.pgconn.socket)
                    if ready:
                        state = gen.send(Ready(ready[0][1]))
                    elif time.monotonic() > until:
                        raise psycopg.OperationalError("the server does not answer")
                    else:
                        state = gen.send(Ready.NONE)
        except StopIteration as done:
            found: T = done.value
            return found
        except (psycopg.OperationalError, KeyboardInterrupt):
            self.pgconn.finish()  # an answer that comes later would be taken for the next one's
            raise


def settings_of(address: Address) -> str:
    """What libpq is given for an address: its own settings, and ours where it has none."""
    try:
        given = conninfo_to_dict(address.server)
    except psycopg.ProgrammingError as error:
        raise ShopUnusable(f"the address cannot be understood: {_clean(str(error))}", "see what libpq knows") from None
    if "service" in given or "PGSERVICE" in os.environ:
        return make_conninfo(address.server)  # what the service file says must not be overruled
    ours = {"application_name": f"shopboard {address.branch}".strip(), **_DEFAULTS}
    return make_conninfo(address.server, **{k: v for k, v in ours.items() if k not in given and not _named(k)})


def _named(setting: str) -> bool:
    """Whether the environment already says it, as libpq reads it."""
    variable = {"application_name": "PGAPPNAME", "client_encoding": "PGCLIENTENCODING"}
    return variable.get(setting, "PG" + setting.upper().replace("_", "")) in os.environ


def connect(address: Address) -> Link:
    """A new connection, each statement its own transaction. Among several hosts the one that can be written is taken,
    unless the address says otherwise. Raises ShopUnusable for an address libpq cannot use, psycopg.Error where no
    server answers."""
    link = Link.connect(settings_of(address), autocommit=True, prepare_threshold=2)
    link.execute(f"set lock_timeout = '{LOCK_WAIT:g}s'")
    return link


def opened(address: Address) -> Link:
    """As `connect`, where no server is an error to tell. Raises ShopUnusable."""
    try:
        return connect(address)
    except psycopg.Error as error:
        raise ShopUnusable(f"{address} cannot be opened: {said(error)}", mend(error)) from None


def asked(address: Address, work: Callable[[Link], T]) -> T:
    """What `work` finds on a connection of its own. Raises ShopUnusable in one line for whatever goes wrong."""
    with opened(address) as link:
        try:
            return work(link)
        except psycopg.Error as error:
            raise ShopUnusable(f"{address}: {said(error)}", mend(error)) from None


def lost(error: psycopg.Error, link: Link | None) -> bool:
    """Whether the error means that the connection is gone, or the server is stopping, and not that it said no."""
    return link is None or link.closed or link.broken or (error.sqlstate or "").startswith(("57P", "08", "25006"))


def said(error: psycopg.Error) -> str:
    """What went wrong, in one line without secrets."""
    if isinstance(error, psycopg.errors.InsufficientPrivilege):
        return f"this login may not do that ({_clean(error.diag.message_primary or str(error))})"
    if isinstance(error, psycopg.errors.LockNotAvailable):
        return f"another terminal has been writing for {LOCK_WAIT:g} seconds"
    return _clean(error.diag.message_primary or str(error))


def mend(error: psycopg.Error) -> str:
    """What would do."""
    text = str(error)
    if isinstance(error, psycopg.errors.InsufficientPrivilege):
        return "ask the owner for the rights (`shopboard admit`)"
    if "password" in text or "authentication" in text:
        return "put the password into the password file (~/.pgpass), or ask who runs the server"
    if "certificate" in text or "SSL" in text:
        return "ask who runs the server which certificate is right"
    if "does not exist" in text:
        return "see whether database and login are spelled right"
    return "see that the server runs and that its address is right"


def _clean(text: str) -> str:
    """One line; a password that a driver repeats would be cut out, though no address holds one."""
    text = re.sub(r"(?i)(password\s*=\s*)('[^']*'|\S+)", r"\1…", text)
    text = re.sub(r"//([^:/@\s]*):[^@\s]*@", r"//\1:…@", text)
    # The first line says what happened; those after it guess why
    lines = [line.strip() for line in text.splitlines() if line.strip()]
    return lines[0].removeprefix("consuming input failed: ") if lines else "the server gave no reason"
