"""What may happen in the shop. Pure rules: the records as they are go in, one step to commit comes out.

Every rule is `rule(state, now, by, …) -> Step` and raises `Refused(why, would_do)` when it does not allow the step.
Nothing here keeps anything: the store runs a rule on fresh records and commits what it answers.

The modules of rules are loaded when they are first asked for, as `shop.parts`: the first screen needs few of them.
"""

from importlib import import_module
from types import ModuleType
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from . import (
        approval,
        bays,
        closing,
        evidence,
        history,
        intake,
        kits,
        moves,
        parts,
        returns,
        stages,
        stock,
        terms,
        ways_out,
        while_open,
    )

__all__ = [
    "approval",
    "bays",
    "closing",
    "evidence",
    "history",
    "intake",
    "kits",
    "moves",
    "parts",
    "returns",
    "stages",
    "stock",
    "terms",
    "ways_out",
    "while_open",
]


def __getattr__(name: str) -> ModuleType:
    """A module of rules by its name."""
    if name.startswith("_"):
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    try:
        return import_module(f"{__name__}.{name}")
    except ModuleNotFoundError:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}") from None
