"""Answers that hardly go together, said aloud."""

from __future__ import annotations

from itertools import combinations

import numpy as np

from .evidence import Item
from .network import Floats

#: Two answers are told to be at odds when together they are rarer than chance would have them by this factor.
_RARER = 4.0


def contradictions(found: tuple[Item, ...], prior: Floats) -> tuple[str, ...]:
    """One sentence for each two pieces of evidence that rarely go together, the oddest first.

    The measure is that of Jensen et al. (1990): ln P(a)·P(b) / P(a, b), over the causes as they come in.
    """
    if len(found) < 2:
        return ()
    chance = prior / prior.sum()
    seen = np.array([item.likelihood for item in found])
    alone = seen @ chance
    together = (seen * chance) @ seen.T
    rarer = np.outer(alone, alone) / together
    odd = [(float(rarer[a, b]), a, b) for a, b in combinations(range(len(found)), 2) if rarer[a, b] >= _RARER]
    return tuple(
        f"“{found[a].text}” and “{found[b].text}” rarely go together: check again"
        for _, a, b in sorted(odd, reverse=True)
    )
