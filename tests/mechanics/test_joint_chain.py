"""Joints, chains of them in space, and shims: each by an independent route."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from shopboard.mechanics import driveline, joints, shims
from shopboard.mechanics.driveline import Member

rad = math.radians
angles = st.floats(0.0, 35.0).map(math.radians)
phases = st.floats(-90.0, 90.0).map(math.radians)


@given(angles, st.floats(-20, 20))
def test_one_joint_turns_half_a_turn_each_half_turn(angle: float, turn: float) -> None:
    there = joints.driven_turn(angle, turn)
    assert joints.driven_turn(angle, turn + math.pi) - there == pytest.approx(math.pi, abs=1e-12)
    assert abs(there - turn) <= joints.greatest_lag(angle) + 1e-12


@pytest.mark.parametrize(("first", "second", "phase"), [(10, 6, 0), (10, 6, 90), (8, 8, 30), (25, 3, 47), (0, 12, 10)])
def test_chain_against_integration_of_its_speed(first: float, second: float, phase: float) -> None:
    first, second, phase = rad(first), rad(second), rad(phase)

    def speeds(turn: float, state: np.ndarray) -> list[float]:
        shaft, _ = state
        shaft_speed = joints.speed_ratio(first, turn)
        # The rear joint, driven from its shaft yoke: the front one seen backwards, a right angle on.
        return [shaft_speed, shaft_speed * joints.speed_ratio(second, shaft + phase + math.pi / 2)]

    start = [0.0, joints.chain_turn(first, second, phase, 0.0)]
    turns = np.linspace(0, 2 * math.pi, 25)
    found = solve_ivp(speeds, (0, 2 * math.pi), start, method="DOP853", rtol=1e-12, atol=1e-13, t_eval=turns)
    exact = [joints.chain_turn(first, second, phase, t) for t in turns]
    assert np.max(np.abs(found.y[1] - exact)) < 1e-9


@given(angles, angles, phases)
@settings(max_examples=60)
def test_the_equivalent_joint_swings_as_the_chain_does(first: float, second: float, phase: float) -> None:
    turns = np.linspace(0, math.pi, 4001)
    shaft = np.array([joints.driven_turn(first, t) for t in turns])
    front = np.array([joints.speed_ratio(first, t) for t in turns])
    rear = np.array([joints.speed_ratio(second, s + phase + math.pi / 2) for s in shaft])
    ratio = front * rear
    one = joints.chain_angle(first, second, phase)
    assert ratio.max() == pytest.approx(1 / math.cos(one), abs=3e-6)
    assert ratio.min() == pytest.approx(math.cos(one), abs=3e-6)


@given(angles, phases)
def test_equal_angles_cancel_only_in_phase(angle: float, phase: float) -> None:
    assert joints.chain_angle(angle, angle, 0.0) == pytest.approx(0, abs=1e-7)
    assert joints.chain_angle(angle, angle, phase) >= -1e-12


@given(st.floats(0.01, 35.0).map(math.radians))
def test_greatest_acceleration_is_the_greatest(angle: float) -> None:
    turns = np.linspace(0, math.pi / 2, 20_001)
    ratio = math.cos(angle) / (1 - math.sin(angle) ** 2 * np.cos(turns) ** 2)
    by_turn = np.gradient(ratio, turns)
    assert np.abs(by_turn).max() == pytest.approx(joints.greatest_acceleration(angle), rel=2e-5, abs=1e-9)


def _arm_chain(
    engine: np.ndarray, shaft: np.ndarray, gearbox: np.ndarray, yokes: float, turns: np.ndarray
) -> np.ndarray:
    """Turn of the gearbox side by vectors alone: each cross arm square to its shaft and to the other arm."""
    side = np.cross(engine, [0.3, -0.5, 0.8])
    u = side / np.linalg.norm(side)
    v = np.cross(engine, u)
    arm = np.outer(np.cos(turns), u) + np.outer(np.sin(turns), v)
    front = np.cross(shaft, arm)
    front /= np.linalg.norm(front, axis=1, keepdims=True)
    rear = front * math.cos(yokes) + np.cross(shaft, front) * math.sin(yokes)
    out = np.cross(gearbox, rear)
    out /= np.linalg.norm(out, axis=1, keepdims=True)
    p = np.cross(gearbox, [0.1, 0.9, 0.4])
    p /= np.linalg.norm(p)
    q = np.cross(gearbox, p)
    return np.unwrap(np.arctan2(out @ q, out @ p))


@pytest.mark.parametrize("seed", range(40))
def test_random_lines_in_space_against_vectors(seed: int) -> None:
    rng = np.random.default_rng(seed)
    lines = [Member(*np.radians(rng.uniform(-15, 15, 2))) for _ in range(3)]
    yokes = math.radians(rng.uniform(-90, 90)) if seed % 2 else 0.0
    vectors = [driveline.direction(line) for line in lines]
    found = driveline.geometry(*vectors)
    engine, shaft, gearbox = (np.array(v) for v in vectors)
    assert found.front == pytest.approx(math.acos(engine @ shaft), abs=1e-9)
    assert found.rear == pytest.approx(math.acos(shaft @ gearbox), abs=1e-9)
    turns = np.linspace(0, math.pi, 20_001)
    ratio = np.gradient(_arm_chain(engine, shaft, gearbox, yokes, turns), turns)[2:-2]
    one = joints.chain_angle(found.front, found.rear, driveline.phase(found, yokes))
    assert ratio.max() == pytest.approx(1 / math.cos(one), abs=2e-6)
    assert ratio.min() == pytest.approx(math.cos(one), abs=2e-6)


def test_low_speeds_are_shown_and_not_judged() -> None:
    found = driveline.assess(rad(15), rad(3), 0.0, 540 / 60)
    assert "not judged" in driveline.verdict(rad(15), rad(3), found, 540 / 60)
    fast = driveline.assess(rad(7), rad(3), 0.0, 43.3)
    assert "shakes" in driveline.verdict(rad(7), rad(3), fast, 43.3)


LAYOUT = shims.Layout(0.45, 0.12, 0.62, 0.07, 0.30)


def _by_hand(mount: str, s: float, pitches: tuple[float, float, float]) -> tuple[float, float, float]:
    """Joint angles and shortening by moving four points in the side view."""
    a, b, length, c, d = LAYOUT
    # Heights relative to where each line lies now, at: engine front, engine rear, joint, joint, front mount, rear.
    up = {m: (s if m == mount else 0.0) for m in shims.MOUNTS}
    engine_tip = (up["engine rear"] - up["engine front"]) / a
    front_joint = up["engine front"] + engine_tip * (a + b)
    gearbox_tip = (up["gearbox rear"] - up["gearbox front"]) / d
    rear_joint = up["gearbox front"] - gearbox_tip * c
    along, rise = length * math.cos(pitches[1]), length * math.sin(pitches[1]) + rear_joint - front_joint
    shaft = math.atan2(rise, along)
    engine, gearbox = pitches[0] + math.atan(engine_tip), pitches[2] + math.atan(gearbox_tip)
    return abs(engine - shaft), abs(gearbox - shaft), length - math.hypot(along, rise)


@pytest.mark.parametrize("seed", range(12))
def test_the_shim_found_is_the_least_by_brute_force(seed: int) -> None:
    rng = np.random.default_rng(100 + seed)
    pitches = tuple(np.radians(rng.uniform(-4, 4, 3)))
    limits = shims.Limits(add=0.012, remove=0.004, joint_least=rad(0.3), joint_most=rad(5), spline_in=0.0012, rise=0.01)
    found = shims.solve(*(Member(p) for p in pitches), LAYOUT, limits)
    best = {}
    for mount in shims.MOUNTS:
        for s in np.linspace(-0.004, 0.012, 16_001):
            front, rear, shortens = _by_hand(mount, s, pitches)
            lifts = shims._lifts(mount, s, LAYOUT)[2:]
            if not (rad(0.3) <= min(front, rear) and max(front, rear) <= rad(5) and max(lifts) <= 0.01):
                continue
            if shortens > 0.0012:
                continue
            left = math.acos(min(1.0, math.cos(rear) / math.cos(front), math.cos(front) / math.cos(rear)))
            best[mount] = min(best.get(mount, 9.0), left)
    assert {f.mount for f in found} >= set(best)
    for shim in found:
        assert shim.residual <= best.get(shim.mount, 9.0) + 1e-9  # never worse than any of 16,001 shims
        front, rear, _ = _by_hand(shim.mount, shim.thickness, pitches)
        assert (shim.front, shim.rear) == pytest.approx((front, rear), abs=1e-9)
        assert rad(0.3) - 1e-9 <= min(front, rear) <= max(front, rear) <= rad(5) + 1e-9
    residuals = [round(s.residual, 6) for s in found]
    assert residuals == sorted(residuals)


def test_no_shim_when_nothing_keeps_the_limits() -> None:
    tight = shims.Limits(joint_most=rad(0.5))
    assert shims.solve(Member(0.0), Member(rad(8)), Member(0.0), LAYOUT, tight) == ()
