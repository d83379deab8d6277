"""The half-typed intake, kept on disk so that a crash or a closed window loses no word of it."""

from __future__ import annotations

import contextlib
import os
import tempfile
from pathlib import Path
from typing import TYPE_CHECKING
from urllib.parse import quote

import msgspec

if TYPE_CHECKING:
    from .fields import Values


_File = dict[str, str | list[str]]


class Drafts:
    """One draft a person, a small file in the shop's folder `drafts/`; without a folder it is kept in memory only."""

    def __init__(self, folder: Path | None) -> None:
        self._folder = folder / "drafts" if folder is not None else None
        self._unsaved: dict[str, Values] = {}
        self._memory: dict[str, Values] = {}

    def keep(self, who: str, values: Values) -> None:
        """Remember what is typed; `flush` writes it."""
        self._unsaved[who] = self._memory[who] = values

    def flush(self) -> None:
        """Write what was remembered since. A disk that refuses costs the draft on disk, never the typing."""
        for who, values in self._unsaved.items():
            with contextlib.suppress(OSError):
                self._write(who, values)
        self._unsaved = {}

    def of(self, who: str) -> Values | None:
        """What this person had typed, None when there is nothing."""
        if who in self._memory:
            return self._memory[who]
        path = self._path(who)
        try:
            data = msgspec.json.decode(path.read_bytes(), type=_File) if path else None
        except (OSError, msgspec.DecodeError, UnicodeDecodeError):
            return None
        return {k: v if isinstance(v, str) else tuple(v) for k, v in data.items()} if data else None

    def drop(self, who: str) -> None:
        """The intake was committed or thrown away."""
        self._unsaved.pop(who, None)
        self._memory.pop(who, None)
        if (path := self._path(who)) is not None:
            with contextlib.suppress(OSError):
                path.unlink(missing_ok=True)

    def _path(self, who: str) -> Path | None:
        return self._folder / f"intake-{quote(who, safe='') or 'nobody'}.json" if self._folder else None

    def _write(self, who: str, values: Values) -> None:
        path = self._path(who)
        if path is None:
            return
        path.parent.mkdir(mode=0o700, exist_ok=True)
        data = msgspec.json.encode({k: list(v) if isinstance(v, tuple) else v for k, v in values.items()})
        handle, name = tempfile.mkstemp(dir=path.parent)
        try:
            with os.fdopen(handle, "wb") as file:
                file.write(data)
            os.replace(name, path)
        except OSError:
            Path(name).unlink(missing_ok=True)
            raise
