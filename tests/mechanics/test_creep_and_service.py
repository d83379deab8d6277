"""Neutral creep, slope hold and greasing."""

from __future__ import annotations

import math
from datetime import UTC, date, datetime

import numpy as np
import pytest
from aids.timed_sessions import machine
from hypothesis import given
from hypothesis import strategies as st

from shopboard.mechanics import greasing, neutral_creep, slope_hold
from shopboard.records import Duty, HourReading, ServicePoint

rad = math.radians


@given(st.floats(-5, 5), st.floats(0.2, 6), st.floats(-8, 8))
def test_moving_the_link_back_brings_the_arm_to_zero(zero: float, half: float, rest: float) -> None:
    found = neutral_creep.neutral(rad(zero + half), rad(zero - half), rad(rest))
    assert math.degrees(found.true_zero) == pytest.approx(zero, abs=1e-9)
    move, turns = neutral_creep.link_movement(found.offset, 0.06, 0.00125)
    assert turns == pytest.approx(move / 0.00125)
    assert math.asin(-move / 0.06) == pytest.approx(found.offset, abs=1e-9)
    assert found.creeps == (not rad(zero - half) < rad(rest) < rad(zero + half))


def test_error_of_the_offset_by_drawing() -> None:
    rng = np.random.default_rng(2)
    draws = [
        neutral_creep.neutral(*(np.array([0.06, -0.02, 0.0]) + rng.normal(0, 0.004, 3))).offset for _ in range(20_000)
    ]
    found = neutral_creep.neutral(0.06, -0.02, 0.0, 0.004)
    assert np.std(draws) == pytest.approx(found.error, rel=0.03)


def test_edges_the_wrong_way_round_are_refused() -> None:
    with pytest.raises(ValueError, match="forward edge"):
        neutral_creep.neutral(-0.1, 0.1, 0.0)


def test_an_open_differential_shares_as_it_likes() -> None:
    assert neutral_creep.edge((0.0, 0.10)) == neutral_creep.edge((0.05, 0.05)) == 0.05


def test_slope_hold_cancels_a_small_neutral_offset() -> None:
    drive = machine(np.random.default_rng(1))
    true, offset, grade, celsius = 4 * drive.new_leakage, 0.004, rad(8), 70.0
    pressure = slope_hold.slope_pressure(drive, grade)
    leak = (
        true * (pressure + drive.charge) / float(drive.viscosity(celsius + drive.film_rise)) * drive.metres_per_volume()
    )
    found = slope_hold.hold(drive, grade, leak - offset, leak + offset, celsius)
    assert found.leakage == pytest.approx(true, rel=1e-9)
    assert found.offset == pytest.approx(offset)
    assert 0.05 < found.error / found.leakage < 0.5


def test_slope_hold_error_by_drawing() -> None:
    drive = machine(np.random.default_rng(1))
    rng = np.random.default_rng(3)
    grade, creep = rad(9), 0.02
    draws = []
    for _ in range(4000):
        other = drive._replace(
            mass=drive.mass * (1 + rng.normal(0, 0.05)),
            rolling=drive.rolling + rng.normal(0, 0.015),
            efficiency=drive.efficiency * (1 + rng.normal(0, 0.05)),
            film_rise=drive.film_rise + rng.normal(0, 3),
        )
        moved = (creep + rng.normal(0, 0.001), creep + rng.normal(0, 0.001))
        draws.append(slope_hold.hold(other, grade, *moved, 60 + rng.normal(0, 2)).leakage)
    found = slope_hold.hold(drive, grade, creep, creep, 60, (0.001, 0.001))
    assert found.error == pytest.approx(np.std(draws), rel=0.08)


def test_a_gentle_slope_is_refused() -> None:
    with pytest.raises(ValueError, match="too gentle"):
        slope_hold.hold(machine(np.random.default_rng(1)), rad(2), 0.01, 0.01, 60)


JOINT = ServicePoint(id="front_joint", name="front joint", normal_hours=50, severe_hours=25, months=6)


def seen(*pairs: tuple[int, float], new: tuple[int, ...] = ()) -> tuple[HourReading, ...]:
    return tuple(
        HourReading(at=datetime(2026, 1, 1 + day, tzinfo=UTC), hours=h, new_meter=i in new)
        for i, (day, h) in enumerate(pairs)
    )


def test_use_per_week_over_a_new_meter() -> None:
    assert greasing.use_per_week(seen((0, 900), (14, 920))) == pytest.approx(10)
    assert greasing.use_per_week(seen((0, 900), (14, 20), new=(1,))) == pytest.approx(10)
    assert greasing.use_per_week(seen((0, 900), (3, 920))) is None
    assert greasing.use_per_week(seen((0, 900))) is None


def test_due_by_hours_by_months_and_overdue() -> None:
    day = date(2026, 3, 1)
    normal = greasing.due(JOINT, Duty.NORMAL, 100, day, 136, day, 7)
    assert (normal.hours_left, normal.day, normal.by) == (14, date(2026, 3, 15), "hours")
    severe = greasing.due(JOINT, Duty.SEVERE, 100, day, 136, day, 7)
    assert (severe.hours_left, severe.day) == (-11, day)
    rare = greasing.due(JOINT, Duty.NORMAL, 100, day, 101, day, 0.5)
    assert (rare.day, rare.by) == (date(2026, 8, 31), "months")
    unknown = greasing.due(JOINT, Duty.NORMAL, 100, day, 101, day, None)
    assert unknown.by == "months"
