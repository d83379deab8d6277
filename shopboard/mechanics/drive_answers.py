"""What timed runs, neutral creep and a slope hold answer: readings in, one result out, with what it assumes and lacks.

The command line and the Bench both ask here, so that they cannot say different things.
"""

from __future__ import annotations

import math
from collections.abc import Mapping

from . import neutral_creep, outcomes, run_advice, runs, slope_hold, sources, timed_runs, units
from .bands import Z90
from .model_data import ModelData
from .results import Figure, Result
from .runs import Drive, Run
from .units import Quantity, UnitError

PROVE = "prove the brake before any run on a grade: clear run-out, seat belt and roll bar, a second person"
STANDS = (
    "wheels clear on rated stands under the frame, chocked, nobody in front or behind, engine at idle; key out before "
    "the link is touched"
)
#: What each part of a run measures; `grade` is read by `units.grade`.
RUN_PARTS = {
    "distance": "distance",
    "time": "time",
    "speed": "rotation",
    "oil": "temperature",
    "pressure": "pressure",
}
DIRECTIONS = ("forward", "reverse")


def read_run(given: Mapping[str, str]) -> Run:
    """A run from its parts as typed: distance, time, speed, oil, and maybe grade, pressure, direction.

    Raises UnitError, one line.
    """
    direction = given.get("direction", "forward")
    if direction not in DIRECTIONS:
        raise UnitError(f"direction is forward or reverse, not '{direction}'")
    unknown = set(given) - {*RUN_PARTS, "grade", "direction"}
    missing = {"distance", "time", "speed", "oil"} - set(given)
    if unknown or missing:
        said = f"unknown: {', '.join(sorted(unknown))}" if unknown else f"missing: {', '.join(sorted(missing))}"
        raise UnitError(f"a run has distance, time, speed, oil, and maybe grade, pressure, direction; {said}")
    read: dict[str, Quantity] = {n: units.parse(given[n], d) for n, d in RUN_PARTS.items() if n in given}
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


def _drive(data: ModelData, gear: str, mass: Quantity | None) -> Drive:
    return runs.drive(data, gear, mass.si if mass else None, (mass.error or None) if mass else None)


def timed_runs_answer(
    data: ModelData, gear: str, mass: Quantity | None, made: tuple[Run, ...], sound: tuple[Run, ...] = ()
) -> Result:
    """Stroke and leakage from runs; `sound` are runs of a sound machine of this model, instead of rated efficiency.

    Raises MissingDatum, RunsRefused (with the run to add) or ValueError for a run that goes over relief.
    """
    drive = _drive(data, gear, mass)
    over = _beyond_relief(drive, made)
    reference_error = 0.0
    if sound:
        new = timed_runs.fit(drive, sound)
        drive = drive._replace(new_leakage=new.leakage.value)
        reference_error = new.leakage.error / new.leakage.value
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
        inputs={**({"mass": mass} if mass else {}), "runs": len(made)},
        results=results,
        verdict=f"{said.word}: {said.text}",
        rows=_run_rows(made, found, drive),
        assumes=(*over, *_BELIEFS, *data.assumptions(), PROVE),
        source=sources.TIMED_RUNS,
        outcome=outcomes.timed_runs(said.worn, said.lost),
    )


_BELIEFS = (
    "flying start, engine speed read under load, below relief",
    "errors not given are the usual ones: 0.1 s, 0.5 % of distance and speed, 5 % of mass, 2 K, 0.5 % of grade",
    "bands are 90 %, from those errors and from what nobody measured: slip, radius, rolling resistance, film",
)


def _beyond_relief(drive: Drive, made: tuple[Run, ...]) -> tuple[str, ...]:
    if drive.relief is None:
        return ("the model gives no relief setting: that the runs stayed below it is taken on trust",)
    over = [i for i, p in enumerate(runs.pressures(drive, made), 1) if p > 0.95 * drive.relief]
    if over:
        raise ValueError(f"run {over[0]} reaches the relief setting, so oil went over it: use a gentler grade")
    return ()


def _run_rows(made: tuple[Run, ...], found: timed_runs.Fit, drive: Drive) -> tuple[Mapping[str, Figure], ...]:
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


def neutral_creep_answer(
    data: ModelData,
    forward: tuple[Quantity, ...],
    reverse: tuple[Quantity, ...],
    rest: Quantity,
    arm: Quantity | None = None,
    pitch: Quantity | None = None,
) -> Result:
    """The plate's true zero and how far to move the link, from the arm's angles where creep starts (each edge as both
    wheels showed it) and where it rests. Raises ValueError when the edges lie the wrong way round."""
    error = max(q.error for q in (*forward, *reverse, rest))
    ahead, back = (neutral_creep.edge(tuple(q.si for q in e)) for e in (forward, reverse))
    found = neutral_creep.neutral(ahead, back, rest.si, error)
    band = found.band if error else (None, None)
    results = {
        "true_zero": Figure(found.true_zero, "angle"),
        "offset": Figure(found.offset, "angle", *band),
        "dead_band": Figure(found.dead_band, "angle"),
    }
    lever = arm.si if arm else data.find("control_arm")
    thread = pitch.si if pitch else data.find("link_pitch")
    assumes = ["the control arm turns the plate one to one", STANDS]
    if lever is None:
        assumes.insert(0, "no link movement: it needs the arm's length, or a model with control_arm")
    else:
        move, turns = neutral_creep.link_movement(found.offset, lever, thread)
        results["move_link"] = Figure(move, "length")
        if turns is not None:
            results["turns"] = Figure(turns)
    said = "creeps at rest" if found.creeps else "does not creep at rest"
    way = "forward" if found.offset > 0 else "reverse"
    named = (("forward_edge", forward), ("reverse_edge", reverse))
    return Result(
        calculation="neutral-creep",
        inputs={f"{n}_{i + 1}": q for n, edge in named for i, q in enumerate(edge)} | {"rest": rest},
        results=results,
        verdict=f"{said}; the plate rests {abs(math.degrees(found.offset)):.1f}° towards {way} of its true zero",
        assumes=tuple(assumes),
        source="geometry",
        outcome=outcomes.neutral(found),
    )


def slope_hold_answer(
    data: ModelData,
    gear: str,
    mass: Quantity | None,
    grade: Quantity,
    nose_up: Quantity,
    nose_down: Quantity,
    oil: Quantity,
) -> Result:
    """Leakage from the downhill creep speeds on a slope. Raises MissingDatum, or ValueError for no slope."""
    drive = _drive(data, gear, mass)
    if grade.si <= 0:
        raise ValueError("the grade must be above zero: it is the slope the machine stands on")
    errors = (nose_up.error or 0.05 * abs(nose_up.si), nose_down.error or 0.05 * abs(nose_down.si))
    found = slope_hold.hold(drive, grade.si, nose_up.si, nose_down.si, oil.si - 273.15, errors, oil.error or 2.0)
    half = Z90 * found.error
    results = {
        "creep_from_leakage": Figure(found.creep, "speed"),
        "creep_from_neutral": Figure(found.offset, "speed"),
        "loop_pressure": Figure(found.pressure, "pressure"),
        "leakage_constant_mm3": Figure(
            found.leakage * 1e9, "", max(0.0, found.leakage - half) * 1e9, (found.leakage + half) * 1e9
        ),
    }
    verdict = "leakage has nothing to be compared with"
    if drive.new_leakage:
        ratio, low, high = (
            max(0.0, k) / drive.new_leakage for k in (found.leakage, found.leakage - half, found.leakage + half)
        )
        results["leakage_over_sound"] = Figure(ratio, "", low, high)
        verdict = f"leaks {ratio:.1f} × new ({low:.1f}–{high:.1f})"
    return Result(
        calculation="slope-hold",
        inputs={"grade": grade, "nose_up": nose_up, "nose_down": nose_down, "oil": oil},
        results=results,
        verdict=verdict,
        assumes=(
            "speeds are downhill, engine running, control at rest; errors not given are 5 % of speed and 2 K",
            *data.assumptions(),
            slope_hold.CAUTION,
        ),
        source=sources.SLOPE_HOLD,
        outcome=outcomes.slope_hold(found, drive.new_leakage),
    )
