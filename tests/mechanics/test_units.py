"""Quantities: what is read, what is refused, and that Pint agrees on every conversion."""

from __future__ import annotations

import math

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopboard.mechanics import units
from shopboard.mechanics.unit_table import DIMENSIONS

REGISTRY = pint.UnitRegistry()


@pytest.mark.parametrize(
    ("text", "dimension", "si"),
    [
        ("1 1/2 in", "length", 0.0381),
        ("1-1/2 in", "length", 0.0381),
        ("1½ in", "length", 0.0381),
        ("3/8in", "length", 0.009525),
        ("21cm3", "displacement", 21e-6),
        ("21 cm3/rev", "displacement", 21e-6),
        ("1.5 mm", "length", 0.0015),
        (".5 mm", "length", 0.0005),
        ("1.5e1 mm", "length", 0.015),
        ("2,600 rpm", "rotation", 2600 / 60),
        ("1,234,567.5 mm", "distance", 1234.5675),
        ("80 degC", "temperature", 353.15),
        ("176 °F", "temperature", 353.15),
        ("12 %", "fraction", 0.12),
        ("200 bar", "pressure", 20e6),
        ("  9.4   s ", "time", 9.4),
    ],
)
def test_reads(text: str, dimension: str, si: float) -> None:
    assert units.parse(text, dimension).si == pytest.approx(si, rel=1e-12)


REFUSED = [
    ("9**9**9 m", "number"),
    ("1,5 mm", "comma"),
    ("0,500 mm", "comma"),
    ("1.234,5 mm", "comma"),
    ("12,34,567 mm", "comma"),
    ("12,3456 mm", "comma"),
    ("17", "no unit"),
    ("17 bar", "measures pressure, not length"),
    ("17 furlong", "no unit known"),
    ("-17 mm", "negative"),
    ("0 mm", "zero"),
    ("-0 mm", "zero"),
    ("nan mm", "number"),
    ("inf mm", "number"),
    ("1e99 mm", "outside"),
    ("1e999 mm", "too large"),
    ("1e-99 mm", "outside"),
    ("1/0 mm", "zero"),
    ("", "missing"),
    ("   ", "missing"),
    ("mm", "number"),
    ("1 2 mm", "no unit known"),
    ("1.2.3 mm", "number"),
    ("1 mm; import os", "no unit known"),
    ("１７ mm", "number"),
    ("9" * 500 + " mm", "too long"),
    ("5 mm ± -1 mm", "error"),
]


@pytest.mark.parametrize(("text", "says"), REFUSED)
def test_refuses_with_one_clear_line(text: str, says: str) -> None:
    with pytest.raises(units.UnitError) as refused:
        units.parse(text, "length")
    assert says in str(refused.value)
    assert "\n" not in str(refused.value)
    assert len(str(refused.value)) < 160


@given(st.text(max_size=80))
def test_any_text_is_read_or_refused(text: str) -> None:
    try:
        found = units.parse(text, "length")
    except units.UnitError:
        return
    assert math.isfinite(found.si)
    assert found.si > 0


@given(st.floats(0.001, 99_999).map(lambda x: round(x, 3)), st.sampled_from(sorted(DIMENSIONS["distance"].spellings)))
def test_what_is_written_is_what_is_read(value: float, unit: str) -> None:
    si = units.to_si(value, unit, "distance")
    if not 1e-7 <= si <= 1e6:
        return
    assert units.parse(f"{value} {unit}", "distance").value == value
    assert units.parse(f"{value:,.3f} {unit}", "distance").si == pytest.approx(si, rel=1e-12)
    assert units.from_si(si, unit, "distance") == pytest.approx(value, rel=1e-12)


SPELLINGS = [(n, s, p, d.base) for n, d in DIMENSIONS.items() for s, p in d.spellings.items()]


@pytest.mark.parametrize(("dimension", "spelling", "pint_name", "base"), SPELLINGS)
def test_pint_agrees_on_every_unit(dimension: str, spelling: str, pint_name: str, base: str) -> None:
    for value in (1.0, 37.5, 212.0):
        expected = REGISTRY.Quantity(value, pint_name).to(base or "dimensionless").magnitude
        if dimension == "temperature rise" and pint_name == "delta_degF":
            expected = value * 5 / 9
        assert units.to_si(value, spelling, dimension) == pytest.approx(expected, rel=1e-12)
        assert units.from_si(units.to_si(value, spelling, dimension), spelling, dimension) == pytest.approx(value)


@pytest.mark.parametrize("name", list(DIMENSIONS))
def test_each_dimension_has_an_example_that_reads_and_shows(name: str) -> None:
    read = units.parse(DIMENSIONS[name].example, name)
    assert units.in_shown(read.si, name, "metric") > 0
    assert units.shown_unit(name, "us") == DIMENSIONS[name].us


# NIST SP 811, appendix B.8: exact or published factors, independent of Pint.
NIST = [
    ("1 in", "length", 0.0254),
    ("1 ft", "length", 0.3048),
    ("1 mph", "speed", 0.44704),
    ("1 psi", "pressure", 6894.757),
    ("1 hp", "power", 745.6999),
    ("1 lbf", "force", 4.448222),
    ("1 lb", "mass", 0.45359237),
    ("1 gpm", "flow", 6.309020e-5),
    ("1 in3", "volume", 1.638706e-5),
    ("1 lb ft", "torque", 1.355818),
    ("1 cP", "dynamic viscosity", 0.001),
    ("1 cSt", "kinematic viscosity", 1e-6),
    ("1 lb/in3", "density", 27679.90),
]


@pytest.mark.parametrize(("text", "dimension", "si"), NIST)
def test_published_factors(text: str, dimension: str, si: float) -> None:
    assert units.parse(text, dimension).si == pytest.approx(si, rel=5e-7)


def test_errors_are_carried() -> None:
    assert units.parse("9.4 s ± 0.1 s", "time").error == pytest.approx(0.1)
    assert units.parse("9.4 s +- 100 ms", "time").error == pytest.approx(0.1)
    assert units.parse("176 degF +/- 9 degF", "temperature").error == pytest.approx(5)


def test_grade_is_read_as_a_slope_or_an_angle() -> None:
    assert math.tan(units.grade("12 %").si) == pytest.approx(0.12)
    assert units.grade("-7 deg").si == pytest.approx(-math.radians(7))
    assert units.grade("0 %").si == 0
    with pytest.raises(units.UnitError, match="steeper"):
        units.grade("60 deg")


@pytest.mark.parametrize("text", ["2.5", "0", "-3", "9,5", "nine"])
def test_counts_are_whole(text: str) -> None:
    with pytest.raises(units.UnitError):
        units.count(text, least=1, most=99)
