"""One copy of the sample shop at its own moment, shared by the tests that only read it."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from sample_shop import SAMPLE_NOW, copy_to
from shopboard.records import Job, PartLine
from shopboard.store import FolderStore, open_shop


@pytest.fixture(scope="session")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A copy of the sample shop whose today is the sample's own."""
    made = tmp_path_factory.mktemp("sample") / "shop"
    copy_to(made, SAMPLE_NOW)
    return made


@pytest.fixture(scope="session")
def shop(folder: Path) -> Iterator[FolderStore]:
    """The copy, open."""
    store = open_shop(folder)
    yield store
    store.close()


@pytest.fixture(scope="session")
def closed(shop: FolderStore) -> list[tuple[Job, tuple[PartLine, ...]]]:
    """Every closed job, whole, oldest first."""
    return [whole for id in sorted(shop.state.closed) if (whole := shop.state.load_closed(id)) is not None]
