"""The files a shop edits, kept in the database with every version, and laid out on this machine to be read."""

from __future__ import annotations

import contextlib
import re
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from shopboard.store import disk
from shopboard.store.address import Address, local_folder
from shopboard.store.protocol import ShopUnusable

from . import schema
from .branch import Branch, branch_of
from .connection import Link, asked

#: What a file may be called: nothing that leads out of the shop's folder.
NAME = re.compile(r"(book/)?[A-Za-z0-9][A-Za-z0-9._-]{0,79}")


#: Who signs at this machine proves it to this machine: its file is never kept in the database.
PINS = "pins.toml"


@dataclass(frozen=True)
class Version:
    """One version of one file: its number, when and by which login; `body` None where it was taken away."""

    name: str
    version: int
    kept: datetime
    login: str
    body: str | None


def present(link: Link, branch: int) -> dict[str, str]:
    """The files as they are now, by name."""
    rows = link.execute(
        "select distinct on (name) name, body from shopboard.text where branch = %s order by name, version desc",
        (branch,),
    ).fetchall()
    return {name: body for name, body in rows if body is not None and NAME.fullmatch(name) and name != PINS}


def versions(link: Link, branch: int, name: str = "") -> list[Version]:
    """Every version of a file, or the newest of every file, in order."""
    if name:
        chosen = "select name, version, kept, login, body from shopboard.text where branch = %s and name = %s"
        rows = link.execute(f"{chosen} order by version", (branch, name)).fetchall()
    else:
        rows = link.execute(
            "select distinct on (name) name, version, kept, login, body from shopboard.text"
            " where branch = %s order by name, version desc",
            (branch,),
        ).fetchall()
    return [Version(*row) for row in rows]


def put(link: Link, branch: int, name: str, body: str | None) -> int:
    """Keep a new version of a file (None: take it away) and return its number. Raises psycopg.Error, as for a login
    that is not the owner's."""
    found = link.execute(
        "insert into shopboard.text (branch, name, version, body) values (%(b)s, %(n)s, coalesce((select max(version)"
        " from shopboard.text where branch = %(b)s and name = %(n)s), 0) + 1, %(body)s) returning version",
        {"b": branch, "n": name, "body": body},
    ).fetchone()
    return int(found[0]) if found else 0


def lay_out(folder: Path, texts: dict[str, str]) -> None:
    """Make `folder` hold exactly these of a shop's files; what else stands there stays. Raises ShopUnusable."""
    try:
        disk.make_folder(folder)
        disk.make_folder(folder / "book")
        for path in [*folder.glob("*.toml"), *(folder / "book").glob("*")]:
            # Another terminal of this machine may be laying the same out just now, in files that begin with a point
            if path.name[0] != "." and path.name != PINS and path.relative_to(folder).as_posix() not in texts:
                path.unlink(missing_ok=True)
        for name, body in texts.items():
            path = folder / name
            with contextlib.suppress(OSError):
                if path.read_bytes() == body.encode():
                    continue
            disk.make_folder(path.parent)
            disk.replace_file(path, body.encode())
    except OSError as error:
        raise ShopUnusable(f"{folder} cannot be written ({error.strerror})", "set XDG_STATE_HOME to a folder") from None


def laid_out(address: Address) -> Path:
    """This machine's folder for the shop at an address, with its files as they are now. Raises ShopUnusable."""

    def get(link: Link) -> dict[str, str]:
        return present(link, ready(link, address).id)

    folder = local_folder(address)
    lay_out(folder, asked(address, get))
    return folder


def ready(link: Link, address: Address, *, arriving: bool = False) -> Branch:
    """The branch of an address, in a database this program works with, that is all there, unless it may be `arriving`.

    Raises ShopUnusable.
    """
    schema.check(link)
    branch = branch_of(link, address)
    if branch.arriving and not arriving:
        raise ShopUnusable(
            f"branch {branch.name} is not all there: it is being moved here from {branch.arriving}",
            "finish it with the same `shopboard move` again",
        )
    return branch
