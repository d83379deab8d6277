"""Keeping a shop: a journal that is the commit, TinyDB files at rest, recovery, undo, and what others changed.

`open_shop(place)` gives a `Store`, on a folder or at an address in a database. A rule runs inside `commit` on the
freshest state, so two terminals cannot overwrite each other.
"""

from typing import TYPE_CHECKING

from .address import Address, Place, place_of
from .anywhere import new_shop, open_shop, own_folder, read_book, read_catalogue, read_models, read_settings, verify
from .closed import readable_jobs
from .folder import FolderStore, utc_now
from .protocol import Action, CommitFailed, ShopUnusable, Store, StoreError
from .tiny_files import AtomicStorage

if TYPE_CHECKING:
    from .verifying import Fault

__all__ = [
    "Action",
    "Address",
    "AtomicStorage",
    "CommitFailed",
    "Fault",
    "FolderStore",
    "Place",
    "ShopUnusable",
    "Store",
    "StoreError",
    "new_shop",
    "open_shop",
    "own_folder",
    "place_of",
    "read_book",
    "read_catalogue",
    "read_models",
    "read_settings",
    "readable_jobs",
    "utc_now",
    "verify",
]
