"""Keeping a shop: a journal that is the commit, TinyDB files at rest, recovery, undo, and what others changed.

`open_shop(folder)` gives a `Store`. A rule runs inside `commit` on the freshest state, so two terminals cannot
overwrite each other.
"""

from .folder import FolderStore, open_shop, utc_now
from .protocol import Action, CommitFailed, ShopUnusable, Store, StoreError
from .shop_files import new_shop, read_book, read_catalogue, read_models, read_settings
from .tiny_files import AtomicStorage
from .verify import Fault, verify

__all__ = [
    "Action",
    "AtomicStorage",
    "CommitFailed",
    "Fault",
    "FolderStore",
    "ShopUnusable",
    "Store",
    "StoreError",
    "new_shop",
    "open_shop",
    "read_book",
    "read_catalogue",
    "read_models",
    "read_settings",
    "utc_now",
    "verify",
]
