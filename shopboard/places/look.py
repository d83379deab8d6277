"""Which look this person's boards have: kept with the person's own settings, not in the shop."""

from __future__ import annotations

import contextlib
import os
from pathlib import Path

from .themes import BRIGHT, NIGHT


def _file() -> Path:
    home = os.environ.get("XDG_CONFIG_HOME") or Path.home() / ".config"
    return Path(home) / "shopboard" / "look"


def kept_look() -> str:
    """The name of the look chosen last; the night one where none was, or where it cannot be read."""
    try:
        name = _file().read_text(encoding="utf-8").strip()
    except (OSError, RuntimeError, ValueError):  # no home, or bytes that are no text
        return NIGHT.name
    return name if name in (NIGHT.name, BRIGHT.name) else NIGHT.name


def keep_look(name: str) -> None:
    """Remember the look; a disk that refuses costs only the memory of it."""
    with contextlib.suppress(OSError, RuntimeError):
        file = _file()
        file.parent.mkdir(parents=True, exist_ok=True)
        file.write_text(name + "\n", encoding="utf-8")
