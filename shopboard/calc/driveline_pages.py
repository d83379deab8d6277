"""Pages on the drive shaft: joints and whirl."""

from __future__ import annotations

import argparse
import math
from typing import Any

from shopboard.mechanics import driveline, joints, shims, whirl
from shopboard.mechanics.bands import Z90, figure, spread
from shopboard.mechanics.driveline import Geometry, Member
from shopboard.mechanics.model_data import ModelData
from shopboard.mechanics.results import Figure, Result

from .inputs import CalcError, model_data, pair, quantity
from .page import Option, Page

_CAUTION = "engine off, key out and power take-off out before a hand goes near the shaft"


def _geometry(o: argparse.Namespace) -> tuple[Geometry, float, dict[str, Any]]:
    """Joint angles, the phase that counts, and the inputs as typed."""
    lines = (o.engine, o.shaft, o.gearbox)
    yokes = o.phase.si if o.phase else 0.0
    extra = {"phase": o.phase} if o.phase else {}
    if all(lines):
        if o.angle_in or o.angle_out:
            raise CalcError("give either the two joint angles or the three lines, not both")
        found = driveline.geometry(*(driveline.direction(_member(line)) for line in lines))
        names = ("engine", "shaft", "gearbox")
        typed = {
            f"{n}_{view}": q for n, line in zip(names, lines, strict=True)
            for view, q in zip(("pitch", "yaw"), line, strict=True)
        }  # fmt: skip
        return found, driveline.phase(found, yokes), {**typed, **extra}
    if any(lines):
        raise CalcError("three lines are needed: --engine, --shaft and --gearbox")
    if o.angle_in is None or o.angle_out is None:
        raise CalcError("give --angle-in and --angle-out, or the three lines --engine, --shaft and --gearbox")
    return (
        Geometry(o.angle_in.si, o.angle_out.si, 0.0),
        yokes,
        {"angle_in": o.angle_in, "angle_out": o.angle_out, **extra},
    )


def _member(line: Any) -> Member:
    return Member(line[0].si, line[1].si)


def _joints(o: argparse.Namespace) -> Result:
    found, phase, inputs = _geometry(o)
    if max(found.front, found.rear) >= math.radians(45):
        raise CalcError("a joint angle of 45 degrees or more is no universal joint's work")
    said = driveline.assess(found.front, found.rear, phase, o.speed.si)
    band = _band(o, found, phase)
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
    data = model_data(o)
    rows, remarks = _shims(o, data)
    results |= _spline(data)
    return Result(
        calculation="joints",
        inputs={**inputs, "speed": o.speed},
        results=results,
        verdict=driveline.verdict(found.front, found.rear, said, o.speed.si),
        rows=rows,
        assumes=(
            "equal angles cancel at the output; the shaft between still swings with the front joint's angle",
            *remarks,
            *data.assumptions(),
            _CAUTION,
        ),
        source=_JOINTS.source,
    )


def _band(o: argparse.Namespace, found: Geometry, phase: float) -> tuple[float | None, float | None]:
    """The 90 % band of what is left over, from the errors of the readings."""

    def left(**moved: float) -> float:
        if o.engine:
            lines = [Member(moved[f"{n}0"], moved[f"{n}1"]) for n in ("engine", "shaft", "gearbox")]
            turned = driveline.geometry(*(driveline.direction(line) for line in lines))
            return joints.chain_angle(turned.front, turned.rear, driveline.phase(turned, o.phase.si if o.phase else 0))
        return joints.chain_angle(abs(moved["angle_in"]), abs(moved["angle_out"]), phase)

    if o.engine:
        given = {f"{n}{i}": getattr(o, n)[i] for n in ("engine", "shaft", "gearbox") for i in (0, 1)}
    else:
        given = {n: getattr(o, n) for n in ("angle_in", "angle_out")}
    half = Z90 * spread(left, {n: q.si for n, q in given.items()}, {n: q.error for n, q in given.items()})
    middle = joints.chain_angle(found.front, found.rear, phase)
    return (max(0.0, middle - half), middle + half) if half else (None, None)


_MOUNTS = (
    "engine_mounts",
    "engine_rear_mount_to_joint",
    "shaft_length",
    "gearbox_front_mount_to_joint",
    "gearbox_mounts",
)


def _shims(o: argparse.Namespace, data: ModelData) -> tuple[tuple[dict[str, Figure], ...], tuple[str, ...]]:
    """The best shim at each mount, when lines and mounts are known."""
    places = [data.find(name) for name in _MOUNTS]
    if not o.engine:
        return (), ()
    if not all(places):
        missing = ", ".join(n for n, p in zip(_MOUNTS, places, strict=True) if not p)
        return (), (f"no shim is worked out: the model gives no {missing}",)
    spline = data.find("spline_travel"), data.find("spline_used")
    room = (float(spline[0]) - float(spline[1]), float(spline[1])) if None not in spline else (math.inf, math.inf)  # type: ignore[arg-type]
    limits = shims.Limits(
        add=o.shim_most.si,
        remove=o.shim_out.si if o.shim_out else 0.0,
        joint_least=data.need("joint_least"),
        joint_most=data.need("joint_most"),
        spline_in=room[0],
        spline_out=room[1],
        rise=o.clearance.si if o.clearance else math.inf,
        sink=o.clearance.si if o.clearance else math.inf,
    )
    layout = shims.Layout(*(float(p or 0) for p in places))
    lines = (_member(o.engine), _member(o.shaft), _member(o.gearbox))
    found = shims.solve(*lines, layout, limits, o.phase.si if o.phase else 0.0)
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


_JOINTS = Page(
    name="joints",
    title="what two universal joints do to the shaft and to what they drive",
    body="""A joint at angle β turns its driven side between cos β and 1/cos β times as fast, twice a turn. A second
    joint takes that out again when the angles are equal and the yokes are placed for it (phase 0); what is left is as
    one joint of √|β₁² − β₂²| would do, √(β₁² + β₂²) when the yokes stand a right angle wrong. In between
    β⁴ = β₁⁴ + β₂⁴ − 2β₁²β₂² · cos 2φ. Figures are exact; the small-angle form stands beside.

    With the three lines as read by an inclinometer in the side view (pitch, positive where the line rises from the
    engine to the driven unit) and in the top view (yaw, positive to the left) the true angles in space come out, the
    turn between the two joint planes counted in; with the model's mounts also the shim that leaves least.

    Torsion ω²β² above 400 rad/s² shakes the driven unit; that limit is made for engine speeds and is shown, not judged,
    below 1000 rpm. Rules of thumb: no joint above 6 deg, the two within 1.5 deg.""",
    options=(
        Option("--angle-in", quantity("angle", zero=True), "angle of the joint at the engine, 0 to 45 deg"),
        Option("--angle-out", quantity("angle", zero=True), "angle of the joint at the driven unit, 0 to 45 deg"),
        Option("--phase", quantity("angle", signed=True), "how far the yokes stand from cancelling (default 0 deg)"),
        Option("--speed", quantity("rotation"), "speed of the shaft", needed=True),
        Option("--engine", pair, "the engine's line, such as 2 deg,0 deg", "PITCH,YAW"),
        Option("--shaft", pair, "the shaft's line", "PITCH,YAW"),
        Option("--gearbox", pair, "the driven unit's line", "PITCH,YAW"),
        Option("--shim-most", quantity("length"), "thickest shim to think of (default 12 mm)", default="12 mm"),
        Option("--shim-out", quantity("length"), "how much shim could come out of a mount (default none)"),
        Option("--clearance", quantity("length"), "how far a joint may rise or sink before something touches"),
    ),
    example='joints --angle-in "10 deg" --angle-out "6 deg" --speed "2600 rpm"',
    answer="""
8.0° left over shakes the driven unit: 4.2° allowed at this speed; a joint works at 10.0°, the rule
  of thumb is 6°; the joint angles differ by 4.0°, the rule of thumb is 1.5°
front joint            10 deg
rear joint             6 deg
left over              8.015 deg
left over small angle  8 deg
output swing           1.963 %
output acceleration    1455 rad/s2
torsion                1451 rad/s2
torsion limit          400 rad/s2
shaft swing            3.062 %
shaft acceleration     2270 rad/s2
allowed left over      4.209 deg
assumes: equal angles cancel at the output; the shaft between still swings with the front joint's
  angle
assumes: engine off, key out and power take-off out before a hand goes near the shaft
source: Carvill, Mechanical Engineer's Data Handbook, §2.4.3 (joint); Engineers Edge, after SAE AE-7
  §3.1.1
""",
    source="Carvill, Mechanical Engineer's Data Handbook, §2.4.3 (joint); Engineers Edge, after SAE AE-7 §3.1.1",
    run=_joints,
    takes_model=True,
)


def _whirl(o: argparse.Namespace) -> Result:
    given = {"outer": o.outer, "length": o.length, "modulus": o.modulus, "density": o.density, "inner": o.inner}
    found = figure(lambda **v: whirl.whirl_speed(**v, ends=o.ends), "rotation", given)
    results = {"whirl_speed": found, "keep_below": Figure(0.75 * float(found.value or 0), "rotation")}
    verdict = ""
    if o.speed:
        share = o.speed.si / float(found.value or 1)
        verdict = f"runs at {100 * share:.0f} % of its whirl speed: {'too near' if share > 0.75 else 'clear of it'}"
    return Result(
        calculation="whirl",
        inputs={**given, "ends": o.ends, **({"speed": o.speed} if o.speed else {})},
        results=results,
        verdict=verdict,
        assumes=(
            "a straight, slender, uniform shaft on stiff ends; a real one whirls somewhat lower",
            "keep below three quarters of it: common practice, no source",
        ),
        source=_WHIRL.source,
    )


_WHIRL = Page(
    name="whirl",
    title="the speed at which a shaft bows out",
    body="""A shaft bows out at the speed of its own bending vibration: k · √(E·I / (m·L⁴)) turns a second, where I is
    the second moment of its section and m its mass a length. k is 1.57 for pinned ends (two joints), 3.56 for fixed
    ones, 0.56 for one free end. Twice the length whirls at a quarter of the speed.""",
    options=(
        Option("--outer", quantity("length"), "outside diameter", needed=True),
        Option("--inner", quantity("length", zero=True), "bore (default 0 mm, a solid shaft)", default="0 mm"),
        Option("--length", quantity("length"), "length between the ends, L", needed=True),
        Option("--modulus", quantity("modulus"), "E of the metal (default 207 GPa, steel)", default="207 GPa"),
        Option("--density", quantity("density"), "of the metal (default 7850 kg/m3, steel)", default="7850 kg/m3"),
        Option("--ends", str, "how the ends are held (default pinned)", default="pinned", choices=whirl.ENDS),
        Option("--speed", quantity("rotation"), "working speed, to compare"),
    ),
    example='whirl --outer "60 mm" --inner "54 mm" --length "1200 mm"',
    answer="""
whirl speed  6782 rpm
keep below   5087 rpm
assumes: a straight, slender, uniform shaft on stiff ends; a real one whirls somewhat lower
assumes: keep below three quarters of it: common practice, no source
source: Carvill, Mechanical Engineer's Data Handbook, p. 45
""",
    source="Carvill, Mechanical Engineer's Data Handbook, p. 45",
    run=_whirl,
)

DRIVELINE_PAGES = (_JOINTS, _WHIRL)
