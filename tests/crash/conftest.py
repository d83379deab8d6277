"""Where the shops of the crash tests stand."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from aids.quick_place import quick_place

from shopboard.store import new_shop


@pytest.fixture
def tmp_path(tmp_path: Path) -> Iterator[Path]:
    """A place in memory where there is one: a killed process loses the same there as on a disk."""
    with quick_place(tmp_path) as place:
        yield place


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A new shop's folder."""
    new_shop(tmp_path / "shop")
    return tmp_path / "shop"
