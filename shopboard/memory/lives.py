"""Lives of components: how old each was when it was first watched, and how old when it failed or was last seen.

A life is one component in one machine: it ends as a failure, or goes on at the machine's last reading. After a repair
a new life starts at age 0. A machine first seen used is watched from its age then, not from new.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING

import msgspec

if TYPE_CHECKING:  # the board opens without numpy
    from numpy import bool_, float64
    from numpy.typing import NDArray


class Life(msgspec.Struct, frozen=True):
    """One component from age `start` to age `end` [h], `failed` then or still going on; had it not failed, it would
    have been watched to age `limit` (None: not known). 0 <= start < end <= limit."""

    start: float
    end: float
    failed: bool
    limit: float | None = None


class Columns(msgspec.Struct, frozen=True):
    """Lives as arrays of one length: ages [h], whether failed, how many such lives each row stands for."""

    start: NDArray[float64]
    end: NDArray[float64]
    failed: NDArray[bool_]
    many: NDArray[float64]


def columns(lives: Iterable[Life], many: Sequence[float] | None = None) -> Columns:
    """The lives as arrays; `many` says how many lives each stands for (None: one each).

    Raises ValueError, in a sentence, for an age below 0 and for a life that ends before it starts.
    """
    import numpy as np

    kept = list(lives)
    start = np.array([life.start for life in kept], dtype=float)
    end = np.array([life.end for life in kept], dtype=float)
    failed = np.array([life.failed for life in kept], dtype=bool)
    if not bool(np.isfinite(start).all() and np.isfinite(end).all()):
        raise ValueError("an age is not a number: read the hour meter again")
    if bool((start < 0).any()) or bool((end < 0).any()):
        raise ValueError("an age is below 0 h: look at the hour meter readings")
    if bool((end <= start).any()):
        raise ValueError("a life ends before it starts: look at the hour meter readings")
    return Columns(start, end, failed, np.ones(len(kept)) if many is None else np.array(many, dtype=float))
