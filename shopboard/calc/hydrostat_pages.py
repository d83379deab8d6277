"""Pages on the hydrostat: displacement, flow, leakage, ripple."""

from __future__ import annotations

import argparse

from shopboard.mechanics import hydrostat
from shopboard.mechanics.bands import figure
from shopboard.mechanics.results import Figure, Result

from .inputs import count, number, quantity
from .page import Option, Page

_GENERAL = "fluid-power formulas in general use"


def _displacement(o: argparse.Namespace) -> Result:
    given = {"bore": o.bore, "pitch_radius": o.pitch_radius, "angle": o.angle}
    move = {"pitch_radius": o.pitch_radius, "angle": o.angle}
    return Result(
        calculation="displacement",
        inputs={"pistons": o.pistons, **given},
        results={
            "displacement": figure(lambda **v: hydrostat.displacement(o.pistons, **v), "displacement", given),
            "stroke": figure(hydrostat.stroke, "length", move),
        },
        assumes=("a flat plate, ideal: no leakage and no compression",),
        source=_DISPLACEMENT.source,
    )


_DISPLACEMENT = Page(
    name="displacement",
    title="what a rotating group moves in one turn",
    body="""Displacement is the number of pistons, times the area of one bore, times its stroke. The stroke is twice
    the pitch radius times the tangent of the plate angle: V = n · πd²/4 · 2R · tan β.

    With a tilted flat plate (in-line unit). A bent-axis unit has the sine instead.""",
    options=(
        Option("--pistons", count(2, 31), "pistons in the barrel, 2 to 31; most have 7 or 9", "N", needed=True),
        Option("--bore", quantity("length"), "diameter of one bore, d", needed=True),
        Option("--pitch-radius", quantity("length"), "radius of the circle the pistons sit on, R", needed=True),
        Option("--angle", quantity("angle"), "plate angle, β, up to about 20 deg", needed=True),
    ),
    example='displacement --pistons 9 --bore "17 mm" --pitch-radius "33.5 mm" --angle "17 deg"',
    answer="""
displacement  41.85 cm3/rev
stroke        20.48 mm
assumes: a flat plate, ideal: no leakage and no compression
source: textbook formula (from memory), the stroke checked numerically
""",
    source="textbook formula (from memory), the stroke checked numerically",
    run=_displacement,
)


def _flow(o: argparse.Namespace) -> Result:
    volumetric = o.volumetric_efficiency or 1.0
    mechanical = o.mechanical_efficiency or 1.0
    given = {"displacement": o.displacement, "speed": o.speed}
    load = {"displacement": o.displacement, "pressure": o.pressure, "mechanical": mechanical}
    inputs = {**given, "pressure": o.pressure}
    for name in ("volumetric_efficiency", "mechanical_efficiency"):
        if getattr(o, name):
            inputs[name] = getattr(o, name)

    def flow(displacement: float, speed: float, volumetric: float) -> float:
        return hydrostat.flow(displacement, speed, volumetric)

    def power(displacement: float, speed: float, volumetric: float, pressure: float) -> float:
        return hydrostat.hydraulic_power(hydrostat.flow(displacement, speed, volumetric), pressure)

    def torque(displacement: float, pressure: float, mechanical: float) -> float:
        return hydrostat.torque(displacement, pressure) / mechanical

    def shaft(displacement: float, speed: float, pressure: float, mechanical: float) -> float:
        return hydrostat.hydraulic_power(hydrostat.flow(displacement, speed), pressure) / mechanical

    return Result(
        calculation="flow",
        inputs=inputs,
        results={
            "flow": figure(flow, "flow", {**given, "volumetric": volumetric}),
            "power": figure(power, "power", {**given, "volumetric": volumetric, "pressure": o.pressure}),
            "torque": figure(torque, "torque", load),
            "shaft_power": figure(shaft, "power", {**given, "pressure": o.pressure, "mechanical": mechanical}),
        },
        assumes=("power is what the oil carries; torque and shaft power are what turns a pump under this pressure",),
        source=_GENERAL,
    )


_FLOW = Page(
    name="flow",
    title="flow, power and torque of a pump",
    body="""Flow is displacement times speed, less what leaks: Q = V · n · η_vol. Power in the oil is flow times
    pressure. Torque at the shaft is displacement times pressure over 2π, more by what rubs: T = V · Δp / (2π · η_mech).

    In US units: gpm = in³ · rpm / 231, in·lb = in³ · psi / 2π, hp = psi · gpm / 1714.""",
    options=(
        Option("--displacement", quantity("displacement"), "volume a turn, V", needed=True),
        Option("--speed", quantity("rotation"), "speed of the shaft, n", needed=True),
        Option("--pressure", quantity("pressure"), "pressure difference, Δp", needed=True),
        Option("--volumetric-efficiency", quantity("fraction"), "share of the flow not leaked, such as 92 %"),
        Option("--mechanical-efficiency", quantity("fraction"), "share of the torque not rubbed away, such as 90 %"),
    ),
    example='flow --displacement "50 cm3/rev" --speed "1500 rpm" --pressure "200 bar"',
    answer="""
flow         75 L/min
power        25 kW
torque       159.2 N·m
shaft power  25 kW
assumes: power is what the oil carries; torque and shaft power are what turns a pump under this
  pressure
source: fluid-power formulas in general use
""",
    source=_GENERAL,
    run=_flow,
)


def _leakage(o: argparse.Namespace) -> Result:
    given = {
        "bore": o.bore,
        "clearance": o.radial_clearance,
        "pressure": o.pressure,
        "viscosity": o.viscosity,
        "length": o.length,
    }
    return Result(
        calculation="leakage",
        inputs={**given, "eccentricity": o.eccentricity},
        results={
            "leakage": figure(
                lambda **v: hydrostat.bore_leakage(**v, eccentricity=o.eccentricity), "small flow", given
            ),
            "if_concentric": figure(hydrostat.bore_leakage, "small flow", given),
            "if_touching": figure(lambda **v: hydrostat.bore_leakage(**v, eccentricity=1.0), "small flow", given),
        },
        assumes=(
            "viscosity is the film's, which is hotter than the sump",
            "one piston, laminar, a round and parallel gap",
        ),
        source=_LEAKAGE.source,
    )


_LEAKAGE = Page(
    name="leakage",
    title="oil past one piston in its bore",
    body="""Leakage goes with the clearance cubed, with pressure, and with one over viscosity and sealing length:
    q = π · d · h³ · Δp / (12 · μ · L) · (1 + 1.5 · ε²). Twice the clearance leaks eight times as much; a piston that
    touches one side (ε = 1) leaks two and a half times as much as a centred one (ε = 0).""",
    options=(
        Option("--bore", quantity("length"), "diameter of the bore, d", needed=True),
        Option("--radial-clearance", quantity("length"), "clearance on the radius, h (half the play)", needed=True),
        Option("--pressure", quantity("pressure"), "pressure difference, Δp", needed=True),
        Option("--viscosity", quantity("dynamic viscosity"), "dynamic viscosity of the film, μ (mPa s)", needed=True),
        Option("--length", quantity("length"), "sealing length, L", needed=True),
        Option("--eccentricity", number(0, 1), "0 centred to 1 touching (default 0)", "NUMBER", default=0.0),
    ),
    example='leakage --bore "17 mm" --radial-clearance "20 um" --pressure "200 bar" --viscosity "25 mPa s" '
    '--length "30 mm" --eccentricity 0.5',
    answer="""
leakage        78.33 mL/min
if concentric  56.97 mL/min
if touching    142.4 mL/min
assumes: viscosity is the film's, which is hotter than the sump
assumes: one piston, laminar, a round and parallel gap
source: Rabie, Fluid Power Engineering, p. 21, eq. 2.19; the eccentric term integrated round the gap
""",
    source="Rabie, Fluid Power Engineering, p. 21, eq. 2.19; the eccentric term integrated round the gap",
    run=_leakage,
)


def _ripple(o: argparse.Namespace) -> Result:
    return Result(
        calculation="ripple",
        inputs={"pistons": o.pistons},
        results={
            "ripple": Figure(hydrostat.flow_ripple(o.pistons), "fraction"),
            "order": Figure(hydrostat.ripple_order(o.pistons)),
        },
        assumes=("ideal pistons in sine motion; a unit with one weak piston also swings once a turn",),
        source=_RIPPLE.source,
    )


_RIPPLE = Page(
    name="ripple",
    title="how much the flow of a piston unit swings, and how often a turn",
    body="""The pistons' half-sine flows add up to a mean with a ripple, greatest less least over the mean. An odd
    number of pistons ripples far less than an even one, (π/2n) · tan(π/4n) against (π/n) · tan(π/2n), and twice as
    often: 2n times a turn against n.""",
    options=(Option("--pistons", count(2, 31), "pistons in the barrel, 2 to 31", "N", needed=True),),
    example="ripple --pistons 9",
    answer="""
ripple  1.527 %
order   18
assumes: ideal pistons in sine motion; a unit with one weak piston also swings once a turn
source: sum of half sines, checked by a Fourier transform
""",
    source="sum of half sines, checked by a Fourier transform",
    run=_ripple,
)

HYDROSTAT_PAGES = (_DISPLACEMENT, _FLOW, _LEAKAGE, _RIPPLE)
