"""The forms of the Measure panel: filled in with what the model knows, asking only for what was measured."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import TYPE_CHECKING, Any

from shopboard.records import Model

from .fields import Check, Field, Option, Values, needed, reads, text_of
from .form_parts import choose, words

if TYPE_CHECKING:  # they bring numpy and Pint, which nothing loads before the first paint
    from shopboard.mechanics.model_data import ModelData
    from shopboard.mechanics.results import Result
    from shopboard.mechanics.runs import Run
    from shopboard.mechanics.units import Quantity


def model_data(model: Model | None) -> ModelData:
    """The numbers of a model; none for a machine of no known model."""
    from shopboard.mechanics.model_data import ModelData

    return ModelData(model.data if model else {})


def _gears(model: Model | None) -> list[str]:
    from shopboard.mechanics.model_data import RANGES

    return [name.removeprefix(RANGES) for name in (model.data if model else {}) if name.startswith(RANGES)]


def _of_model(model: Model | None, name: str) -> str:
    return str(model.data.get(name, "")) if model else ""


def warm() -> None:
    """Load ahead what the first check of a quantity and the first result need: most of a second, which no key should
    wait for."""
    import scipy.special  # noqa: F401

    from shopboard.mechanics import drive_answers, units  # noqa: F401

    units.to_si(1.0, "m", "length")


# -- reading what was typed -------------------------------------------------------------------------------------------


def quantity(text: str, dimension: str, *, signed: bool = False, zero: bool = False) -> Quantity:
    """The quantity typed, by the mechanics grammar; ValueError says in one line what would be right."""
    from shopboard.mechanics import units

    return units.parse(text, dimension, signed=signed, zero=zero)


def _measures(dimension: str, what: str, *, signed: bool = False, zero: bool = False, blank: bool = False) -> Check:
    read = reads(lambda text: quantity(text, dimension, signed=signed, zero=zero), blank=True)

    def check(typed: str, values: Values) -> str:
        if not typed.strip():
            return "" if blank else f"{what} is missing: a number with its unit"
        return read(typed, values)

    return check


def grade(text: str) -> Quantity:
    """A slope typed as 12 % or 7 deg."""
    from shopboard.mechanics import units

    return units.grade(text)


def creep(text: str) -> Quantity:
    """A creep speed: typed as a speed, 40 mm/s, or as a way and a time, 2 m in 45 s; uphill negative.

    ValueError says what would be right.

    >>> round(creep("2 m in 50 s").si, 3), round(creep("-40 mm/s").si, 3)
    (0.04, -0.04)
    """
    import math

    from shopboard.mechanics import units

    way, apart, time = text.rpartition(" in ")
    if not apart:
        return units.parse(text, "speed", signed=True)
    gone, took = units.parse(way, "distance", signed=True), units.parse(time, "time")
    si = gone.si / took.si
    share = math.hypot(gone.error / gone.si if gone.si else 0.0, took.error / took.si)
    return units.Quantity(si, "m/s", si, "speed", abs(si) * share)


def edge(text: str) -> tuple[Quantity, ...]:
    """An edge of the dead band, once or as both wheels showed it: 3 deg, or 3.0 deg/3.2 deg."""
    return tuple(quantity(part, "angle", signed=True) for part in text.split("/"))


# -- timed runs -------------------------------------------------------------------------------------------------------


def setup_fields(model: Model | None, before: Values) -> tuple[Field, ...]:
    """What holds for all runs of a set: gear and mass."""
    gears = _gears(model)
    mass = text_of(before, "mass") or _of_model(model, "mass")
    return (
        *_gear(gears, text_of(before, "gear")),
        Field(
            "mass", "machine, driver", hint="as weighed, such as 640 kg", start=mass, check=_measures("mass", "mass")
        ),
    )


def _gear(gears: Sequence[str], start: str = "") -> tuple[Field, ...]:
    if len(gears) < 2:
        return ()
    options = [Option(gear, gear) for gear in gears]
    return (Field("gear", "range", "choice", options=choose(options), start=start, check=needed("in which range?")),)


def setup_words(model: Model | None, setup: Values) -> str:
    """What holds for all runs: "range mid, 980 kg"."""
    gear, mass = text_of(setup, "gear"), text_of(setup, "mass")
    given = " (the model's)" if mass and mass == _of_model(model, "mass") else ""
    return ", ".join(part for part in (f"range {gear}" if gear else "", f"{mass}{given}" if mass else "") if part)


def run_fields(model: Model | None, last: Values) -> tuple[Field, ...]:
    """One run: time and oil are asked, the rest is as in the run before."""
    rated = _of_model(model, "rated_speed")
    return (
        Field("time", "time", hint="over the marked distance, such as 9.4 s", check=_measures("time", "time")),
        Field("oil", "oil in the sump", hint="such as 80 degC", check=_measures("temperature", "oil")),
        Field("speed", "engine, loaded", hint=f"as read{f', rated {rated}' if rated else ', such as 2600 rpm'}",
              start=text_of(last, "speed"), check=_measures("rotation", "engine speed")),
        Field("distance", "distance", hint="such as 20 m", start=text_of(last, "distance"),
              check=_measures("distance", "distance")),
        Field("grade", "grade", hint="uphill 12 % or 7 deg, flat 0 %", start=text_of(last, "grade") or "0 %",
              check=reads(grade, blank=False)),
        Field("direction", "way", "choice", options=words("forward", "reverse"),
              start=text_of(last, "direction") or "forward", check=needed("forward or reverse?")),
        Field("pressure", "loop pressure", hint="from a gauge, if there is one; blank: from the grade",
              check=_measures("pressure", "loop pressure", blank=True)),
    )  # fmt: skip


def run_of(values: Values) -> Run:
    """The run typed; ValueError says what would be right."""
    from shopboard.mechanics.drive_answers import read_run

    names = ("time", "oil", "speed", "distance", "grade", "direction", "pressure")
    return read_run({name: text_of(values, name) for name in names if text_of(values, name)})


def timed_runs(model: Model | None, setup: Values, runs: Sequence[Values]) -> Result:
    """What the runs say. ValueError in one line: what the model lacks, or the run to add."""
    from shopboard.mechanics.drive_answers import timed_runs_answer

    mass = quantity(text_of(setup, "mass"), "mass") if text_of(setup, "mass") else None
    made = tuple(run_of(run) for run in runs)
    return timed_runs_answer(model_data(model), text_of(setup, "gear"), mass, made)


# -- one form each ----------------------------------------------------------------------------------------------------


def creep_fields(model: Model | None) -> tuple[Field, ...]:
    """Neutral creep on stands."""
    edge_check = reads(edge, blank=False)
    return (
        Field("forward", "forward edge", hint="arm angle where it starts: 3 deg, or 3.0 deg/3.2 deg", check=edge_check),
        Field("reverse", "reverse edge", hint="the same way round, such as -0.9 deg", check=edge_check),
        Field("rest", "arm at rest", start="0 deg", check=_measures("angle", "arm at rest", signed=True)),
        Field("arm", "control arm", start=_of_model(model, "control_arm"), hint="pivot to link, such as 60 mm",
              check=_measures("length", "control arm", blank=True)),
        Field("pitch", "link thread", start=_of_model(model, "link_pitch"), hint="way of a turn, such as 1.25 mm",
              check=_measures("length", "link thread", blank=True)),
    )  # fmt: skip


def creep_result(model: Model | None, v: Values) -> Result:
    """What the edges of the dead band say."""
    from shopboard.mechanics.drive_answers import neutral_creep_answer

    arm, pitch = (quantity(text_of(v, n), "length") if text_of(v, n) else None for n in ("arm", "pitch"))
    rest = quantity(text_of(v, "rest"), "angle", signed=True)
    return neutral_creep_answer(
        model_data(model), edge(text_of(v, "forward")), edge(text_of(v, "reverse")), rest, arm, pitch
    )


def hold_fields(model: Model | None) -> tuple[Field, ...]:
    """A slope hold."""
    speed = reads(creep, blank=False)
    return (
        *_gear(_gears(model)),
        Field("mass", "machine, driver", start=_of_model(model, "mass"), hint="as weighed, such as 640 kg",
              check=_measures("mass", "mass")),
        Field("grade", "grade", hint="such as 12 % or 7 deg", check=reads(grade, blank=False)),
        Field("nose_up", "nose up", hint="downhill creep: 2 m in 45 s, or 40 mm/s", check=speed),
        Field("nose_down", "nose down", hint="downhill creep; uphill with a minus", check=speed),
        Field("oil", "oil in the sump", hint="such as 70 degC", check=_measures("temperature", "oil")),
    )  # fmt: skip


def hold_result(model: Model | None, v: Values) -> Result:
    """What the creep on the slope says."""
    from shopboard.mechanics.drive_answers import slope_hold_answer

    return slope_hold_answer(
        model_data(model), text_of(v, "gear"), quantity(text_of(v, "mass"), "mass"), grade(text_of(v, "grade")),
        creep(text_of(v, "nose_up")), creep(text_of(v, "nose_down")), quantity(text_of(v, "oil"), "temperature"),
    )  # fmt: skip


_MEMBERS = (("engine", "engine"), ("shaft", "shaft"), ("gearbox", "driven unit"))


def joint_fields(model: Model | None) -> tuple[Field, ...]:
    """The lines of engine, shaft and driven unit."""
    fields = []
    for id, name in _MEMBERS:
        check = _measures("angle", f"{name}, side", signed=True)
        fields.append(Field(f"{id}_pitch", f"{name}, side", hint="rising towards the unit: plus", check=check))
    for id, name in _MEMBERS:
        check = _measures("angle", f"{name}, top", signed=True)
        fields.append(Field(f"{id}_yaw", f"{name}, top", start="0 deg", hint="to the left: plus", check=check))
    return (
        *fields,
        Field("speed", "shaft turns", start=_of_model(model, "rated_speed"), hint="such as 2600 rpm",
              check=_measures("rotation", "speed")),
        Field("phase", "yokes out by", start="0 deg", hint="0 deg: equal angles cancel",
              check=_measures("angle", "yokes", signed=True)),
        Field("most", "thickest shim", start="12 mm", check=_measures("length", "thickest shim")),
    )  # fmt: skip


def joint_result(model: Model | None, v: Values) -> Result:
    """What the lines say."""
    from shopboard.mechanics.shaft_answers import Shimming, joints_of_lines

    def angle(name: str) -> Quantity:
        return quantity(text_of(v, name), "angle", signed=True)

    engine, shaft, unit = ((angle(f"{id}_pitch"), angle(f"{id}_yaw")) for id, _ in _MEMBERS)
    shimming = Shimming(quantity(text_of(v, "most"), "length"))
    speed = quantity(text_of(v, "speed"), "rotation")
    return joints_of_lines(model_data(model), (engine, shaft, unit), speed, shimming, angle("phase"))


def recording_fields(model: Model | None) -> tuple[Field, ...]:
    """A recording: the file, the engine's speed, the range."""
    return (
        Field("file", "file", hint="type or paste the path of the CSV or WAV", check=needed("which file?")),
        Field("speed", "engine", start=_of_model(model, "rated_speed"), hint="blank: the file has a column rpm",
              check=_measures("rotation", "engine speed", blank=True)),
        *_gear(_gears(model)),
    )  # fmt: skip


#: Fields and result of each measurement that is one form.
FORMS: Mapping[str, tuple[Callable[[Model | None], tuple[Field, ...]], Callable[[Model | None, Values], Any]]] = {
    "neutral-creep": (creep_fields, creep_result),
    "slope-hold": (hold_fields, hold_result),
    "joints": (joint_fields, joint_result),
}


def typed_words(fields: Sequence[Field], values: Values) -> str:
    """What was typed, as a note beside the readings: "grade 12 %, nose up 2 m in 45 s"."""
    return ", ".join(f"{f.label} {text_of(values, f.id)}" for f in fields if text_of(values, f.id))


def path_of(text: str) -> str:
    """The path typed or pasted, without the quotes and the file: that a file manager puts round it.

    >>> path_of(" 'ride one.csv' "), path_of("file:///tmp/ride%20one.csv")
    ('ride one.csv', '/tmp/ride one.csv')
    """
    from urllib.parse import unquote, urlsplit

    path = text.strip()
    if len(path) > 1 and path[0] == path[-1] and path[0] in "'\"":
        path = path[1:-1]
    return unquote(urlsplit(path).path) if path.startswith("file://") else path
