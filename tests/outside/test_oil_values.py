"""Oil against values from outside; the source stands beside each."""

from __future__ import annotations

import math

import pytest

from shopboard.mechanics import cleanliness, oil, viscosity_index


def test_walther_constants_and_a_viscosity_between() -> None:
    # A worksheet quoting ASTM D341 (title not recorded): 32 and 5.4 mm²/s give 8.5 at 80 °C.
    line = oil.walther((40, 32), (100, 5.4))
    assert line.a == pytest.approx(9.5308, abs=1e-4)
    assert line.b == pytest.approx(3.7466, abs=1e-4)
    assert line.viscosity(80) == pytest.approx(8.53, abs=0.01)
    assert round(line.viscosity(80), 1) == 8.5
    assert line.viscosity(80) == pytest.approx(8.5, abs=0.05)


def test_walther_constants_with_the_rounded_zero() -> None:
    # The same worksheet with T = °C + 273: A 9.5259, B 3.7449; our own line moved by 0.15 K must give them.
    low, high = (math.log10(c + 273) for c in (40, 100))
    loglog = [math.log10(math.log10(v + 0.7)) for v in (32, 5.4)]
    b = (loglog[0] - loglog[1]) / (high - low)
    assert (loglog[0] + b * low, b) == pytest.approx((9.5259, 3.7449), abs=1e-4)
    moved = oil.walther((40 - 0.15, 32), (100 - 0.15, 5.4))
    assert (moved.a, moved.b) == pytest.approx((9.5259, 3.7449), abs=1e-4)


def test_index_procedure_a() -> None:
    # ASTM D2270 §5.1.4: 73.30 and 8.86 mm²/s; L 119.94, H 69.48, index 92.43 reported as 92.
    low, high = viscosity_index.reference(8.86)
    assert low == pytest.approx(119.94, abs=0.03)  # the standard's table; its quadratics differ by 0.02
    assert high == pytest.approx(69.48, abs=0.01)
    assert viscosity_index.index(73.30, 8.86) == pytest.approx(92.43, abs=0.02)
    assert round(viscosity_index.index(73.30, 8.86)) == 92


@pytest.mark.parametrize(("at_40", "at_100", "expected"), [(22.83, 5.05, 156), (53.47, 7.80, 111)])
def test_index_procedure_b(at_40: float, at_100: float, expected: int) -> None:
    # ASTM D2270 §6.1.4 (1) and (2), the second answer from memory.
    assert round(viscosity_index.index(at_40, at_100)) == expected


# chemicals 1.5.2, chemicals.viscosity_index, which interpolates the standard's table instead of its quadratics.
CHEMICALS = [
    (13.4, 3.0, 62.57), (20.4, 4.1, 99.51), (20.5, 4.7, 155.13), (32.6, 5.8, 120.92),
    (54.4, 6.7, 65.06), (37.0, 7.4, 171.06), (68.1, 8.2, 85.46), (75.6, 10.5, 124.14),
    (139.7, 13.0, 83.51), (125.8, 16.2, 137.53), (206.6, 20.0, 111.77), (385.1, 25.0, 84.55),
    (389.7, 33.0, 122.11), (949.4, 48.0, 94.47), (1099.6, 60.0, 108.55), (2020.7, 85.0, 103.76),
]  # fmt: skip


@pytest.mark.parametrize(("at_40", "at_100", "expected"), CHEMICALS)
def test_index_against_a_table_of_the_standard(at_40: float, at_100: float, expected: float) -> None:
    assert viscosity_index.index(at_40, at_100) == pytest.approx(expected, abs=0.6)


# ISO 3448 limits as widely reprinted; the standard itself not seen.
GRADES = {32: (28.8, 35.2), 46: (41.4, 50.6), 68: (61.2, 74.8), 100: (90, 110)}


@pytest.mark.parametrize(("grade", "limits"), GRADES.items())
def test_grade_limits_are_exact_and_included(grade: int, limits: tuple[float, float]) -> None:
    low, high = limits
    assert oil.grade_limits(grade) == (low, high)
    assert oil.grade_of(low) == oil.grade_of(high) == grade
    assert oil.grade_of(math.nextafter(low, 0)) != grade
    assert oil.grade_of(math.nextafter(high, 1e9)) != grade


# ISO 4406:2017 as reprinted (codes 6 to 24), the rest from memory: greatest count per mL of codes 0 … 28.
LIMITS = [
    0.01, 0.02, 0.04, 0.08, 0.16, 0.32, 0.64, 1.3, 2.5, 5, 10, 20, 40, 80, 160, 320, 640, 1300, 2500, 5000, 10000,
    20000, 40000, 80000, 160000, 320000, 640000, 1300000, 2500000,
]  # fmt: skip


@pytest.mark.parametrize(("code", "limit"), list(enumerate(LIMITS)))
def test_cleanliness_limits_are_exact(code: int, limit: float) -> None:
    assert cleanliness.number(limit) == code
    assert cleanliness.number(limit * 1.000001) == code + 1
    assert cleanliness.counts(code)[1] == limit


def test_cleanliness_boundary_as_the_standard_words_it() -> None:
    assert cleanliness.number(1300) == 17
    assert cleanliness.number(1300.1) == 18


def test_cleanliness_worked_example() -> None:
    # ISO 4406:2017 worked example as reprinted: counts per 100 mL.
    assert cleanliness.code((300_000, 50_000, 700), 100) == "19/16/10"
