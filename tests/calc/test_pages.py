"""Every page of the handbook: its worked example is true, its text is complete, its options refuse what they should."""

from __future__ import annotations

import argparse
import json
import os
import shlex
import subprocess
import sys
from pathlib import Path

import pytest
from aids.recordings import ride

from shopboard.calc import command
from shopboard.calc.page import Page

NAMES = [page.name for page in command.PAGES]


@pytest.fixture(autouse=True)
def no_shop(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """No shop in the environment, and a folder of our own with the example's recording in it."""
    monkeypatch.delenv("SHOPBOARD_SHOP", raising=False)
    monkeypatch.chdir(tmp_path)
    Path("ride.csv").write_text(ride(), encoding="utf-8")


def page(name: str) -> Page:
    return next(p for p in command.PAGES if p.name == name)


def run(line: str, capsys: pytest.CaptureFixture[str]) -> tuple[int, str, str]:
    code = command.main(shlex.split(line))
    out, err = capsys.readouterr()
    return code, out, err


def test_the_pages_are_those_promised() -> None:
    promised = "displacement flow leakage ripple oil cleanliness timed-runs neutral-creep slope-hold joints whirl"
    assert [*promised.split(), "orders", "recording"] == NAMES


@pytest.mark.parametrize("name", NAMES)
def test_the_worked_example_prints_what_the_page_says(name: str, capsys: pytest.CaptureFixture[str]) -> None:
    code, out, err = run(page(name).example, capsys)
    assert (code, err) == (0, "")
    assert [line.rstrip() for line in out.strip().splitlines()] == page(name).answer.strip().splitlines()


@pytest.mark.parametrize("name", NAMES)
def test_the_page_reads_like_a_handbook(name: str, capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as done:
        command.main([name, "--help"])
    assert done.value.code == 0
    text = capsys.readouterr().out
    assert page(name).title[1:] in text
    assert "example:" in text
    assert f"source: {page(name).source}" in text
    assert f"shopboard calc {name}" in text
    for option in page(name).options:
        assert option.flag in text
        assert len(option.help) > 10


@pytest.mark.parametrize("name", NAMES)
def test_json_has_the_one_schema(name: str, capsys: pytest.CaptureFixture[str]) -> None:
    code, out, _ = run(page(name).example + " --json", capsys)
    assert code == 0
    data = json.loads(out)
    assert {"calculation", "inputs", "results", "assumes", "source"} <= set(data) <= {
        "calculation", "inputs", "results", "assumes", "source", "verdict", "rows"
    }  # fmt: skip
    assert data["calculation"] == name
    for given in data["inputs"].values():
        assert set(given) == {"value", "unit"}
    for figure in [*data["results"].values(), *(f for row in data.get("rows", []) for f in row.values())]:
        assert set(figure) <= {"value", "unit", "low", "high"}
        if "low" in figure:
            assert figure["low"] <= figure["value"] <= figure["high"]
    assert data["assumes"]


@pytest.mark.parametrize("name", NAMES)
def test_us_units_say_the_same(name: str, capsys: pytest.CaptureFixture[str]) -> None:
    from shopboard.mechanics.unit_table import DIMENSIONS
    from shopboard.mechanics.units import to_si

    metric, us = (
        json.loads(run(f"{page(name).example} --json --units {units}", capsys)[1])["results"]
        for units in ("metric", "us")
    )
    spelled = {d.metric: (n, d.us) for n, d in DIMENSIONS.items()}
    for key, figure in metric.items():
        unit = figure.get("unit")
        if unit in spelled and unit in DIMENSIONS[spelled[unit][0]].spellings:
            dimension = spelled[unit][0]
            assert us[key]["unit"] in {d.us for d in DIMENSIONS.values() if d.metric == unit}
            if us[key]["unit"] in DIMENSIONS[dimension].spellings:
                ours = to_si(us[key]["value"], us[key]["unit"], dimension)
                assert ours == pytest.approx(to_si(figure["value"], unit, dimension), rel=1e-6, abs=1e-11)


GOOD = {
    "--bore": "17 mm", "--pitch-radius": "33.5 mm", "--angle": "17 deg", "--displacement": "50 cm3",
    "--speed": "1500 rpm", "--pressure": "200 bar", "--radial-clearance": "20 um", "--viscosity": "25 mPa s",
    "--length": "30 mm", "--temperature": "80 degC", "--outer": "60 mm",
}  # fmt: skip
WITH_UNITS = [("displacement", f) for f in ("--bore", "--pitch-radius", "--angle")]
WITH_UNITS += [("flow", f) for f in ("--displacement", "--speed", "--pressure")]
WITH_UNITS += [("leakage", f) for f in ("--radial-clearance", "--viscosity", "--length")]
WITH_UNITS += [("oil", "--temperature"), ("whirl", "--outer"), ("orders", "--speed")]
BAD = ["17", "17 kg", "-17 mm", "0 mm", "nan mm", "1e99 mm", "1,5 mm", "", "9**9**9 mm", "mm"]


@pytest.mark.parametrize("bad", BAD)
@pytest.mark.parametrize(("name", "flag"), WITH_UNITS)
def test_bad_quantities_get_one_clear_line(name: str, flag: str, bad: str, capsys: pytest.CaptureFixture[str]) -> None:
    words = shlex.split(page(name).example)
    words = [*words, f"{flag}={bad}"]
    code = command.main(words)
    out, err = capsys.readouterr()
    assert code == 2
    assert out == ""
    assert err.count("\n") == 1
    assert flag in err
    assert len(err) < 260


RUNS = (
    'timed-runs --mass "640 kg" --set "pump_displacement=21 cm3, motor_displacement=21 cm3, final_ratio=25, '
    'rolling_radius=0.28 m, rated_speed=2600 rpm, rated_efficiency=90 %" '
)
ONE = '--run "distance=30 m, time=10.6 s, oil=30 degC, speed=2600 rpm" '
LINES = [
    ("displacement", "required"),
    ("nonsense", "invalid choice"),
    ("displacement --pistons 9.5 --bore '1 mm' --pitch-radius '1 mm' --angle '1 deg'", "whole number"),
    ("leakage --eccentricity 2", "from 0 to 1"),
    ("oil --temperature '80 degC'", "give the oil"),
    ("oil --grade 40 --temperature '80 degC'", "no ISO grade 40"),
    ("oil --grade 46 --at-40 '46 cSt' --temperature '80 degC'", "not both"),
    ("oil --at-40 '5 cSt' --at-100 '32 cSt' --temperature '80 degC'", "hotter must be the thinner"),
    ("cleanliness --counts 1/2/3 --volume '100 mL'", "must not rise"),
    ("cleanliness --counts 1/2 --volume '100 mL'", "three numbers"),
    ("cleanliness --counts 300/20/1", "needs --volume"),
    ("cleanliness --code 19/16/99", "0 to 28"),
    ("joints --speed '2600 rpm'", "--angle-in and --angle-out"),
    ("joints --speed '2600 rpm' --engine '1 deg,0 deg'", "three lines"),
    ("joints --speed '2600 rpm' --engine '1 deg'", "PITCH,YAW"),
    ("joints --speed '2600 rpm' --angle-in '50 deg' --angle-out '2 deg'", "45 degrees"),
    ("whirl --outer '50 mm' --inner '60 mm' --length '1 m'", "inside diameter"),
    (RUNS, "--run"),
    (RUNS + ONE, "one run tells speed"),
    (RUNS + ONE * 3, "all alike"),
    (RUNS + '--run "distance=30 m, time=9.9 s"', "missing: oil, speed"),
    (RUNS + '--run "distance=30 m, time=9.9 s, oil=30 degC, speed=2600 rpm, wind=3 m/s"', "unknown: wind"),
    (RUNS + '--run "distance=30 m, distance=30 m"', "given twice"),
    ("timed-runs --set mass='640 kg' " + ONE + ONE, "pump_displacement"),
    ("timed-runs --set colour=green " + ONE, "no number of a model"),
    ("timed-runs --model tarrow " + ONE, "--model needs a shop"),
    ("neutral-creep --forward-edge '-3 deg' --reverse-edge '3 deg'", "forward edge"),
    ("recording none.csv --speed '2600 rpm'", "No such file"),
    ("recording ride.csv", "give --speed"),
    ("recording . --speed '2600 rpm'", "directory"),
]


@pytest.mark.parametrize(("line", "says"), LINES)
def test_what_does_not_fit_together_gets_one_clear_line(
    line: str, says: str, capsys: pytest.CaptureFixture[str]
) -> None:
    code, out, err = run(line, capsys)
    assert code == 2, out
    assert says in err
    assert err.startswith("shopboard: ")
    assert err.count("\n") == 1


def test_hostile_text_shows_and_does_nothing(capsys: pytest.CaptureFixture[str]) -> None:
    code, _, err = run("whirl --outer '\x1b[31m9 mm' --length '1 m'", capsys)
    assert code == 2
    assert "\x1b" not in err


def test_relief_reached_is_refused(capsys: pytest.CaptureFixture[str]) -> None:
    hot = '--run "distance=30 m, time=12 s, oil=80 degC, speed=2600 rpm, pressure=245 bar" '
    code, _, err = run(RUNS + '--set "relief_pressure=250 bar" ' + ONE + hot, capsys)
    assert code == 2
    assert "run 2 reaches the relief setting" in err


def test_sound_runs_say_what_new_means(capsys: pytest.CaptureFixture[str]) -> None:
    worn = page("timed-runs").example
    sound = " ".join(
        f'--sound-run "distance=30 m, time={t} s, grade={g} %, oil={c} degC, speed=2600 rpm"'
        for t, g, c in ((9.9, 0, 30), (10.5, 12, 32), (10.3, 0, 80), (11.4, 12, 82))
    )
    plain, compared = (json.loads(run(f"{line} --json", capsys)[1]) for line in (worn, f"{worn} {sound}"))
    strokes = [found["results"]["stroke_forward"]["value"] for found in (plain, compared)]
    assert strokes[0] == pytest.approx(strokes[1], rel=1e-3)  # the same runs, the same stroke
    ratio = compared["results"]["leakage_over_sound"]
    assert ratio["high"] - ratio["low"] > plain["results"]["leakage_over_sound"]["high"] * 0.1


def test_models_come_from_the_shop(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    shop = tmp_path / "shop"
    shop.mkdir()
    shop.joinpath("models.toml").write_text(
        '[[model]]\nid = "tarrow"\nname = "Tarrow 9"\nlayout = "in-line"\n[model.data]\npistons = 9\njoints = 2\n',
        encoding="utf-8",
    )
    line = f"orders --shop {shop} --speed '2600 rpm' --json"
    data = json.loads(run(f"{line} --model tarrow --set pistons=7", capsys)[1])
    names = {row["source"]["value"] for row in data["rows"]}
    assert {"pump pistons 7×", "joints 2×"} <= names
    code, _, err = run(f"{line} --model nosuch", capsys)
    assert code == 2
    assert "it has tarrow" in err


THREE_D = (
    "joints --speed '2600 rpm' --engine '1 deg,0 deg' --shaft '5 deg,0 deg' --gearbox '3 deg,0 deg' "
    "--set 'engine_mounts=430 mm, engine_rear_mount_to_joint=95 mm, shaft_length=420 mm, "
    "gearbox_front_mount_to_joint=70 mm, gearbox_mounts=520 mm, spline_travel=45 mm, spline_used=24 mm'"
)


def test_three_lines_give_angles_and_a_shim(capsys: pytest.CaptureFixture[str]) -> None:
    data = json.loads(run(f"{THREE_D} --json", capsys)[1])
    assert data["results"]["front_joint"]["value"] == pytest.approx(4)
    assert data["results"]["rear_joint"]["value"] == pytest.approx(2)
    best = data["rows"][0]
    assert best["left_over"]["value"] < 0.5 * data["results"]["left_over"]["value"]
    assert best["left_over"]["value"] == min(row["left_over"]["value"] for row in data["rows"])
    assert 0 < best["thickness"]["value"] <= 12
    assert best["thickness"]["unit"] == "mm"
    assert data["results"]["spline_room_left"]["value"] == pytest.approx(21)


def test_the_picture_is_written(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    code, _, _ = run(page("recording").example + " --plot out.svg", capsys)
    assert code == 0
    assert "joints 2×" in Path("out.svg").read_text(encoding="utf-8")


def test_it_mounts_under_another_parser(capsys: pytest.CaptureFixture[str]) -> None:
    parser = argparse.ArgumentParser()
    command.add_calc(parser.add_subparsers())
    options = parser.parse_args(["calc", "ripple", "--pistons", "7"])
    assert options.func(options) == 0
    assert "2.528 %" in capsys.readouterr().out
    assert parser.parse_args(["calc"]).func(options) == 0


def test_nothing_heavy_is_loaded_to_show_the_pages() -> None:
    code = (
        "import sys, argparse; from shopboard.calc import add_calc; "
        "add_calc(argparse.ArgumentParser().add_subparsers()); "
        "print([m for m in ('numpy', 'scipy', 'pint', 'textual', 'tinydb') if m in sys.modules])"
    )
    found = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, env={**os.environ})
    assert found.stdout.strip() == "[]"


def test_the_module_runs_alone() -> None:
    words = [sys.executable, "-m", "shopboard.calc", *shlex.split(page("displacement").example)]
    found = subprocess.run(words, capture_output=True, text=True, check=False)
    assert found.returncode == 0
    assert "41.84" in found.stdout or "41.85" in found.stdout
