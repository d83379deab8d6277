"""What of a result a job keeps as readings, by the quantity names of the trouble book where it has them."""

from __future__ import annotations

from collections.abc import Callable

from .results import Figure, Result, as_reading
from .timed_runs import LEAST_CONTRAST

#: A measured number as a job keeps it: quantity, value, unit, standard error in that unit.
Kept = tuple[str, float, str, float]


def kept(result: Result, units: str = "metric") -> tuple[Kept, ...]:
    """The readings of a result, none for a calculation that measures nothing on a machine.

    >>> made = Result(calculation="joints", inputs={}, results={"front_joint": Figure(0.1), "rear_joint": Figure(0.1),
    ...     "left_over": Figure(0.0, "angle")})
    >>> kept(made)[2]
    ('angle_left_over', 0.0, 'deg', 0.0)
    """
    figures = _BY.get(result.calculation, _nothing)(result)
    return tuple((name, *_reading(figure, units)) for name, figure in figures.items())


def _reading(figure: Figure, units: str) -> tuple[float, str, float]:
    """Value, unit and error, to the four and two figures that a reader wants."""
    value, unit, error = as_reading(figure, units)
    return float(f"{value:.4g}"), unit or "×", float(f"{error:.2g}")


def _nothing(_result: Result) -> dict[str, Figure]:
    return {}


def _share(figure: Figure) -> Figure:
    """A multiple as a share, so that it has a unit."""
    return Figure(figure.value, "fraction", figure.low, figure.high)


def _timed_runs(result: Result) -> dict[str, Figure]:
    """Stroke of the weaker direction, and leakage where the oil's contrast lets tyre slip be told from it."""
    strokes = [f for name, f in result.results.items() if name.startswith("stroke_") and isinstance(f.value, float)]
    found = {"share_of_stroke": min(strokes, key=lambda f: float(f.value or 0))}
    contrast, leakage = result.results["oil_contrast"].value, result.results.get("leakage_over_sound")
    if leakage is not None and isinstance(contrast, float) and contrast >= LEAST_CONTRAST:
        found["leakage_over_new"] = _share(leakage)
    return found


def _slope_hold(result: Result) -> dict[str, Figure]:
    found = {name: result.results[name] for name in ("creep_from_leakage", "creep_from_neutral")}
    leakage = result.results.get("leakage_over_sound")
    return found if leakage is None else {"leakage_on_slope_over_new": _share(leakage), **found}


def _neutral(result: Result) -> dict[str, Figure]:
    return {"neutral_offset": result.results["offset"], "dead_band": result.results["dead_band"]}


def _joints(result: Result) -> dict[str, Figure]:
    names = {"front_joint": "front_joint_angle", "rear_joint": "rear_joint_angle", "left_over": "angle_left_over"}
    return {name: result.results[figure] for figure, name in names.items()}


def _recording(result: Result) -> dict[str, Figure]:
    """The strongest peak; how many there are where there is none."""
    if not result.rows:
        return {"vibration_peaks": Figure(0.0)}
    row = result.rows[0]
    return {"strongest_vibration": row.get("frequency", row["order"])}


_BY: dict[str, Callable[[Result], dict[str, Figure]]] = {
    "timed-runs": _timed_runs,
    "slope-hold": _slope_hold,
    "neutral-creep": _neutral,
    "joints": _joints,
    "recording": _recording,
}
