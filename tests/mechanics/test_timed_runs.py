"""Timed runs: exact data give the truth back, made sessions are covered as promised, alike sets are refused."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
import pytest
from aids.timed_sessions import machine, session

from shopboard.mechanics import run_advice, runs, timed_runs
from shopboard.mechanics.model_data import MissingDatum, ModelData
from shopboard.mechanics.runs import Run
from shopboard.mechanics.timed_runs import RunsRefused, fit

# Fixed before any evaluation seed was looked at; tuning used seeds 1 to 6 only.
EVALUATION_SEED = 20_261_124
COVERED = (0.87, 0.94)
STROKE_BIAS, LEAKAGE_BIAS = 0.005, 0.03
RIGHT, COMMITS = 0.95, 0.70


class Score(NamedTuple):
    """What a batch of sessions came to; counts of sessions beside the shares."""

    solved: int
    refused: int
    stroke_covered: float
    leakage_covered: float
    stroke_bias: float
    leakage_bias: float
    right: float
    committed: int
    commits: float
    worth_committing: int


def score(seed: int, sessions: int) -> Score:
    """Solve made sessions and hold the answers against their truth."""
    rng = np.random.default_rng(seed)
    covered, bias, right, commits, refused = [], [], [], [], 0
    for _ in range(sessions):
        made = session(rng)
        plain_case = made.ratio >= 2 and made.contrast >= 25
        try:
            found = fit(made.drive, made.runs)
        except RunsRefused:
            refused += 1
            if plain_case:
                commits.append(False)
            continue
        stroke, ratio = found.stroke["forward"], found.ratio
        assert ratio is not None
        covered.append((stroke.low < made.stroke < stroke.high, ratio.low < made.ratio < ratio.high))
        bias.append((stroke.value / made.stroke - 1, ratio.value / made.ratio - 1))
        worn, lost = run_advice.judge(found)
        decided = worn is not None and lost is not None
        if decided:
            right.append((worn, lost) == (made.ratio > run_advice.SOUND_RATIO, made.stroke < run_advice.SOUND_STROKE))
        if plain_case:
            commits.append(decided)
    share, mean = np.mean(covered, axis=0), np.mean(bias, axis=0)
    return Score(
        len(covered), refused, *share, *mean, float(np.mean(right)), len(right), float(np.mean(commits)), len(commits)
    )


def test_made_sessions_in_small() -> None:
    found = score(EVALUATION_SEED + 1, 150)
    slack = 4 * math.sqrt(0.9 * 0.1 / found.solved)
    assert COVERED[0] - slack < found.stroke_covered < COVERED[1] + slack
    assert COVERED[0] - slack < found.leakage_covered < COVERED[1] + slack
    assert abs(found.stroke_bias) < STROKE_BIAS + 4 * 0.022 / math.sqrt(found.solved)
    assert abs(found.leakage_bias) < LEAKAGE_BIAS + 4 * 0.22 / math.sqrt(found.solved)
    assert found.right > RIGHT - 4 * math.sqrt(0.05 * 0.95 / found.committed)
    assert found.commits > COMMITS - 4 * math.sqrt(0.3 * 0.7 / found.worth_committing)


@pytest.mark.long
def test_made_sessions_in_full() -> None:
    found = score(EVALUATION_SEED, 2000)
    print(found)
    assert COVERED[0] <= found.stroke_covered <= COVERED[1]
    assert COVERED[0] <= found.leakage_covered <= COVERED[1]
    assert abs(found.stroke_bias) < STROKE_BIAS
    assert abs(found.leakage_bias) < LEAKAGE_BIAS
    assert found.right >= RIGHT
    assert found.commits >= COMMITS
    assert found.refused < 400


def exact(drive: runs.Drive, stroke: float, ratio: float, plan: list[tuple[float, float, str]]) -> tuple[Run, ...]:
    """Runs without any error, by the law worked out here from its words."""
    made = []
    for grade, celsius, direction in plan:
        push = drive.mass * 9.80665 * (math.sin(grade) + drive.rolling * math.cos(grade))
        pressure = push * drive.radius / (drive.ratio * drive.motor / (2 * math.pi) * drive.efficiency)
        slip = drive.slip * push / (drive.mass * 9.80665) / drive.rolling
        leak = ratio * drive.new_leakage * (pressure + drive.charge) / float(drive.viscosity(celsius + drive.film_rise))
        ideal = drive.pump * 42.0 / drive.motor / drive.ratio * 2 * math.pi * drive.radius
        speed = ideal * stroke * (1 - slip) - leak / drive.motor / drive.ratio * 2 * math.pi * drive.radius
        tiny = {f"{name}_error": 1e-6 for name in ("distance", "time", "speed", "grade", "celsius")}
        made.append(Run(30.0, 30.0 / speed, 42.0, grade, celsius, direction, **tiny))
    return tuple(made)


PLAN = [(0.0, 30.0, "forward"), (0.12, 30.0, "forward"), (0.0, 80.0, "forward"), (0.12, 80.0, "forward")]


@pytest.mark.parametrize(("stroke", "ratio"), [(1.0, 1.0), (0.8, 1.0), (0.95, 4.0), (0.7, 2.5)])
def test_exact_runs_give_the_truth_back(stroke: float, ratio: float, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(runs, "UNMEASURED", dict.fromkeys(runs.UNMEASURED, 1e-6))
    monkeypatch.setattr(timed_runs, "LAW_ERROR", 1e-5)
    drive = machine(np.random.default_rng(3))._replace(mass_error=1e-3)
    found = fit(drive, exact(drive, stroke, ratio, PLAN))
    assert found.stroke["forward"].value == pytest.approx(stroke, abs=2e-4)
    assert found.ratio is not None
    assert found.ratio.value == pytest.approx(ratio, abs=5e-3)


def test_directions_have_strokes_of_their_own() -> None:
    drive = machine(np.random.default_rng(4))
    back = [(g, t, "reverse") for g, t, _ in PLAN]
    made = exact(drive, 0.95, 2.0, PLAN) + exact(drive, 0.80, 2.0, back)
    made = tuple(r._replace(distance_error=None, time_error=None, celsius_error=None) for r in made)
    found = fit(drive, made)
    assert found.stroke["forward"].value - found.stroke["reverse"].value == pytest.approx(0.15, abs=0.02)
    said = run_advice.verdict(drive, made, found)
    assert "reverse" in said.text


def test_a_gauge_replaces_the_forces() -> None:
    drive = machine(np.random.default_rng(5))
    made = exact(drive, 0.9, 3.0, PLAN)
    read = runs.pressures(drive, made)
    gauged = tuple(r._replace(pressure=float(p)) for r, p in zip(made, read, strict=True))
    assert runs.pressures(drive, gauged) == pytest.approx(read)
    plain, by_gauge = (fit(drive, m).leakage for m in (made, gauged))
    assert by_gauge.value == pytest.approx(plain.value, rel=0.05)
    assert by_gauge.error < plain.error


ALIKE = [
    [(0.0, 30.0, "forward")],
    [(0.0, 30.0, "forward")] * 5,
    [(0.12, 80.0, "forward")] * 3,
    [(0.0, 30.0, "forward"), (0.0, 32.0, "forward"), (0.0, 31.0, "forward")],
]


@pytest.mark.parametrize("plan", ALIKE)
def test_runs_all_alike_are_refused_with_the_run_to_add(plan: list[tuple[float, float, str]]) -> None:
    drive = machine(np.random.default_rng(6))
    with pytest.raises(RunsRefused) as refused:
        fit(drive, exact(drive, 0.9, 2.0, plan))
    assert "add a run with" in refused.value.add
    if plan[0][1] > 60:
        assert "cold" in refused.value.add


@pytest.mark.parametrize(("factor", "says"), [(0.75, "faster than full stroke"), (1.0, "")])
def test_runs_that_cannot_be_are_refused(factor: float, says: str) -> None:
    drive = machine(np.random.default_rng(6))
    made = tuple(Run(*r[:6])._replace(time=r.time * factor) for r in exact(drive, 1.0, 1.0, PLAN))
    if not says:
        assert fit(drive, made).stroke["forward"].low < 1.0
        return
    with pytest.raises(RunsRefused, match=says):
        fit(drive, made)


def test_no_wear_verdict_without_hot_and_cold_oil() -> None:
    drive = machine(np.random.default_rng(7))
    plan = [(0.0, 60.0, "forward"), (0.16, 60.0, "forward")] * 4
    made = tuple(
        r._replace(**dict.fromkeys((f"{n}_error" for n in ("grade",)), 0.001)) for r in exact(drive, 1, 6, plan)
    )
    found = fit(drive, made)
    said = run_advice.verdict(drive, made, found)
    assert said.worn is None
    assert said.word == "cannot tell"
    assert "hot and cold oil" in said.text
    assert "add a run with cold oil" in said.text or "add a run with hot oil" in said.text


def test_the_run_advised_narrows_more_than_the_others() -> None:
    drive = machine(np.random.default_rng(8))
    made = exact(drive, 0.9, 2.0, PLAN[:3])
    made = tuple(Run(*r[:6]) for r in made)
    found = fit(drive, made)
    best = run_advice.best_run(drive, made, found)
    widths = {}
    for name, run in run_advice.candidates(made, drive, 0.9):
        plan = (run.grade, run.celsius, "forward")
        more = Run(*exact(drive, 0.9, 2.0, [plan])[0][:6])
        widths[name] = fit(drive, (*made, more)).leakage.error
    assert best.name == min(widths, key=widths.__getitem__)
    assert best.keeps < 1


@pytest.mark.parametrize(
    ("stroke", "ratio", "word"), [(1.0, 5.0, "wear"), (0.75, 1.0, "linkage"), (0.75, 5.0, "both"), (1.0, 0.6, "sound")]
)
def test_plain_stories_are_told_apart(stroke: float, ratio: float, word: str) -> None:
    drive = machine(np.random.default_rng(9))
    plan = [*PLAN, *PLAN, *PLAN]
    made = tuple(Run(*r[:6], time_error=0.05) for r in exact(drive, stroke, ratio, plan))
    said = run_advice.verdict(drive, made, fit(drive, made))
    assert said.word == word, said.text


def test_new_leakage_is_what_rated_efficiency_loses() -> None:
    data = ModelData(
        {"pump_displacement": "20 cm3/rev", "rated_speed": "2400 rpm", "rated_efficiency": "90 %",
         "rated_pressure": "140 bar", "charge_pressure": "10 bar"}
    )  # fmt: skip
    k = runs.new_leakage(data)
    assert k is not None
    lost = k * 150e5 / (20e-6 * 870)  # m³/s at rated pressure and 20 mm²/s
    assert lost * 60_000 == pytest.approx(0.10 * 20e-3 * 2400)  # a tenth of 48 L/min
    assert runs.new_leakage(ModelData({"rated_speed": "2400 rpm"})) is None


def test_a_model_without_a_number_says_which() -> None:
    with pytest.raises(MissingDatum, match="rolling_radius"):
        runs.drive(ModelData({"pump_displacement": "20 cm3", "motor_displacement": "20 cm3", "final_ratio": 20}))
