"""Pages on the drive shaft: joints and whirl."""

from __future__ import annotations

import argparse

from shopboard.mechanics import shaft_answers, sources, whirl
from shopboard.mechanics.bands import figure
from shopboard.mechanics.results import Figure, Result

from .inputs import CalcError, model_data, pair, quantity
from .page import Option, Page


def _joints(o: argparse.Namespace) -> Result:
    lines, data = (o.engine, o.shaft, o.gearbox), model_data(o)
    if all(lines):
        if o.angle_in or o.angle_out:
            raise CalcError("give either the two joint angles or the three lines, not both")
        shimming = shaft_answers.Shimming(o.shim_most, o.shim_out, o.clearance)
        return shaft_answers.joints_of_lines(data, lines, o.speed, shimming, o.phase)
    if any(lines):
        raise CalcError("three lines are needed: --engine, --shaft and --gearbox")
    if o.angle_in is None or o.angle_out is None:
        raise CalcError("give --angle-in and --angle-out, or the three lines --engine, --shaft and --gearbox")
    return shaft_answers.joints_of_angles(data, o.angle_in, o.angle_out, o.speed, o.phase)


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
    source=sources.JOINTS,
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
