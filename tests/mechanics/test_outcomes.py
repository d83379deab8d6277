"""What a measurement answers in the trouble book as shipped."""

from __future__ import annotations

import math

import numpy as np
import pytest
from aids.timed_sessions import machine

from shopboard.mechanics import driveline, matching, neutral_creep, orders, outcomes, slope_hold, spectrum
from shopboard.mechanics.model_data import ModelData
from shopboard.store import read_book

rad = math.radians


def test_every_answer_is_one_the_book_knows() -> None:
    book = read_book(None)
    answers = {
        "timed-runs": {outcomes.timed_runs(w, s) for w in (True, False, None) for s in (True, False, None)},
        "slope-hold": {"one-way", "both-ways", "holds", "unsure"},
        "neutral-creep": {"one-way", "still"},
        "joints": {"equal", "unequal", "unsure"},
        "recording": {"quiet", "engine", "shaft-once", "shaft-twice", "wheel", "gears", "unsure"},
    }
    assert set(answers) == set(outcomes.CHECKS)
    for calculation, check in outcomes.CHECKS.items():
        assert answers[calculation] - {"unsure"} <= set(book.checks[check].outcomes)


@pytest.mark.parametrize(
    ("ratio", "offset", "expected"), [(6.0, 0.0, "both-ways"), (0.5, 0.0, "holds"), (1.0, 0.5, "one-way")]
)
def test_slope_hold(ratio: float, offset: float, expected: str) -> None:
    drive = machine(np.random.default_rng(1))
    load = slope_hold.slope_pressure(drive, rad(9)) + drive.charge
    creep = ratio * drive.new_leakage * load / float(drive.viscosity(70.0)) * drive.metres_per_volume()
    found = slope_hold.hold(drive, rad(9), creep - offset, creep + offset, 60)
    assert outcomes.slope_hold(found, drive.new_leakage) == expected


def test_neutral() -> None:
    assert outcomes.neutral(neutral_creep.neutral(0.05, 0.01, 0.0)) == "one-way"
    assert outcomes.neutral(neutral_creep.neutral(0.03, -0.01, 0.0)) == "still"


@pytest.mark.parametrize(
    ("front", "rear", "rpm", "expected"), [(3, 3, 2600, "equal"), (5, 3, 2600, "unequal"), (9, 2, 540, "unsure")]
)
def test_joints(front: float, rear: float, rpm: float, expected: str) -> None:
    found = driveline.assess(rad(front), rad(rear), 0.0, rpm / 60)
    assert outcomes.joints(rad(front), rad(rear), found, rpm / 60) == expected


def heard(frequency: float, data: dict[str, float]) -> str:
    """The outcome for one clear tone at 40 rev/s."""
    peak = spectrum.Peak(frequency, 1.0, 50.0, 0.03)
    listed, _ = orders.sources(ModelData(data), 40.0)
    return outcomes.vibration(matching.match((peak,), orders.groups(listed, 0.125), 200.0))


def test_vibration() -> None:
    assert outcomes.vibration(()) == "quiet"
    assert heard(80.0, {"joints": 2, "cylinders": 3}) == "unsure"  # the engine's own 2× coincides
    assert heard(60.0, {"cylinders": 3}) == "engine"
    assert heard(66.6, {"joints": 2, "cylinders": 3}) == "unsure"  # nothing matches
