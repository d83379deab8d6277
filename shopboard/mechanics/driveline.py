"""The drive shaft with two joints in space: true joint angles, what is left over, and what that means at speed.

Directions run from the engine to the driven unit; pitch is positive where the line rises that way (side view), yaw
where it goes to the left (top view). Angles in rad, speeds in rev/s.
"""

from __future__ import annotations

import math
from typing import NamedTuple

from . import joints

Vector = tuple[float, float, float]

#: Torsional acceleration [rad/s²] that ω²·β² should not pass. Engineers Edge, after SAE AE-7 §3.1.1 (see `joints`).
TORSION_LIMIT = 400.0
#: Working angle and difference of the two angles, a rule of thumb for shafts at engine speed. The same page.
ANGLE_RULE, DIFFERENCE_RULE = math.radians(6.0), math.radians(1.5)
#: Below this speed [rev/s] limits made for engine speeds are shown, not judged: at 540 rev/min 400 rad/s² means 20°.
JUDGED_FROM = 1000 / 60


class Member(NamedTuple):
    """How one member lies: angle to the machine's length in the side view and in the top view [rad]."""

    pitch: float
    yaw: float = 0.0


class Geometry(NamedTuple):
    """True angles of the front and rear joint, and `planes`, the turn about the shaft from the plane of the front
    joint to that of the rear one, taken modulo half a turn [rad]."""

    front: float
    rear: float
    planes: float


class Assessment(NamedTuple):
    """What two joints do at a speed. Angles [rad], accelerations [rad/s²] at the shaft speed asked for.

    `residual` is exact, `residual_small` the workshop formula; `output_` is what reaches the driven unit, `shaft_`
    how the shaft between swings (the front joint alone: equal angles never cancel that); `limit_angle` is the
    residual that the torsion limit allows at this speed.
    """

    residual: float
    residual_small: float
    output_swing: float
    output_acceleration: float
    shaft_swing: float
    shaft_acceleration: float
    torsion: float
    limit_angle: float


def direction(member: Member) -> Vector:
    """Unit vector along a member, from its angles in the two views.

    >>> [round(c, 4) for c in direction(Member(math.radians(3), 0.0))]
    [0.9986, 0.0, 0.0523]
    """
    along = (1.0, math.tan(member.yaw), math.tan(member.pitch))
    size = math.sqrt(sum(c * c for c in along))
    return (along[0] / size, along[1] / size, along[2] / size)


def _cross(a: Vector, b: Vector) -> Vector:
    return (a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0])


def _dot(a: Vector, b: Vector) -> float:
    return sum(x * y for x, y in zip(a, b, strict=True))


def between(a: Vector, b: Vector) -> float:
    """Angle [rad] between two directions, sound for tiny and for large angles."""
    normal = _cross(a, b)
    return math.atan2(math.sqrt(_dot(normal, normal)), _dot(a, b))


def geometry(engine: Vector, shaft: Vector, gearbox: Vector) -> Geometry:
    """The true angles in space between three directions. Source: vector algebra.

    >>> flat = [direction(Member(math.radians(a))) for a in (2, 6, 2)]
    >>> [round(math.degrees(c), 6) for c in geometry(*flat)]
    [4.0, 4.0, 0.0]
    """
    first, second = _cross(engine, shaft), _cross(shaft, gearbox)
    planes = math.atan2(_dot(_cross(first, second), shaft), _dot(first, second))
    planes = math.remainder(planes, math.pi) if min(_dot(first, first), _dot(second, second)) > 1e-18 else 0.0
    return Geometry(between(engine, shaft), between(shaft, gearbox), planes)


def phase(geometry: Geometry, yokes: float = 0.0) -> float:
    """The phase that counts for cancelling: how far the rear shaft yoke is turned ahead of the front one about the
    shaft (`yokes`, right-handed towards the driven unit), less the turn between the two joint planes [rad]."""
    return yokes - geometry.planes


def assess(front: float, rear: float, phase: float, speed: float) -> Assessment:
    """What joints at `front` and `rear` [rad] with `phase` (0: equal angles cancel) do at `speed` [rev/s].

    Source: `joints` (exact), torsion ω²·β² as SAE AE-7 §3.1.1 takes it.

    >>> found = assess(math.radians(10), math.radians(6), 0.0, 25.0)
    >>> round(math.degrees(found.residual_small), 3), round(found.output_swing, 6), round(found.torsion)
    (8.0, 0.019632, 483)
    """
    residual = joints.chain_angle(front, rear, phase)
    squared = (2 * math.pi * speed) ** 2
    return Assessment(
        residual=residual,
        residual_small=joints.small_angle_chain(front, rear, phase),
        output_swing=joints.swing(residual),
        output_acceleration=squared * joints.greatest_acceleration(residual),
        shaft_swing=joints.swing(front),
        shaft_acceleration=squared * joints.greatest_acceleration(front),
        torsion=squared * residual**2,
        limit_angle=math.sqrt(TORSION_LIMIT / squared),
    )


def verdict(front: float, rear: float, found: Assessment, speed: float) -> str:
    """The assessment in words; below engine speeds figures are shown and nothing is judged.

    >>> one = assess(math.radians(4), math.radians(3.6), 0.0, 43.3)
    >>> verdict(math.radians(4), math.radians(3.6), one, 43.3)
    'within the limits: 1.7° left over, 4.2° allowed at this speed'
    """
    left, allowed = math.degrees(found.residual), math.degrees(found.limit_angle)
    if speed < JUDGED_FROM:
        return f"{left:.1f}° left over; shown, not judged: limits for engine speeds mean little here ({allowed:.0f}°)"
    faults = []
    if found.torsion > TORSION_LIMIT:
        faults.append(f"{left:.1f}° left over shakes the driven unit: {allowed:.1f}° allowed at this speed")
    if max(front, rear) > ANGLE_RULE:
        faults.append(f"a joint works at {math.degrees(max(front, rear)):.1f}°, the rule of thumb is 6°")
    if abs(front - rear) > DIFFERENCE_RULE:
        faults.append(f"the joint angles differ by {math.degrees(abs(front - rear)):.1f}°, the rule of thumb is 1.5°")
    return "; ".join(faults) or f"within the limits: {left:.1f}° left over, {allowed:.1f}° allowed at this speed"
