"""The work behind the pages on timed runs, neutral creep and slope hold; loaded only when one of them runs."""

from __future__ import annotations

import argparse
import math
from collections.abc import Mapping
from typing import Any

from shopboard.mechanics import neutral_creep, run_advice, runs, slope_hold, timed_runs, units
from shopboard.mechanics.bands import Z90
from shopboard.mechanics.results import Figure, Result
from shopboard.mechanics.runs import Run
from shopboard.mechanics.units import Quantity, UnitError

from .inputs import CalcError, fields, model_data
from .runs_pages import HOLD_SOURCE, TIMED_RUNS_SOURCE

_PROVE = "prove the brake before any run on a grade: clear run-out, seat belt and roll bar, a second person"
_DIMENSIONS = {
    "distance": "distance",
    "time": "time",
    "speed": "rotation",
    "oil": "temperature",
    "pressure": "pressure",
}


def read_run(text: str) -> Run:
    """A run from `distance=20 m, time=9.4 s, grade=12 %, oil=80 degC, speed=2600 rpm`, maybe pressure, direction."""
    given = fields(text)
    direction = given.pop("direction", "forward")
    if direction not in ("forward", "reverse"):
        raise UnitError(f"direction is forward or reverse, not '{direction}'")
    unknown = set(given) - {*_DIMENSIONS, "grade"}
    missing = {"distance", "time", "speed", "oil"} - set(given)
    if unknown or missing:
        said = f"unknown: {', '.join(sorted(unknown))}" if unknown else f"missing: {', '.join(sorted(missing))}"
        raise UnitError(f"a run has distance, time, speed, oil, and maybe grade, pressure, direction; {said}")
    read: dict[str, Quantity] = {n: units.parse(given[n], d) for n, d in _DIMENSIONS.items() if n in given}
    slope = units.grade(given.get("grade", "0 %"))
    return Run(
        distance=read["distance"].si,
        time=read["time"].si,
        speed=read["speed"].si,
        grade=slope.si,
        celsius=read["oil"].si - 273.15,
        direction=direction,
        pressure=read["pressure"].si if "pressure" in read else None,
        distance_error=read["distance"].error or None,
        time_error=read["time"].error or None,
        speed_error=read["speed"].error or None,
        grade_error=slope.error or None,
        celsius_error=read["oil"].error or None,
        pressure_error=read["pressure"].error or None if "pressure" in read else None,
    )


def _drive(o: argparse.Namespace) -> tuple[runs.Drive, Any]:
    data = model_data(o)
    mass = o.mass.si if o.mass else None
    error = (o.mass.error or None) if o.mass else None
    return runs.drive(data, o.gear, mass, error), data


def timed_runs_result(o: argparse.Namespace) -> Result:
    drive, data = _drive(o)
    made = tuple(o.run)
    over = _beyond_relief(drive, made)
    reference_error = 0.0
    if o.sound_run:
        sound = timed_runs.fit(drive, tuple(o.sound_run))
        drive = drive._replace(new_leakage=sound.leakage.value)
        reference_error = sound.leakage.error / sound.leakage.value
    found = timed_runs.fit(drive, made, reference_error)
    said = run_advice.verdict(drive, made, found)
    results = {f"stroke_{name}": Figure(e.value, "fraction", e.low, e.high) for name, e in found.stroke.items()}
    if found.ratio:
        results["leakage_over_sound"] = Figure(found.ratio.value, "", found.ratio.low, found.ratio.high)
    k = found.leakage
    results["leakage_constant_mm3"] = Figure(k.value * 1e9, "", k.low * 1e9, k.high * 1e9)
    results["oil_contrast"] = Figure(found.contrast, "temperature rise")
    best = run_advice.best_run(drive, made, found, said.worn is None or said.lost is not None)
    results["run_that_would_tell_most"] = Figure(best.name)
    return Result(
        calculation="timed-runs",
        inputs={**({"mass": o.mass} if o.mass else {}), "runs": len(made)},
        results=results,
        verdict=f"{said.word}: {said.text}",
        rows=_run_rows(made, found, drive),
        assumes=(*over, *_BELIEFS, *data.assumptions(), _PROVE),
        source=TIMED_RUNS_SOURCE,
    )


_BELIEFS = (
    "flying start, engine speed read under load, below relief",
    "errors not given are the usual ones: 0.1 s, 0.5 % of distance and speed, 5 % of mass, 2 K, 0.5 % of grade",
    "bands are 90 %, from those errors and from what nobody measured: slip, radius, rolling resistance, film",
)


def _beyond_relief(drive: runs.Drive, made: tuple[Run, ...]) -> tuple[str, ...]:
    if drive.relief is None:
        return ("the model gives no relief setting: that the runs stayed below it is taken on trust",)
    over = [i for i, p in enumerate(runs.pressures(drive, made), 1) if p > 0.95 * drive.relief]
    if over:
        raise CalcError(f"run {over[0]} reaches the relief setting, so oil went over it: use a gentler grade")
    return ()


def _run_rows(made: tuple[Run, ...], found: timed_runs.Fit, drive: runs.Drive) -> tuple[Mapping[str, Figure], ...]:
    return tuple(
        {
            "run": Figure(i),
            "way": Figure(run.direction),
            "speed": Figure(run.distance / run.time, "speed"),
            "of_ideal": Figure(run.distance / run.time / drive.ideal(run.speed), "fraction"),
            "loop_pressure": Figure(pressure, "pressure"),
            "oil": Figure(run.celsius + 273.15, "temperature"),
        }
        for i, (run, pressure) in enumerate(zip(made, found.pressures, strict=True), 1)
    )


def neutral_creep_result(o: argparse.Namespace) -> Result:
    data = model_data(o)
    forward, reverse = (neutral_creep.edge(tuple(q.si for q in e)) for e in (o.forward_edge, o.reverse_edge))
    error = max(q.error for q in (*o.forward_edge, *o.reverse_edge, o.rest))
    found = neutral_creep.neutral(forward, reverse, o.rest.si, error)
    band = found.band if error else (None, None)
    results = {
        "true_zero": Figure(found.true_zero, "angle"),
        "offset": Figure(found.offset, "angle", *band),
        "dead_band": Figure(found.dead_band, "angle"),
    }
    arm = o.arm.si if o.arm else data.find("control_arm")
    pitch = o.thread_pitch.si if o.thread_pitch else data.find("link_pitch")
    assumes = ["the control arm turns the plate one to one", _STANDS]
    if arm is None:
        assumes.insert(0, "no link movement: give --arm, or a model with control_arm")
    else:
        move, turns = neutral_creep.link_movement(found.offset, arm, pitch)
        results["move_link"] = Figure(move, "length")
        if turns is not None:
            results["turns"] = Figure(turns)
    said = "creeps at rest" if found.creeps else "does not creep at rest"
    way = "forward" if found.offset > 0 else "reverse"
    return Result(
        calculation="neutral-creep",
        inputs={f"{n}_{i + 1}": q for n in ("forward_edge", "reverse_edge") for i, q in enumerate(getattr(o, n))}
        | {"rest": o.rest},
        results=results,
        verdict=f"{said}; the plate rests {abs(math.degrees(found.offset)):.1f}° towards {way} of its true zero",
        assumes=tuple(assumes),
        source="geometry",
    )


_STANDS = (
    "wheels clear on rated stands under the frame, chocked, nobody in front or behind, engine at idle; key out before "
    "the link is touched"
)


def slope_hold_result(o: argparse.Namespace) -> Result:
    drive, data = _drive(o)
    if o.grade.si <= 0:
        raise CalcError("--grade must be above zero: it is the slope the machine stands on")
    errors = (o.nose_up.error or 0.05 * abs(o.nose_up.si), o.nose_down.error or 0.05 * abs(o.nose_down.si))
    found = slope_hold.hold(
        drive, o.grade.si, o.nose_up.si, o.nose_down.si, o.oil.si - 273.15, errors, o.oil.error or 2.0
    )
    half = Z90 * found.error
    results = {
        "creep_from_leakage": Figure(found.creep, "speed"),
        "creep_from_neutral": Figure(found.offset, "speed"),
        "loop_pressure": Figure(found.pressure, "pressure"),
        "leakage_constant_mm3": Figure(
            found.leakage * 1e9, "", max(0.0, found.leakage - half) * 1e9, (found.leakage + half) * 1e9
        ),
    }
    verdict = ""
    if drive.new_leakage:
        ratio, low, high = (
            max(0.0, k) / drive.new_leakage for k in (found.leakage, found.leakage - half, found.leakage + half)
        )
        results["leakage_over_sound"] = Figure(ratio, "", low, high)
        verdict = f"leaks {ratio:.1f} × new ({low:.1f}–{high:.1f})"
    return Result(
        calculation="slope-hold",
        inputs={"grade": o.grade, "nose_up": o.nose_up, "nose_down": o.nose_down, "oil": o.oil},
        results=results,
        verdict=verdict or "leakage has nothing to be compared with",
        assumes=(
            "speeds are downhill, engine running, control at rest; errors not given are 5 % of speed and 2 K",
            *data.assumptions(),
            slope_hold.CAUTION,
        ),
        source=HOLD_SOURCE,
    )
