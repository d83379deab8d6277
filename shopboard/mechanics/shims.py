"""Which mount to shim, and by how much, so that the two joints leave least over.

A shim tips its member about the other mount and moves the joint, so it changes one joint angle directly and both
through the shaft. Lengths in m, angles in rad; raising is positive, taking a shim out negative. Side view only:
joints are taken to lie at the height of the mounts, so that small tips move them up and down, not along.
Source: geometry; the remainder is `joints.chain_angle`.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import NamedTuple

from . import driveline, joints
from .driveline import Member, Vector

MOUNTS = ("engine front", "engine rear", "gearbox front", "gearbox rear")
_STEPS = 400


class Layout(NamedTuple):
    """Where mounts and joints are, along the machine: span of the engine's mounts, rear engine mount to front joint,
    shaft between joints, rear joint to the driven unit's front mount, span of that unit's mounts [m]."""

    engine_span: float
    engine_overhang: float
    shaft: float
    gearbox_overhang: float
    gearbox_span: float


class Limits(NamedTuple):
    """What a shim has to respect: greatest shim in and out [m], joint angles [rad], how far the slip spline may be
    pushed in and drawn out, and how far a joint may rise and sink before something touches [m]."""

    add: float = 0.012
    remove: float = 0.0
    joint_least: float = 0.0
    joint_most: float = math.radians(6)
    spline_in: float = math.inf
    spline_out: float = math.inf
    rise: float = math.inf
    sink: float = math.inf


class Shim(NamedTuple):
    """A shim of `thickness` [m] at `mount` and the joint angles and remainder [rad] it gives; `shortens` is how far
    it pushes the spline in [m]."""

    mount: str
    thickness: float
    front: float
    rear: float
    residual: float
    shortens: float


class _Line(NamedTuple):
    """The driveline before any shim."""

    engine: Member
    shaft: Member
    gearbox: Member
    layout: Layout
    yokes: float


def _lifts(mount: str, s: float, at: Layout) -> tuple[float, float, float, float]:
    """Tip of engine and gearbox (as a slope), rise of front and rear joint, for a shim s at `mount`."""
    if mount == "engine front":
        return -s / at.engine_span, 0.0, -s * at.engine_overhang / at.engine_span, 0.0
    if mount == "engine rear":
        return s / at.engine_span, 0.0, s * (1 + at.engine_overhang / at.engine_span), 0.0
    if mount == "gearbox front":
        return 0.0, -s / at.gearbox_span, 0.0, s * (1 + at.gearbox_overhang / at.gearbox_span)
    return 0.0, s / at.gearbox_span, 0.0, -s * at.gearbox_overhang / at.gearbox_span


def _with_shim(line: _Line, mount: str, s: float) -> tuple[Shim, float, float]:
    """The driveline with a shim, and the rises of its two joints."""
    tip_engine, tip_gearbox, front_rise, rear_rise = _lifts(mount, s, line.layout)
    engine = Member(line.engine.pitch + math.atan(tip_engine), line.engine.yaw)
    gearbox = Member(line.gearbox.pitch + math.atan(tip_gearbox), line.gearbox.yaw)
    old = driveline.direction(line.shaft)
    x, y, z = (line.layout.shaft * c for c in old)
    z += rear_rise - front_rise
    length = math.sqrt(x * x + y * y + z * z)
    shaft: Vector = (x / length, y / length, z / length)
    found = driveline.geometry(driveline.direction(engine), shaft, driveline.direction(gearbox))
    residual = joints.chain_angle(found.front, found.rear, driveline.phase(found, line.yokes))
    shim = Shim(mount, s, found.front, found.rear, residual, line.layout.shaft - length)
    return shim, front_rise, rear_rise


def _allowed(line: _Line, mount: str, s: float, limits: Limits) -> bool:
    shim, *rises = _with_shim(line, mount, s)
    angles = (shim.front, shim.rear)
    return (
        limits.joint_least <= min(angles)
        and max(angles) <= limits.joint_most
        and -limits.spline_out <= shim.shortens <= limits.spline_in
        and -limits.sink <= min(rises)
        and max(rises) <= limits.rise
    )


def _edge(inside: float, outside: float, allowed: Callable[[float], bool]) -> float:
    """The last allowed value from `inside` towards `outside`, to a nanometre or so."""
    for _ in range(40):
        middle = (inside + outside) / 2
        inside, outside = (middle, outside) if allowed(middle) else (inside, middle)
    return inside


def _golden(low: float, high: float, cost: Callable[[float], float]) -> float:
    """The least of a single-valley function between low and high."""
    part = (math.sqrt(5) - 1) / 2
    a, b = high - part * (high - low), low + part * (high - low)
    cost_a, cost_b = cost(a), cost(b)
    for _ in range(60):
        if cost_a <= cost_b:
            high, b, cost_b = b, a, cost_a
            a = high - part * (high - low)
            cost_a = cost(a)
        else:
            low, a, cost_a = a, b, cost_b
            b = low + part * (high - low)
            cost_b = cost(b)
    return min((low, a, b, high), key=cost)


def best_at(line: _Line, mount: str, limits: Limits) -> Shim | None:
    """The best shim at one mount, or None when no thickness keeps the limits."""

    def cost(s: float) -> float:
        return joints.swing(_with_shim(line, mount, s)[0].residual)

    def allowed(s: float) -> bool:
        return _allowed(line, mount, s, limits)

    width = (limits.add + limits.remove) / _STEPS
    grid = [-limits.remove + i * width for i in range(_STEPS + 1)] + [0.0]
    good = sorted(s for s in grid if allowed(s))
    if not good:
        return None
    costs = {s: cost(s) for s in good}
    found = []
    for start in sorted(good, key=costs.__getitem__)[:3]:
        sides = [max(-limits.remove, start - width), min(limits.add, start + width)]
        low, high = (side if allowed(side) else _edge(start, side, allowed) for side in sides)
        refined = _golden(low, high, cost)
        found.append(refined if allowed(refined) and cost(refined) < costs[start] else start)
    return _with_shim(line, mount, min(found, key=cost))[0]


def solve(
    engine: Member, shaft: Member, gearbox: Member, layout: Layout, limits: Limits | None = None, yokes: float = 0.0
) -> tuple[Shim, ...]:
    """The best shim at each mount that has one, least remainder first (the thinner of two equals).

    Empty when no mount keeps the limits. `yokes` as in `driveline.phase`.

    >>> level = Layout(0.5, 0.1, 0.6, 0.08, 0.3)
    >>> best = solve(Member(0.0), Member(math.radians(3)), Member(math.radians(1)), level)[0]
    >>> best.mount, round(best.thickness * 1000, 1), round(math.degrees(best.residual), 2)
    ('gearbox front', 5.2, 0.0)
    """
    line = _Line(engine, shaft, gearbox, layout, yokes)
    found = [best_at(line, mount, limits or Limits()) for mount in MOUNTS]
    return tuple(sorted((s for s in found if s), key=lambda s: (round(s.residual, 6), abs(s.thickness))))
