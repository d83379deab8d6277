"""What has to be found: faults behind what was seen, not every fault a machine may also have."""

from __future__ import annotations

import numpy as np

from .evidence import Item
from .network import Floats, Network


def without_bystanders(net: Network, found: tuple[Item, ...], chance: Floats) -> Floats:
    """The probabilities with every pair that has a bystander counted to the other cause of the pair.

    A bystander is a cause that shows nothing of what was found. It may be there too, and the ranking says how
    probable two faults are; but nobody came for it, the machine is fixed without it, and no check is spent on it.
    """
    behind = np.array([any(_shows(net, id, item) for item in found) for id in net.causes], dtype=bool)
    first, second = behind[net.first], behind[net.second]
    told = chance.copy()
    pairs = told[1 + len(net.causes) :]
    for single, alone in ((net.first, first & ~second), (net.second, second & ~first)):
        np.add.at(told, 1 + single[alone], pairs[alone])
        pairs[alone] = 0.0
    return told


def _shows(net: Network, cause: str, item: Item) -> bool:
    """Whether the cause brings about this finding; a reading counts for every cause of its check."""
    entry = net.book.causes[cause]
    if item.id in net.symptoms:
        return item.outcome == "yes" and item.id in entry.shows
    shown = entry.answers.get(item.id, {})
    return item.outcome in shown or (not item.outcome and bool(shown))
