"""Terminals in processes of their own that write to a primary with a standby, and tell each acknowledgement to the
test: what the servers then hold is compared with what was told outside of them."""

from __future__ import annotations

import contextlib
import multiprocessing
import signal
import threading
import time
from collections import Counter
from dataclasses import dataclass, field
from multiprocessing.connection import Connection
from multiprocessing.context import ForkProcess
from pathlib import Path

from aids.cutting import Relay
from aids.postgres import Server
from aids.store_steps import take_in
from shopboard.records import Refused
from shopboard.store import CommitFailed, StoreError, open_shop, place_of
from shopboard.store.postgres import settling

_FORK = multiprocessing.get_context("fork")


@dataclass
class Pair:
    """A primary and its standby, and the line on which the standby follows."""

    primary: Server
    standby: Server
    line: Relay

    @property
    def address(self) -> str:
        """Both, as a terminal names them."""
        hosts = f"127.0.0.1:{self.primary.port},127.0.0.1:{self.standby.port}"
        return f"postgresql://owner_login@{hosts}/shops?branch=main"

    def words(self, server: Server) -> Counter[str]:
        """How often the journal on a server took in each word."""
        query = "select convert_from(line, 'UTF8')::json #>> '{ops,0,3,name}' from shopboard.change"
        return Counter(str(word) for (word,) in server.execute(query, "shops"))

    def replication(self) -> str:
        """How the primary sees its standby: "sync", "async" or "" for none."""
        rows = self.primary.execute("select sync_state from pg_stat_replication where state = 'streaming'")
        return str(rows[0][0]) if rows else ""

    def lag(self) -> None:
        """From now on the standby hears nothing of what the primary sends."""
        self.line.rule = lambda way, _: "swallow" if way == "answer" else "pass"

    def promote(self) -> None:
        """The standby becomes the primary."""
        self.standby.run("pg_ctl", "promote", "-D", str(self.standby.data), "-w", "-t", "60")

    def stop(self) -> None:
        """End both."""
        self.line.close()
        self.primary.stop()
        self.standby.stop()


def make_pair(place: Path, *, synchronous: bool) -> Pair:
    """Two servers in `place`, the second following the first; `synchronous`: no acknowledgement without it."""
    primary = Server(place, "primary").make(wal_level="replica", max_wal_senders="4", hot_standby="on").start()
    primary.execute("create database shops")
    standby = Server(place, "standby")
    line = Relay(primary.port)
    copied = f"host=127.0.0.1 port={line.port} user=owner_login application_name=standby"
    primary.run("pg_basebackup", "-D", str(standby.data), "-d", copied, "-R", "-X", "stream", "-c", "fast", "--no-sync")
    standby.start()
    if synchronous:
        primary.execute("alter system set synchronous_standby_names = 'standby'")
        primary.execute("select pg_reload_conf()")
    pair = Pair(primary, standby, line)
    wanted = "sync" if synchronous else "async"
    until = time.monotonic() + 30
    while pair.replication() != wanted:
        assert time.monotonic() < until, primary.log() + standby.log()
        time.sleep(0.05)
    return pair


@dataclass
class Terminal:
    """One terminal: what it was told is saved, what was not, and how often it had to ask again."""

    process: ForkProcess
    pipe: Connection
    acks: list[str] = field(default_factory=list)
    asked_again: int = 0
    done: bool = False

    def take(self) -> None:
        """Take in what it has told so far."""
        while not self.done and self.pipe.poll():
            try:
                kind, word = self.pipe.recv()
            except EOFError:
                self.done = True
                return
            if kind == "saved":
                self.acks.append(word)
            elif kind == "asked again":
                self.asked_again += 1
            elif kind == "done":
                self.done = True


def start_terminals(address: str, number: int, until: threading.Event | int) -> list[Terminal]:
    """So many terminals, each writing until it has `until` acknowledgements."""
    terminals = []
    for n in range(number):
        here, there = _FORK.Pipe()
        process = _FORK.Process(target=_write, args=(address, f"t{n}", until, there), daemon=True)
        process.start()
        there.close()
        terminals.append(Terminal(process, here))
    return terminals


def _write(address: str, name: str, wanted: int, pipe: Connection) -> None:
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    ask_again = settling.Append.ask_again

    def counted(self: settling.Append, connect):  # type: ignore[no-untyped-def]
        pipe.send(("asked again", name))
        return ask_again(self, connect)

    settling.Append.ask_again = counted  # type: ignore[method-assign]
    store = open_shop(place_of(address))
    saved = number = 0
    give_up = time.monotonic() + 240
    while saved < wanted and time.monotonic() < give_up:
        number += 1
        word = f"{name}-{number}"
        if _save(store, word, give_up):
            pipe.send(("saved", word))
            saved += 1
    pipe.send(("done", name))
    store.close()


def _save(store, word: str, give_up: float) -> bool:  # type: ignore[no-untyped-def]
    """Save one word as a person would who reads what the board says; whether it is saved."""
    while time.monotonic() < give_up:
        try:
            store.commit("ana", take_in(word))
            return True
        except Refused:  # "was saved after all": the board asks to look first
            return True
        except CommitFailed as failed:
            if "nobody knows yet" in failed.why and (known := _settled(store, give_up)) is not None:
                if known:
                    return True
                continue
            time.sleep(0.05)
    return False


def _settled(store, give_up: float) -> bool | None:  # type: ignore[no-untyped-def]
    """What the board says became of the last change: saved after all, or not."""
    while time.monotonic() < give_up:
        with contextlib.suppress(StoreError):
            store.refresh()
        for notice in store.notices():
            if "was saved after all" in notice:
                store._after_all = None  # the person has read it
                return True
            if "was not saved" in notice:
                return False
        time.sleep(0.05)
    return None
