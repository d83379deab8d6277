"""The one server that a run of the tests shares, with a database for shops; started when first asked for."""

from __future__ import annotations

import atexit
import contextlib
import functools
import os
import tempfile

from aids.postgres import Server, server
from shopboard.store import Address
from shopboard.store.postgres import texts
from shopboard.store.postgres.connection import Link, asked


@functools.cache
def keep_out_of_home() -> None:
    """Let what terminals keep on their machine not lie in somebody's home, for the rest of this run."""
    place = tempfile.TemporaryDirectory(ignore_cleanup_errors=True)
    atexit.register(place.cleanup)
    os.environ["XDG_STATE_HOME"] = place.name


@functools.cache
def shared_server() -> Server:
    """The server, with an empty database `shops`. Ended with the run."""
    stack = contextlib.ExitStack()
    atexit.register(stack.close)
    keep_out_of_home()
    one = stack.enter_context(server())
    one.execute("create database shops")
    return one


def put_text(address: Address, name: str, body: str) -> None:
    """Let one of a shop's own files hold this."""

    def work(link: Link) -> None:
        texts.put(link, texts.ready(link, address).id, name, body)

    asked(address, work)
