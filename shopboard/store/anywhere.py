"""The store's doors for a shop wherever it is kept: in a folder, or at an address in a database.

What needs the database's driver is imported only for an address, and its absence said in one line.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, overload

from shopboard.records import CataloguePart, Model, Settings

from . import folder, shop_files
from .address import Address, Place, local_folder
from .protocol import ShopUnusable, Store

if TYPE_CHECKING:
    from shopboard.trouble import Book

    from .verifying import Fault


def need_driver() -> None:
    """Raises ShopUnusable where the driver is not installed."""
    try:
        import psycopg  # noqa: F401
    except ImportError:
        raise ShopUnusable(
            "a shop in a database needs the extra `postgres`", "`pip install 'shopboard[postgres]'`, then again"
        ) from None


def folder_of(place: Place) -> Path:
    """Where the shop's own files can be read: the folder itself, or where an address's are laid out on this machine as
    they are now. Raises ShopUnusable."""
    if not isinstance(place, Address):
        return Path(place)
    need_driver()
    from .postgres.texts import laid_out

    return laid_out(place)


def own_folder(place: Place) -> Path:
    """Where this terminal keeps what is half typed: in the shop's folder, or on this machine beside the database."""
    return local_folder(place) if isinstance(place, Address) else Path(place)


@overload
def open_shop(place: Path, *, clock: Callable[[], datetime] = ..., closed_later: bool = ...) -> folder.FolderStore:
    """The shop in a folder."""


@overload
def open_shop(place: Place, *, clock: Callable[[], datetime] = ..., closed_later: bool = ...) -> Store:
    """The shop at a place of either kind."""


def open_shop(place: Place, *, clock: Callable[[], datetime] = folder.utc_now, closed_later: bool = False) -> Store:
    """Open the shop at `place`; see `folder.open_shop`. Raises ShopUnusable, in one line, where it cannot be."""
    if not isinstance(place, Address):
        return folder.open_shop(place, clock=clock, closed_later=closed_later)
    need_driver()
    from .postgres.admin import open_branch

    return open_branch(place, clock)


def new_shop(place: Place) -> None:
    """Make an empty shop in a new folder, or as a new branch of a database. Raises ShopUnusable."""
    if not isinstance(place, Address):
        shop_files.new_shop(place)
        return
    need_driver()
    from .postgres.admin import new_branch

    new_branch(place)


def read_settings(place: Place) -> Settings:
    """shop.toml; see `shop_files.read_settings`."""
    return shop_files.read_settings(folder_of(place))


def read_models(place: Place) -> dict[str, Model]:
    """models.toml; see `shop_files.read_models`."""
    return shop_files.read_models(folder_of(place))


def read_catalogue(place: Place, settings: Settings) -> dict[str, CataloguePart]:
    """parts.toml; see `shop_files.read_catalogue`."""
    return shop_files.read_catalogue(folder_of(place), settings)


def read_book(place: Place | None) -> Book:
    """The trouble book as shipped, with the shop's own additions; see `shop_files.read_book`."""
    return shop_files.read_book(folder_of(place) if place is not None else None)


def verify(place: Place) -> tuple[Fault, ...]:
    """Every fault found in the shop. Raises ShopUnusable only where there is no shop at all."""
    if not isinstance(place, Address):
        from .verifying import verify as verify_folder  # looks at all there is: nothing opens with it

        return verify_folder(place)
    need_driver()
    from .postgres.verify import verify_branch

    return verify_branch(place)
