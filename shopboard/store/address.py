"""Where a shop is kept: a folder, or a branch in a PostgreSQL database named by an address.

    postgresql://HOST[:PORT][,HOST…]/DATABASE?branch=NAME[&sslmode=…]
    postgresql://?service=NAME&branch=NAME

All but `branch` is libpq's: what the address leaves out comes from the service file, the PG… environment and the
password file. A password never stands in an address: every process on the machine can read a command line.
"""

from __future__ import annotations

import os
import re
import tempfile
from dataclasses import dataclass
from pathlib import Path
from urllib.parse import parse_qsl, quote, unquote, urlencode

from .protocol import ShopUnusable

_SCHEMES = ("postgresql://", "postgres://")
_BRANCH = re.compile(r"[a-z0-9][a-z0-9-]{0,39}")
_FORM = "write it like postgresql://HOST/DATABASE?branch=NAME"
#: Settings of libpq that hold a secret.
_SECRET = frozenset({"password", "sslpassword", "oauth_client_secret"})


@dataclass(frozen=True)
class Address:
    """One branch's shop in a database: `server` is what libpq is given, without a password; `branch` "" where the
    address names none."""

    server: str
    branch: str = ""

    def __str__(self) -> str:
        """The address as it can be typed again."""
        if not self.branch:
            return self.server
        return f"{self.server}{'&' if '?' in self.server else '?'}branch={self.branch}"


#: A shop's folder, or the address of its branch in a database.
Place = Path | Address


def place_of(text: str) -> Place:
    """The folder or the address that `text` names. Raises ShopUnusable for an address that cannot be understood or
    holds a password; the refusal repeats nothing of it."""
    if not text.startswith(_SCHEMES):
        return Path(text)
    return _address(text)


def _address(text: str) -> Address:
    rest = text.partition("://")[2]
    before, asked, query = rest.partition("?")
    _refuse_password(rest, before)
    try:
        pairs = parse_qsl(query, keep_blank_values=True, strict_parsing=bool(asked and query))
    except ValueError:
        raise ShopUnusable("the part behind ? of the address cannot be understood", _FORM) from None
    if any(name.lower() in _SECRET for name, _ in pairs):
        raise _secret()
    branches = [value for name, value in pairs if name == "branch"]
    if len(branches) > 1 or not all(_BRANCH.fullmatch(name) for name in branches):
        raise ShopUnusable(
            "the address names no branch that there can be", "a branch is one name of small letters, digits and -"
        )
    kept = urlencode([pair for pair in pairs if pair[0] != "branch"], quote_via=quote)
    return Address(f"postgresql://{before}{'?' + kept if kept else ''}", branches[0] if branches else "")


def _refuse_password(rest: str, before: str) -> None:
    # A password may hold any sign, also / and ?: whatever stands between a colon and the last @ is taken for one
    user = rest.rpartition("@")[0] if "@" in before else rest.partition("?")[0].rpartition("@")[0]
    if ":" in user or (":" in before and "@" in rest[len(before) :]):
        raise _secret()


def _secret() -> ShopUnusable:
    return ShopUnusable(
        "a password does not belong in an address, where every program on this machine can read it",
        "put it into the password file (~/.pgpass, or PGPASSFILE) or a service file",
    )


def database_of(address: Address) -> str:
    """The database's name as the address gives it, "" where it leaves that to libpq."""
    path = address.server.partition("://")[2].partition("?")[0].partition("/")[2]
    return unquote(path)


def local_folder(address: Address) -> Path:
    """The folder on this machine for what belongs to this terminal alone: half-typed forms, and the shop's own files
    as they were when it was opened."""
    import hashlib  # a library of its own, which few starts need

    mark = hashlib.sha256(str(address).encode()).hexdigest()[:12]
    name = "-".join(filter(None, (re.sub(r"[^A-Za-z0-9]+", "-", database_of(address)), address.branch, mark)))
    return _state_home() / "shopboard" / name


def _state_home() -> Path:
    for variable in ("XDG_STATE_HOME", "LOCALAPPDATA"):
        if os.environ.get(variable):
            return Path(os.environ[variable])
    try:
        return Path.home() / ".local" / "state"
    except RuntimeError:  # nobody's home is known here
        return Path(tempfile.gettempdir())
