"""A folder for tests that sync often: in memory where the system has such a place."""

from __future__ import annotations

import contextlib
import os
import tempfile
from collections.abc import Iterator
from pathlib import Path

_MEMORY = Path("/dev/shm")


@contextlib.contextmanager
def quick_place(otherwise: Path) -> Iterator[Path]:
    """A new folder in memory, or `otherwise`."""
    if not (_MEMORY.is_dir() and os.access(_MEMORY, os.W_OK)):
        yield otherwise
        return
    with tempfile.TemporaryDirectory(dir=_MEMORY, ignore_cleanup_errors=True) as place:
        yield Path(place)
