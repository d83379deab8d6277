"""What measured joint angles answer: true angles in space, what is left over, the shim that leaves least."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import NamedTuple

from . import driveline, joints, outcomes, shims, sources, whirl
from .bands import Z90, spread
from .driveline import Geometry, Member
from .model_data import ModelData
from .results import Figure, Result
from .units import Quantity

CAUTION = "engine off, key out and power take-off out before a hand goes near the shaft"
MEMBERS = ("engine", "shaft", "gearbox")
Line = tuple[Quantity, Quantity]


class Shimming(NamedTuple):
    """How thick a shim to think of, how much could come out, how far a joint may rise or sink; None: no limit told."""

    most: Quantity
    out: Quantity | None = None
    clearance: Quantity | None = None


def _member(line: Line) -> Member:
    return Member(line[0].si, line[1].si)


def _of_lines(lines: tuple[Line, ...]) -> Geometry:
    return driveline.geometry(*(driveline.direction(_member(line)) for line in lines))


def joints_of_lines(
    data: ModelData,
    lines: tuple[Line, Line, Line],
    speed: Quantity,
    shimming: Shimming,
    phase: Quantity | None = None,
) -> Result:
    """From the lines of engine, shaft and driven unit, each (pitch, yaw) as an inclinometer reads them."""
    yokes = phase.si if phase else 0.0
    found = _of_lines(lines)
    given = {f"{n}{i}": line[i] for n, line in zip(MEMBERS, lines, strict=True) for i in (0, 1)}

    def left(**moved: float) -> float:
        turned = driveline.geometry(*(driveline.direction(Member(moved[f"{n}0"], moved[f"{n}1"])) for n in MEMBERS))
        return joints.chain_angle(turned.front, turned.rear, driveline.phase(turned, yokes))

    half = Z90 * spread(left, {n: q.si for n, q in given.items()}, {n: q.error for n, q in given.items()})
    typed = {
        f"{n}_{view}": q for n, line in zip(MEMBERS, lines, strict=True)
        for view, q in zip(("pitch", "yaw"), line, strict=True)
    }  # fmt: skip
    rows, remarks = _shims(data, lines, shimming, yokes)
    return _answer(data, found, driveline.phase(found, yokes), speed, half, _with(typed, phase), rows, remarks)


def joints_of_angles(
    data: ModelData, angle_in: Quantity, angle_out: Quantity, speed: Quantity, phase: Quantity | None = None
) -> Result:
    """From the two joint angles, where they were measured or read from a drawing."""
    turned = phase.si if phase else 0.0
    given = {"angle_in": angle_in, "angle_out": angle_out}

    def left(angle_in: float, angle_out: float) -> float:
        return joints.chain_angle(abs(angle_in), abs(angle_out), turned)

    half = Z90 * spread(left, {n: q.si for n, q in given.items()}, {n: q.error for n, q in given.items()})
    found = Geometry(angle_in.si, angle_out.si, 0.0)
    return _answer(data, found, turned, speed, half, _with(given, phase), (), ())


def _with(given: Mapping[str, Quantity], phase: Quantity | None) -> dict[str, Quantity]:
    return {**given, **({"phase": phase} if phase else {})}


def _answer(
    data: ModelData,
    found: Geometry,
    phase: float,
    speed: Quantity,
    half: float,
    inputs: Mapping[str, Quantity],
    rows: tuple[dict[str, Figure], ...],
    remarks: tuple[str, ...],
) -> Result:
    if max(found.front, found.rear) >= math.radians(45):
        raise ValueError("a joint angle of 45 degrees or more is no universal joint's work")
    said = driveline.assess(found.front, found.rear, phase, speed.si)
    middle = joints.chain_angle(found.front, found.rear, phase)
    band = (max(0.0, middle - half), middle + half) if half else (None, None)
    results = {
        "front_joint": Figure(found.front, "angle"),
        "rear_joint": Figure(found.rear, "angle"),
        "left_over": Figure(said.residual, "angle", *band),
        "left_over_small_angle": Figure(said.residual_small, "angle"),
        "output_swing": Figure(said.output_swing, "fraction"),
        "output_acceleration": Figure(said.output_acceleration, "angular acceleration"),
        "torsion": Figure(said.torsion, "angular acceleration"),
        "torsion_limit": Figure(driveline.TORSION_LIMIT, "angular acceleration"),
        "shaft_swing": Figure(said.shaft_swing, "fraction"),
        "shaft_acceleration": Figure(said.shaft_acceleration, "angular acceleration"),
        "allowed_left_over": Figure(said.limit_angle, "angle"),
    }
    return Result(
        calculation="joints",
        inputs={**inputs, "speed": speed},
        results=results | _spline(data),
        verdict=driveline.verdict(found.front, found.rear, said, speed.si),
        rows=rows,
        assumes=(
            "equal angles cancel at the output; the shaft between still swings with the front joint's angle",
            *remarks,
            *data.assumptions(),
            CAUTION,
        ),
        source=sources.JOINTS,
        outcome=outcomes.joints(found.front, found.rear, said, speed.si),
    )


_MOUNTS = (
    "engine_mounts",
    "engine_rear_mount_to_joint",
    "shaft_length",
    "gearbox_front_mount_to_joint",
    "gearbox_mounts",
)


def _shims(
    data: ModelData, lines: tuple[Line, Line, Line], asked: Shimming, yokes: float
) -> tuple[tuple[dict[str, Figure], ...], tuple[str, ...]]:
    """The best shim at each mount, when the mounts are known."""
    places = [data.find(name) for name in _MOUNTS]
    if not all(places):
        missing = ", ".join(n for n, p in zip(_MOUNTS, places, strict=True) if not p)
        return (), (f"no shim is worked out: the model gives no {missing}",)
    travel, used = data.find("spline_travel"), data.find("spline_used")
    room = (math.inf, math.inf) if travel is None or used is None else (travel - used, used)
    near = asked.clearance.si if asked.clearance else math.inf
    limits = shims.Limits(
        add=asked.most.si,
        remove=asked.out.si if asked.out else 0.0,
        joint_least=data.need("joint_least"),
        joint_most=data.need("joint_most"),
        spline_in=room[0],
        spline_out=room[1],
        rise=near,
        sink=near,
    )
    layout = shims.Layout(*(float(p or 0) for p in places))
    engine, shaft, gearbox = (_member(line) for line in lines)
    found = shims.solve(engine, shaft, gearbox, layout, limits, yokes)
    if not found:
        return (), ("no single shim keeps the joint angles, the spline and the clearances within their limits",)
    return tuple(
        {
            "shim_at": Figure(s.mount),
            "thickness": Figure(s.thickness, "length"),
            "front_joint": Figure(s.front, "angle"),
            "rear_joint": Figure(s.rear, "angle"),
            "left_over": Figure(s.residual, "angle"),
            "pushes_spline_in": Figure(s.shortens, "length"),
        }
        for s in found
    ), ("a shim tips its member about the other mount; joints lie at the height of the mounts",)


def _spline(data: ModelData) -> dict[str, Figure]:
    travel, used = data.find("spline_travel"), data.find("spline_used")
    if travel is None or used is None:
        return {}
    room, held = whirl.spline_left(travel, used)
    return {"spline_room_left": Figure(room, "length"), "spline_still_held": Figure(held, "length")}
