"""A new branch for each test, on the one server of this run; all of these tests need it."""

from __future__ import annotations

import itertools
from collections.abc import Callable, Iterator
from datetime import datetime
from pathlib import Path

import pytest
from aids.cutting import Relay
from aids.postgres import Server
from aids.postgres_shops import keep_out_of_home, shared_server
from aids.store_steps import ticking

from shopboard.store import Address, Store, new_shop, open_shop, place_of

_NUMBERS = itertools.count(1)
_HERE = Path(__file__).parent


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Everything here needs the server."""
    for item in items:
        if _HERE in item.path.parents:
            item.add_marker(pytest.mark.postgres)


@pytest.fixture(scope="session", autouse=True)
def _state_home() -> None:
    keep_out_of_home()


@pytest.fixture(scope="session")
def server() -> Server:
    """The server of this run."""
    return shared_server()


@pytest.fixture
def address(server: Server) -> Address:
    """A new branch with an empty shop."""
    place = place_of(server.address("shops", f"test-{next(_NUMBERS)}"))
    assert isinstance(place, Address)
    new_shop(place)
    return place


@pytest.fixture
def opening() -> Iterator[Callable[..., Store]]:
    """Opens shops, and closes them at the end."""
    opened: list[Store] = []

    def open_(place: Address, clock: Callable[[], datetime] | None = None) -> Store:
        store = open_shop(place, clock=clock or ticking())
        opened.append(store)
        return store

    yield open_
    for store in opened:
        store.close()


@pytest.fixture
def relay(server: Server) -> Iterator[Relay]:
    """A bad line to the server."""
    line = Relay(server.port)
    yield line
    line.close()


@pytest.fixture
def far(relay: Relay, server: Server, address: Address) -> Address:
    """The same branch, over the bad line."""
    place = place_of(str(address).replace(f":{server.port}/", f":{relay.port}/"))
    assert isinstance(place, Address)
    return place
