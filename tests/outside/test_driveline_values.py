"""Joints and shafts against values from outside; the source stands beside each."""

from __future__ import annotations

import math

import numpy as np
import pytest

from shopboard.mechanics import driveline, joints, whirl
from shopboard.mechanics.units import parse

rad = math.radians

# Carvill, Mechanical Engineer's Data Handbook, §2.4.3, p. 72; the figures worked numerically.
TABLE = {
    5: (1.003820, 0.996195, 0.10922, 0.007625, 0.007615),
    10: (1.015427, 0.984808, 0.43856, 0.030626, 0.030462),
    20: (1.064178, 0.939693, 1.78168, 0.124966, 0.121847),
    30: (1.154701, 0.866025, 4.11719, 0.294571, 0.274156),
}


@pytest.mark.parametrize(("degrees", "row"), TABLE.items())
def test_one_joint(degrees: int, row: tuple[float, ...]) -> None:
    most, least, lag, acceleration, squared = row
    angle = rad(degrees)
    turns = np.linspace(0, math.pi, 20_001)
    ratios = [joints.speed_ratio(angle, t) for t in turns]
    assert (max(ratios), min(ratios)) == pytest.approx((most, least), abs=1e-6)
    assert math.degrees(joints.greatest_lag(angle)) == pytest.approx(lag, abs=1e-5)
    assert joints.greatest_acceleration(angle) == pytest.approx(acceleration, abs=1e-6)
    assert angle**2 == pytest.approx(squared, abs=1e-6)


@pytest.mark.parametrize(("phase", "expected"), [(0, 8.000), (90, 11.662)])
def test_two_joints_small_angles(phase: float, expected: float) -> None:
    # √|β₁² ∓ β₂²| for 10° and 6°.
    assert math.degrees(joints.small_angle_chain(rad(10), rad(6), rad(phase))) == pytest.approx(expected, abs=5e-4)


@pytest.mark.parametrize(
    ("second", "phase", "exact", "formula"), [(6, 0, 0.019632, 0.019560), (6, 90, 0.041607, 0.041720), (10, 0, 0, 0)]
)
def test_exact_chain_against_the_workshop_formula(second: float, phase: float, exact: float, formula: float) -> None:
    # A numeric chain of two joints, against sin β·tan β of the equivalent joint.
    chain = joints.swing(joints.chain_angle(rad(10), rad(second), rad(phase)))
    small = joints.swing(joints.small_angle_chain(rad(10), rad(second), rad(phase)))
    assert chain == pytest.approx(exact, abs=1e-6)
    assert small == pytest.approx(formula, abs=1e-6)
    assert chain == pytest.approx(small, rel=0.006)


# Engineers Edge, universal-joint driveline page, after SAE AE-7 §3.1.1.
SECOND = {
    1500: (7.3, 7.4, 7.6, 7.9, 8.3, 8.9, 9.5, 10.1, 10.8, 11.6),
    1600: (6.9, 6.9, 7.1, 7.5, 7.9, 8.5, 9.1, 9.8, 10.5),
    1700: (6.5, 6.5, 6.8, 7.1, 7.6, 8.2, 8.8),
}
CELLS = [(speed, first, angle) for speed, row in SECOND.items() for first, angle in enumerate(row)]


@pytest.mark.parametrize(("speed", "first", "expected"), CELLS)
def test_allowable_second_angle(speed: int, first: int, expected: float) -> None:
    found = math.degrees(joints.allowable_second_angle(rad(first), speed / 60))
    assert found == pytest.approx(expected, abs=0.07)


def test_rule_of_thumb_limits() -> None:
    # The same page: 6° working angle, 1.5° difference.
    assert math.degrees(driveline.ANGLE_RULE) == pytest.approx(6)
    assert math.degrees(driveline.DIFFERENCE_RULE) == pytest.approx(1.5)


@pytest.mark.parametrize(("speed", "allowed"), [(540, 20.0), (3000, 3.65)])
def test_what_the_torsion_limit_allows(speed: float, allowed: float) -> None:
    found = driveline.assess(rad(1), 0.0, 0.0, speed / 60)
    assert math.degrees(found.limit_angle) == pytest.approx(allowed, rel=0.015)


@pytest.mark.parametrize(("ends", "k"), [("pinned", 1.57), ("fixed", 3.56), ("cantilever", 0.56)])
def test_whirl_constant(ends: str, k: float) -> None:
    # Carvill, Mechanical Engineer's Data Handbook, p. 45.
    second_moment, area = math.pi * 0.03**4 / 64, math.pi * 0.03**2 / 4
    root = math.sqrt(207e9 * second_moment / (7850 * area * 1.0))
    assert whirl.whirl_speed(0.03, 0.0, 1.0, 207e9, 7850, ends) / root == pytest.approx(k, rel=0.005)


def test_whirl_of_a_steel_tube_in_us_units() -> None:
    # calcady.com, driveshaft critical speed, worked example: 11 390 rev/min.
    outer = parse("3.5 in", "length").si
    inner = outer - 2 * parse("0.083 in", "length").si
    length, modulus = parse("45 in", "length").si, parse("30 Mpsi", "modulus").si
    found = whirl.whirl_speed(outer, inner, length, modulus, parse("0.283 lb/in3", "density").si)
    assert found * 60 == pytest.approx(11_390, rel=0.0015)


def test_whirl_of_a_tube_by_finite_elements() -> None:
    # A beam model of 40 elements gives 6782.5 rev/min.
    assert whirl.whirl_speed(0.060, 0.054, 1.2, 207e9, 7850) * 60 == pytest.approx(6782.5, rel=0.001)
