"""A process that erases a customer or takes in a list, and dies by kill -9 at a step."""

from __future__ import annotations

from multiprocessing.connection import Connection
from pathlib import Path

from aids.crash_worker import _kill_at
from shopboard import cli
from shopboard.store import open_shop


def erase_to_step(folder: Path, customer: int, step: str, times: int, acks: Connection) -> None:
    """Erase the customer; die when `step` is reached for the `times`-th time."""
    store = open_shop(folder)
    _kill_at(step, times)
    store.erase_customer("cy", customer)
    acks.send((0, "done"))


def import_to_step(folder: Path, kind: str, file: Path, step: str, times: int, acks: Connection) -> None:
    """Take in the list; die when `step` is reached for the `times`-th time."""
    _kill_at(step, times)
    code = cli.run(
        ["import", kind, str(file), "--as", "cy", "--yes", "--json", "--dates", "dmy", "--shop", str(folder)]
    )
    acks.send((code, "done"))


def import_until_killed(folder: Path, kind: str, file: Path, acks: Connection) -> None:
    """Take in the list, after saying that it begins."""
    acks.send((0, "ready"))
    cli.run(["import", kind, str(file), "--as", "cy", "--yes", "--json", "--dates", "dmy", "--shop", str(folder)])
    acks.send((0, "done"))
