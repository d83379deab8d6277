"""Pages on oil: viscosity and cleanliness."""

from __future__ import annotations

import argparse

from shopboard.mechanics import cleanliness, oil, units, viscosity_index
from shopboard.mechanics.results import Figure, Result
from shopboard.mechanics.units import Quantity, UnitError

from .inputs import CalcError, model_data, named_reader, number, quantity
from .page import Option, Page

_ZERO_C = 273.15


def _mm2(given: Quantity) -> float:
    return given.si * 1e6


def _line(o: argparse.Namespace) -> tuple[oil.Walther, dict[str, Quantity | float]]:
    if o.grade is not None:
        if o.at_40 or o.at_100:
            raise CalcError("give either --grade or --at-40 with --at-100, not both")
        return oil.of_grade(o.grade, o.index), {"grade": o.grade, "index": o.index}
    if not (o.at_40 and o.at_100):
        raise CalcError("give the oil: --grade, or both --at-40 and --at-100")
    points = ((40.0, _mm2(o.at_40)), (100.0, _mm2(o.at_100)))
    return oil.walther(*points), {"at_40": o.at_40, "at_100": o.at_100}


def _oil(o: argparse.Namespace) -> Result:
    line, inputs = _line(o)
    data = model_data(o)
    celsius = o.temperature.si - _ZERO_C
    least, most = data.need("viscosity_least") * 1e6, data.need("viscosity_most") * 1e6
    at_40, at_100 = line.viscosity(40), line.viscosity(100)
    error = o.temperature.error * 1.645
    ends = sorted(line.viscosity(celsius + sign * error) * 1e-6 for sign in (1, -1)) if error else [None, None]
    try:
        index: float | None = round(viscosity_index.index(at_40, at_100))
    except ValueError:
        index = None
    return Result(
        calculation="oil",
        inputs={**inputs, "temperature": o.temperature},
        results={
            "viscosity": Figure(line.viscosity(celsius) * 1e-6, "kinematic viscosity", ends[0], ends[1]),
            "viscosity_index": Figure(index),
            "grade": Figure(oil.grade_of(at_40)),
            "too_thin_above": Figure(line.temperature(least) + _ZERO_C, "temperature"),
            "too_thick_below": Figure(line.temperature(most) + _ZERO_C, "temperature"),
        },
        verdict=oil.fitness(line, celsius, least, most),
        assumes=("the oil is fresh, dry and free of air", *data.assumptions()),
        source=_OIL.source,
    )


_OIL = Page(
    name="oil",
    title="viscosity of an oil at a temperature, and whether it suits the unit",
    body="""The double logarithm of viscosity (plus 0.7) falls along a straight line over the logarithm of absolute
    temperature, so two points give the whole oil. A grade names the viscosity at 40 °C within 10 %; with a viscosity
    index (100 unless given) it gives both points.

    Used oil is thinner than its grade after shear or fuel, thicker after oxidation: a measured pair is better.""",
    options=(
        Option("--at-40", quantity("kinematic viscosity"), "viscosity at 40 °C, from the oil's sheet"),
        Option("--at-100", quantity("kinematic viscosity"), "viscosity at 100 °C, from the oil's sheet"),
        Option("--grade", number(2, 3200), "ISO grade instead, such as 46", "N"),
        Option("--index", number(0, 400), "viscosity index with --grade (default 100)", "N", default=100.0),
        Option("--temperature", quantity("temperature"), "where to tell it, −20 to 120 °C", needed=True),
    ),
    example='oil --at-40 "32 cSt" --at-100 "5.4 cSt" --temperature "80 degC"',
    answer="""
too thin above 74 °C: 8.5 mm²/s at 80 °C, the unit needs 10
viscosity        8.533 mm2/s
viscosity index  102
grade            32
too thin above   74 degC
too thick below  -12.23 degC
assumes: the oil is fresh, dry and free of air
assumes: usual values, not this model's: viscosity least 10 cSt; viscosity most 1000 cSt
source: ASTM D341 (line), ASTM D2270 (index), ISO 3448 (grades, as widely reprinted)
""",
    source="ASTM D341 (line), ASTM D2270 (index), ISO 3448 (grades, as widely reprinted)",
    run=_oil,
    takes_model=True,
)


def _three(text: str) -> tuple[float, float, float]:
    parts = text.split("/")
    if len(parts) != 3:
        raise UnitError(f"'{text}' must be three numbers, A/B/C, such as 300000/50000/700")
    found = [units.number(part) for part in parts]
    if not all(0 <= n < 1e15 for n in found):
        raise UnitError(f"'{text}' must be three counts, none of them negative")
    return found[0], found[1], found[2]


def _cleanliness(o: argparse.Namespace) -> Result:
    if (o.counts is None) == (o.code is None):
        raise CalcError("give either --counts with --volume, or --code")
    if o.code is not None:
        return _back(o)
    if o.volume is None:
        raise CalcError("--counts needs --volume: in how much oil they were counted, such as 100 mL")
    codes = [cleanliness.number(c / (o.volume.si * 1e6)) for c in o.counts]
    return Result(
        calculation="cleanliness",
        inputs={"counts": "/".join(f"{c:g}" for c in o.counts), "volume": o.volume},
        results={"code": Figure(cleanliness.code(o.counts, o.volume.si * 1e6))},
        rows=tuple(
            {"size": Figure(size), "per_mL": Figure(c / (o.volume.si * 1e6)), "code": Figure(code)}
            for size, c, code in zip(_SIZES, o.counts, codes, strict=True)
        ),
        assumes=(_CUMULATIVE,),
        source=_CLEANLINESS.source,
    )


_SIZES = ("4 µm(c)", "6 µm(c)", "14 µm(c)")
_CUMULATIVE = "counts are cumulative: each takes in every coarser particle"


def _back(o: argparse.Namespace) -> Result:
    ranges = [cleanliness.counts(int(n)) for n in o.code]
    return Result(
        calculation="cleanliness",
        inputs={"code": "/".join(f"{n:g}" for n in o.code)},
        results={},
        rows=tuple(
            {"size": Figure(size), "more_than_per_mL": Figure(low), "up_to_per_mL": Figure(high)}
            for size, (low, high) in zip(_SIZES, ranges, strict=True)
        ),
        assumes=(_CUMULATIVE,),
        source=_CLEANLINESS.source,
    )


_CLEANLINESS = Page(
    name="cleanliness",
    title="particle counts as an ISO 4406 code, and back",
    body="""Each code number stands for twice the particles of the one before, per millilitre, at three sizes: 4, 6
    and 14 µm(c). A count on a limit belongs to the lower number. Mind the volume the laboratory counted in: per 100 mL
    and per mL are seven code numbers apart.""",
    options=(
        Option("--counts", named_reader(_three), "counts at 4, 6 and 14 µm(c)", "A/B/C"),
        Option("--volume", quantity("volume"), "the oil they were counted in, such as 100 mL"),
        Option("--code", named_reader(_three), "a code instead, to turn back into counts, such as 19/16/10", "A/B/C"),
    ),
    example='cleanliness --counts 300000/50000/700 --volume "100 mL"',
    answer="""
code  19/16/10

size      per mL  code
4 µm(c)   3000    19
6 µm(c)   500     16
14 µm(c)  7       10

assumes: counts are cumulative: each takes in every coarser particle
source: ISO 4406:2017 as reprinted; the standard itself was not seen
""",
    source="ISO 4406:2017 as reprinted; the standard itself was not seen",
    run=_cleanliness,
)

OIL_PAGES = (_OIL, _CLEANLINESS)
