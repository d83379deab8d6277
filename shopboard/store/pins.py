"""PINs: one a person if they want one, kept as a salted, slow hash beside the shop, never in its journal.

A PIN keeps others from signing in one's name at a terminal. It does not keep anybody from the files: whoever may write
the folder may delete `pins.toml`.
"""

from __future__ import annotations

import contextlib
import os
import tomllib
import unicodedata
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Annotated

import msgspec

from shopboard.records import Refused

from . import disk
from .disk_faults import mend, said
from .protocol import CommitFailed, ShopUnusable

#: Shortest and longest PIN, in characters.
SHORTEST, LONGEST = 4, 64
#: So many wrong tries cost no wait; the next one does, and each further one doubles it, up to the longest.
FREE_TRIES, FIRST_WAIT, LONGEST_WAIT = 2, timedelta(seconds=5), timedelta(minutes=15)

#: The files of a shop's folder that hold PINs, or only lock them.
PINS_FILES = ("pins.toml", "pins.lock")

_COST, _BLOCK = 2**14, 8  # scrypt: 16 MB and some tens of milliseconds a try


Hex = Annotated[str, msgspec.Meta(pattern=r"^([0-9a-f]{2}){16,64}$")]


class Kept(msgspec.Struct, kw_only=True, forbid_unknown_fields=True):
    """What pins.toml holds of one person: the salt and the hash in hexadecimal digits with the cost they were made at,
    wrong tries since the last right one, and until when no other is taken ("" or UTC)."""

    salt: Hex
    hash: Hex
    cost: Annotated[int, msgspec.Meta(ge=2, le=2**17)]
    wrong: Annotated[int, msgspec.Meta(ge=0)] = 0
    until: str = ""


class Pins:
    """The PINs of one shop's people, read anew at each question: another terminal may have changed them."""

    def __init__(self, folder: Path | None) -> None:
        self._folder = folder

    def has(self, person: str) -> bool:
        """Whether this person has set a PIN. Raises ShopUnusable where pins.toml cannot be read."""
        return person in self._read()

    def holders(self) -> tuple[str, ...]:
        """Who has set a PIN. Raises ShopUnusable where pins.toml cannot be read."""
        return tuple(self._read())

    def open_to_others(self) -> bool:
        """Whether other users of this machine may read the file."""
        path = self._path()
        return os.name == "posix" and path is not None and path.exists() and bool(path.stat().st_mode & 0o077)

    def check(self, person: str, pin: str, now: datetime) -> None:
        """Pass if this is the person's PIN, or they have none.

        A try is counted on the disk before it is looked at, so that neither a restart nor a second terminal makes
        trying faster. Raises Refused in one line when it is wrong or comes too early, CommitFailed when the count
        cannot be kept.
        """
        if not self.has(person):
            return
        counted = self._count_try(person, now)
        if counted is None:
            return
        try:
            import hmac  # as heavy as what hashes, and as seldom needed

            right = hmac.compare_digest(_hash(pin, counted.salt, counted.cost), counted.hash)
        except ValueError:
            raise _broken() from None  # a cost that is none
        if not right:
            wait = _wait(counted.wrong)
            raise Refused("that is not the PIN", f"wait {_span(wait)}, then try again" if wait else "try again")
        self._change(person, msgspec.structs.replace(counted, wrong=0, until=""))

    def set(self, person: str, pin: str) -> None:
        """Let this be the person's PIN. Raises Refused for one too short or too long, CommitFailed."""
        if not SHORTEST <= len(pin) <= LONGEST or pin != pin.strip():
            raise Refused(f"a PIN has {SHORTEST} to {LONGEST} characters, no blank at its ends", "type another")
        salt = os.urandom(16).hex()
        self._change(person, Kept(salt=salt, hash=_hash(pin, salt, _COST), cost=_COST))

    def clear(self, person: str) -> None:
        """Let the person have no PIN. Raises CommitFailed."""
        self._change(person, None)

    # -- the file -------------------------------------------------------------------------------------------------

    def _path(self) -> Path | None:
        return self._folder / "pins.toml" if self._folder is not None else None

    def _read(self) -> dict[str, Kept]:
        path = self._path()
        if path is None or not path.exists():
            return {}
        try:
            return msgspec.convert(tomllib.loads(path.read_text(encoding="utf-8")), dict[str, Kept])
        except (OSError, ValueError, msgspec.ValidationError):
            raise _broken() from None

    def _count_try(self, person: str, now: datetime) -> Kept | None:
        """The person's PIN with one more wrong try counted, on the disk; None if they have none any more."""
        with self._writing():
            kept = self._read()
            mine = kept.get(person)
            if mine is None:
                return None
            left = _left(mine, now)
            if left:
                raise Refused(f"{mine.wrong} wrong tries", f"wait {_span(left)}, then try again")
            wrong = mine.wrong + 1
            until = (now.astimezone(UTC) + _wait(wrong)).isoformat() if _wait(wrong) else ""
            kept[person] = mine = msgspec.structs.replace(mine, wrong=wrong, until=until)
            self._write(kept)
            return mine

    def _change(self, person: str, mine: Kept | None) -> None:
        with self._writing():
            kept = self._read()
            kept.pop(person, None)
            if mine is not None:
                kept[person] = mine
            self._write(kept)

    @contextlib.contextmanager
    def _writing(self) -> Iterator[None]:
        if self._folder is None:
            raise CommitFailed("no PIN can be kept here", "open the shop from its folder")
        try:
            with disk.locked(self._folder / "pins.lock"):
                yield
        except disk.LockBusy:
            raise CommitFailed("another terminal has been at the PINs for too long", "look there, try again") from None
        except OSError as error:
            raise CommitFailed(f"pins.toml cannot be written: {said(error)}", mend(error)) from None

    def _write(self, kept: dict[str, Kept]) -> None:
        path = self._path()
        assert path is not None
        disk.replace_file(path, _toml(kept).encode())


def _broken() -> ShopUnusable:
    """Nothing of the file's text is told: what is wrong in it may be a hash."""
    return ShopUnusable("pins.toml cannot be read", "delete it: nobody has a PIN then, and each sets theirs anew")


def _hash(pin: str, salt: str, cost: int) -> str:
    import hashlib  # a library of its own, which few starts need

    text = unicodedata.normalize("NFKC", pin).encode("utf-8", "surrogatepass")
    return hashlib.scrypt(text, salt=bytes.fromhex(salt), n=cost, r=_BLOCK, p=1, maxmem=2**28, dklen=32).hex()


def _wait(wrong: int) -> timedelta:
    """How long nobody may try after so many wrong ones."""
    over = wrong - FREE_TRIES - 1
    return min(LONGEST_WAIT, FIRST_WAIT * 2 ** min(over, 20)) if over >= 0 else timedelta(0)


def _left(kept: Kept, now: datetime) -> timedelta:
    """What is left of the wait; a clock that was set back never makes it longer than it was."""
    if not kept.until:
        return timedelta(0)
    try:
        left = datetime.fromisoformat(kept.until) - now
    except (ValueError, TypeError):
        raise _broken() from None
    return min(max(left, timedelta(0)), _wait(kept.wrong))


def _span(left: timedelta) -> str:
    seconds = -int(-left.total_seconds() // 1)
    return f"{seconds} seconds" if seconds < 120 else f"{-(-seconds // 60)} minutes"


def _toml(kept: dict[str, Kept]) -> str:
    rows = ["# Salted, slow hashes of the PINs that people set at the board. Delete a table to take a PIN away."]
    for person, mine in sorted(kept.items()):
        rows += ["", f"[{msgspec.json.encode(person).decode()}]"]
        rows += [
            f"{name} = {msgspec.json.encode(value).decode()}" for name, value in msgspec.structs.asdict(mine).items()
        ]
    return "\n".join(rows) + "\n"
