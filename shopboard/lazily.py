"""Names of a package that are loaded when they are first asked for: the first screen needs few of them."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from importlib import import_module


def lazily(package: str, modules: Mapping[str, tuple[str, ...]]) -> Callable[[str], object]:
    """A module's `__getattr__` that finds each name in the module of the package that has it, and keeps it there.

    >>> find = lazily("json", {"decoder": ("JSONDecoder",)})
    >>> find("JSONDecoder").__name__
    'JSONDecoder'
    >>> find("nothing")
    Traceback (most recent call last):
    AttributeError: module 'json' has no attribute 'nothing'
    """
    where = {name: module for module, names in modules.items() for name in names}

    def find(name: str) -> object:
        if name not in where:
            raise AttributeError(f"module {package!r} has no attribute {name!r}")
        found: object = getattr(import_module(f"{package}.{where[name]}"), name)
        setattr(import_module(package), name, found)
        return found

    return find
