"""The engines that keep a shop, each behind the same three doors."""

from __future__ import annotations

import itertools
from collections.abc import Callable, Iterator
from datetime import datetime
from pathlib import Path

import pytest
from aids.quick_place import quick_place
from aids.store_steps import ticking

from shopboard.store import Store, new_shop, open_shop, place_of


@pytest.fixture
def tmp_path(tmp_path: Path) -> Iterator[Path]:
    """A place in memory where there is one: what is proved here does not hang on how fast a disk syncs."""
    with quick_place(tmp_path) as place:
        yield place


def without_people(folder: Path) -> None:
    """Let nobody be named in the shop's settings: anyone may sign anything, so that roles stay out of the picture."""
    text = (folder / "shop.toml").read_text(encoding="utf-8")
    before, _, after = text.partition("[[person]]")
    (folder / "shop.toml").write_text(f"{before}# [[supplier]]{after.partition('# [[supplier]]')[2]}", encoding="utf-8")


class FolderEngine:
    """A shop in a folder. `open` opens it once more, as another terminal would."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder / "shop"
        self._open: list[Store] = []
        new_shop(self.folder)
        without_people(self.folder)

    def open(self, clock: Callable[[], datetime] | None = None) -> Store:
        store = open_shop(self.folder, clock=clock or ticking())
        self._open.append(store)
        return store

    def let_go(self) -> None:
        for store in self._open:
            store.close()


class PostgresEngine:
    """A shop in a branch of its own, on the one server of this run."""

    _numbers = itertools.count(1)

    def __init__(self, folder: Path) -> None:
        from aids.postgres_shops import put_text, shared_server

        self.address = place_of(shared_server().address("shops", f"shop-{next(self._numbers)}"))
        self._open: list[Store] = []
        new_shop(self.address)
        new_shop(folder / "texts")
        without_people(folder / "texts")
        put_text(self.address, "shop.toml", (folder / "texts" / "shop.toml").read_text(encoding="utf-8"))

    def open(self, clock: Callable[[], datetime] | None = None) -> Store:
        store = open_shop(self.address, clock=clock or ticking())
        self._open.append(store)
        return store

    def let_go(self) -> None:
        for store in self._open:
            store.close()


# A further engine is one more entry here: the contract's tests stay as they are.
ENGINES = {"folder": FolderEngine, "postgres": PostgresEngine}
_PARAMS = ["folder", pytest.param("postgres", marks=pytest.mark.postgres)]


@pytest.fixture(params=_PARAMS)
def shop(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[FolderEngine]:
    """A new, empty shop kept by one of the engines."""
    engine = ENGINES[request.param](tmp_path)
    yield engine
    engine.let_go()


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A new shop's folder."""
    new_shop(tmp_path / "shop")
    return tmp_path / "shop"


@pytest.fixture(params=_PARAMS)
def new_engine(request: pytest.FixtureRequest, tmp_path: Path) -> Callable[[], FolderEngine]:
    """Makes another new, empty shop of one engine at each call."""
    numbers = iter(range(10**9))

    def make() -> FolderEngine:
        place = tmp_path / str(next(numbers))
        place.mkdir()
        return ENGINES[request.param](place)

    return make
