"""What a measurement answers: the trouble book's check and the outcome it speaks for, so that it can move the ranking.

Ids are those of the book as shipped. "unsure" counts for nothing there, and is the answer wherever the figures do not
carry more.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from .driveline import ANGLE_RULE, DIFFERENCE_RULE, JUDGED_FROM, TORSION_LIMIT, Assessment
from .neutral_creep import Neutral

if TYPE_CHECKING:
    from .matching import Match
    from .slope_hold import Hold

UNSURE = "unsure"

#: The check of the book that each calculation answers.
CHECKS = {
    "timed-runs": "timed-runs",
    "slope-hold": "slope-hold",
    "neutral-creep": "neutral-stands",
    "joints": "joint-angles",
    "recording": "vibration-recording",
}


def timed_runs(worn: bool | None, lost: bool | None) -> str:
    """The outcome of timed runs from what `run_advice.judge` is sure of. Wear shows as slower hot, whatever else is.

    >>> timed_runs(True, None), timed_runs(False, True), timed_runs(None, True)
    ('slower-hot', 'slow-alike', 'unsure')
    """
    if worn:
        return "slower-hot"
    if worn is None or lost is None:
        return UNSURE
    return "slow-alike" if lost else "up-to-speed"


def slope_hold(hold: Hold, new_leakage: float | None, limit: float = 1.5) -> str:
    """The outcome of a slope hold: down both ways when leakage is surely above `limit` × new, one way when a plate off
    zero outweighs the leakage."""
    if abs(hold.offset) > abs(hold.creep):
        return "one-way"
    if new_leakage is None:
        return UNSURE
    if hold.leakage - 1.645 * hold.error > limit * new_leakage:
        return "both-ways"
    return "holds" if hold.leakage + 1.645 * hold.error < 2 * limit * new_leakage else UNSURE


def neutral(found: Neutral) -> str:
    """The outcome of the wheels on stands: a rest outside the dead band creeps always the same way."""
    return "one-way" if found.creeps else "still"


def joints(front: float, rear: float, found: Assessment, speed: float) -> str:
    """The outcome of measured joint angles [rad] at shaft `speed` [rev/s], by the limits of `driveline`."""
    over = max(front, rear) > ANGLE_RULE or abs(front - rear) > DIFFERENCE_RULE or found.torsion > TORSION_LIMIT
    if speed < JUDGED_FROM:
        return UNSURE
    return "unequal" if over else "equal"


_PARTS = {"engine": "engine", "wheel": "wheel", "gears": "gears"}


def vibration(matches: Sequence[Match], sure: float = 0.7) -> str:
    """The outcome of a recording: the strongest peak that is one kind of source with probability `sure` or more.

    Sources that coincide are "unsure" until the check that separates them was made.
    """
    if not matches:
        return "quiet"
    for match in matches:
        if match.group is None or match.probability < sure:
            continue
        kinds = {_kind(source.part, source.order) for source in match.group.sources}
        return kinds.pop() if len(kinds) == 1 else UNSURE
    return UNSURE


def _kind(part: str, order: float) -> str:
    if part == "shaft":
        return "shaft-once" if order == 1 else "shaft-twice"
    return _PARTS.get(part, UNSURE)
