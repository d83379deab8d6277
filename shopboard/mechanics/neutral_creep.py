"""Neutral creep: from the two edges of the dead band to the plate's true zero and how far to move the link.

Lever positions are angles of the unit's control arm, which turns the plate one to one unless a ratio says otherwise.
Angles in rad, lengths in m.
Source: geometry.
"""

from __future__ import annotations

import math
from typing import NamedTuple

from .bands import Z90


class Neutral(NamedTuple):
    """`true_zero` is the arm angle of zero plate angle, `offset` how far the resting arm stands from it (positive:
    towards forward), `dead_band` the width between the edges, `error` the standard error of the offset [rad]; `creeps`
    whether the machine creeps at rest."""

    true_zero: float
    offset: float
    dead_band: float
    error: float
    creeps: bool

    @property
    def band(self) -> tuple[float, float]:
        """The 90 % band of the offset [rad]."""
        return self.offset - Z90 * self.error, self.offset + Z90 * self.error


def edge(wheels: tuple[float, ...]) -> float:
    """The edge of the dead band [rad]: with an open differential, the mean of what both wheels showed.

    An open differential shares the motion as it likes; only the mean of the wheels is the drive's. Source: kinematics.

    >>> round(edge((0.04, 0.05)), 3)
    0.045
    """
    return sum(wheels) / len(wheels)


def neutral(forward: float, reverse: float, rest: float, error: float = 0.0) -> Neutral:
    """From the arm angles [rad] at which forward and reverse creep start, and that at which the arm rests.

    The edges lie as far from zero on either side when both directions leak alike. `error` is the standard error of one
    reading. Raises ValueError when the forward edge does not lie beyond the reverse one.

    >>> found = neutral(math.radians(3.1), math.radians(-0.9), 0.0)
    >>> [round(math.degrees(x), 2) for x in (found.true_zero, found.offset, found.dead_band)]
    [1.1, -1.1, 4.0]
    """
    if forward <= reverse:
        raise ValueError("the forward edge must lie on the forward side of the reverse edge: turn one sign about")
    zero = (forward + reverse) / 2
    spread = error * math.sqrt(1.5)  # half the root of two edges' squares, with the resting reading's own
    return Neutral(zero, rest - zero, forward - reverse, spread, not reverse < rest < forward)


def link_movement(offset: float, arm: float, pitch: float | None = None) -> tuple[float, float | None]:
    """How far to move the link at an arm of length `arm` [m] to take out `offset` [rad], and in turns of a thread of
    `pitch` [m] a turn: arm·sin(offset), sign turned about. Good while link and arm stand near a right angle.

    >>> move, turns = link_movement(math.radians(-1.1), 0.060, 0.00125)
    >>> round(move * 1000, 2), round(turns, 2)
    (1.15, 0.92)
    """
    move = -arm * math.sin(offset)
    return move, None if pitch is None else move / pitch


def plate_angle_from_creep(
    wheel_speed: float, ratio: float, motor: float, engine_speed: float, pump: float, most: float
) -> float:
    """Plate angle [rad] that turns the wheels at `wheel_speed` [rev/s, mean of both] with no load on stands.

    tan β = tan β_max·(wheels·ratio·V_motor)/(engine·V_pump); leakage without load left out, so β is the least it can
    be. Volumes a turn [m³], speeds in rev/s, `most` the plate angle of full stroke [rad]. Source: continuity.

    >>> round(math.degrees(plate_angle_from_creep(0.05, 30, 21e-6, 20, 21e-6, math.radians(17))), 2)
    1.31
    """
    return math.atan(math.tan(most) * wheel_speed * ratio * motor / (engine_speed * pump))
