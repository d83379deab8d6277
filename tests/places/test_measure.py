"""The Measure panel by keys alone: forms, runs one after another, what they say, and what recording them moves."""

from __future__ import annotations

import os
import re
import sys
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from pathlib import Path
from typing import Any

import pytest
from aids.boards import (
    answer,
    choose,
    form_here,
    open_board,
    paste,
    question_here,
    row_here,
    screen_text,
    settled,
    take,
    type_keys,
    until,
    value,
    walk_to,
)
from aids.measuring import measuring_shop, timed
from aids.recordings import ride
from aids.shops import Clock
from textual.pilot import Pilot

from shopboard.places.dialogs import ChooseDialog, FormDialog
from shopboard.places.dialogs import measure as dialogs
from shopboard.records import Job
from shopboard.shop import evidence

RUNS = ((29, 0), (31, 15), (76, 0), (76, 15))


@asynccontextmanager
async def bench(folder: Path, job_id: int, size: tuple[int, int] = (80, 24)) -> AsyncIterator[Pilot[Any]]:
    """A board with this job on the Bench."""
    clock = Clock()
    store = measuring_shop(folder / "shop", clock)
    async with open_board(folder / "shop", store=store, clock=clock, size=size) as pilot:
        await type_keys(pilot, f"={job_id}", "enter")
        await until(pilot, lambda: pilot.app.place_name == "bench", "the Bench")
        yield pilot


def job(pilot: Pilot[Any]) -> Job:
    found: Job = pilot.app.state.jobs[pilot.app.job_id]
    return found


def said(pilot: Pilot[Any]) -> str:
    """The screen as one text, line ends taken out; of a dialog what stands within its frame."""
    whole = screen_text(pilot.app)
    within = re.findall(r"│ (.*) │", whole)
    return " ".join(re.sub(r"[─▁▂▃▄▅▆▇█]", " ", "\n".join(within) if within else whole).split())


def told(pilot: Pilot[Any]) -> str:
    """The notice of the dialog in front."""
    return str(getattr(pilot.app.screen, "_told", ("",))[0])


async def on_result(pilot: Pilot[Any]) -> None:
    await until(pilot, lambda: isinstance(pilot.app.screen, dialogs.ResultDialog), "the result")
    await settled(pilot)


async def start_runs(pilot: Pilot[Any]) -> None:
    """To the first run's form: range chosen, mass as the model gives it."""
    await type_keys(pilot, "g")
    await choose(pilot, "timed runs")
    await choose(pilot, "add a run")
    await take(pilot, "range", "high")
    assert value(pilot.app, "mass") == "1500 kg"
    await type_keys(pilot, "enter")


async def give_runs(pilot: Pilot[Any], stroke: float, leakage: float) -> None:
    """Four runs, cool and hot, flat and on a grade; what stays the same is typed once."""
    await start_runs(pilot)
    for number, (oil, percent) in enumerate(RUNS):
        again = ["enter"] if number else []  # "add another run" has the cursor
        same = ["enter", "enter"] if number else ["=2500 rpm", "enter", "=30 m", "enter"]
        read = [f"={timed(stroke, leakage, oil, percent)}", "enter", f"={oil} degC", "enter"]
        await type_keys(pilot, *again, *read, *same, "ctrl+u", f"={percent} %", "ctrl+s")
        assert f"run {number + 1}: 30 m in" in said(pilot)


def moved(pilot: Pilot[Any]) -> list[tuple[str, int, int]]:
    """The causes the notice names, with per cent before and after."""
    notice = said(pilot).split("Saved, ")[1]
    return [
        (n.strip(" .;"), int(a), int(b)) for n, a, b in re.findall(r"([a-z][a-z :,]+?) <?(\d+) % → >?(\d+) %", notice)
    ]


# -- timed runs -----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("job_id", "stroke", "leakage", "outcome", "causes"),
    [
        (1, 1.0, 5.0, "slower-hot", {"pump-worn"}),
        (2, 0.62, 1.0, "slow-alike", {"travel-blocked", "cable-stretched", "arm-loose"}),
    ],
    ids=["worn pump", "linkage"],
)
async def test_runs_bring_the_right_cause_to_the_top_and_one_can_see_why(
    job_id: int, stroke: float, leakage: float, outcome: str, causes: set[str], tmp_path: Path
) -> None:
    async with bench(tmp_path, job_id) as pilot:
        board = pilot.app
        before = evidence.ranking(board.state, job(pilot), board.book)
        was = {c.id: c.probability for c in before.causes}
        seq = board.state.seq
        await give_runs(pilot, stroke, leakage)
        await choose(pilot, "what do these 4 runs say?")
        await on_result(pilot)
        assert board.state.seq == seq  # nothing is recorded before one says so
        preview = re.search(r"recorded, it moves: (.*? → >?\d+ %)", said(pilot))
        await type_keys(pilot, "ctrl+s")
        assert board.state.seq == seq + 1
        assert [(a.check, a.outcome) for a in job(pilot).answers] == [("timed-runs", outcome)]
        assert {r.quantity for r in job(pilot).readings} == {"share_of_stroke", "leakage_over_new"}
        assert all("30 m in" in r.note for r in job(pilot).readings)
        measured = {r.quantity: r for r in job(pilot).readings}
        assert measured["share_of_stroke"].value == pytest.approx(100 * stroke, abs=4)
        assert abs(measured["leakage_over_new"].value - 100 * leakage) < 2 * measured["leakage_over_new"].error + 50
        after = evidence.ranking(board.state, job(pilot), board.book)
        top = after.causes[0]
        assert top.id in causes
        assert top.probability > was[top.id]
        assert any("timed runs" in weight.text for weight in top.speaks_for)
        name, a, b = moved(pilot)[0]
        assert name.endswith(top.name)
        assert (a, b) == (round(100 * was[top.id]), round(100 * top.probability))
        assert preview is not None
        assert preview[1].endswith(f"{b} %")
        await type_keys(pilot, "g")  # what was recorded is no more among the runs to come
        assert "so far" not in said(pilot)


async def test_runs_stay_while_one_looks_elsewhere_and_can_be_changed_and_taken_out(tmp_path: Path) -> None:
    async with bench(tmp_path, 1) as pilot:
        await start_runs(pilot)
        for time in ("12.0 s", "13.1 s"):
            await type_keys(pilot, f"={time}", "enter", "=30 degC", "enter")
            if time == "12.0 s":
                await type_keys(pilot, "=2500 rpm", "enter", "=30 m", "ctrl+s")
                await choose(pilot, "add another run")
        await type_keys(pilot, "ctrl+s", "escape", "f", "b", "g")
        assert "2 so far, not recorded yet" in said(pilot)
        await choose(pilot, "timed runs")
        await choose(pilot, "run 1: 30 m in 12.0 s")
        await choose(pilot, "change it")
        assert value(pilot.app, "time") == "12.0 s"
        await type_keys(pilot, "ctrl+u", "=12.4 s", "ctrl+s")
        assert "run 1: 30 m in 12.4 s" in said(pilot)
        await choose(pilot, "run 2")
        await choose(pilot, "take it out")
        assert "run 2" not in said(pilot)
        assert "one run tells speed, not why" in said(pilot)
        assert job(pilot).readings == ()


async def test_runs_all_alike_are_refused_with_the_run_to_add(tmp_path: Path) -> None:
    async with bench(tmp_path, 1) as pilot:
        await start_runs(pilot)
        await type_keys(pilot, "=12.0 s", "enter", "=30 degC", "enter", "=2500 rpm", "enter", "=30 m", "ctrl+s")
        await choose(pilot, "add another run")
        await type_keys(pilot, "=12.1 s", "enter", "=31 degC", "ctrl+s")
        await choose(pilot, "what do these 2 runs say?")
        assert "add a run with hot oil on the steepest safe grade" in said(pilot)
        assert isinstance(pilot.app.screen, ChooseDialog)
        assert job(pilot).answers == ()


async def test_left_half_way_what_was_typed_ahead_is_here_again(tmp_path: Path) -> None:
    async with bench(tmp_path, 1) as pilot:
        await type_keys(pilot, "g", "enter", "enter", "down", "enter", "enter", "=12.0 s", "enter", "=30 deg")
        assert (value(pilot.app, "time"), value(pilot.app, "oil")) == ("12.0 s", "30 deg")
        await type_keys(pilot, "escape", "escape", "g")
        await choose(pilot, "timed runs")
        await choose(pilot, "add a run")
        assert (value(pilot.app, "time"), value(pilot.app, "oil")) == ("12.0 s", "30 deg")


TYPED = {
    "15": "has no unit; write it like 9.4 s",
    "15 kg": "measures mass, not time",
    "-3 s": "must not be negative",
    "0 s": "must not be zero",
    "nan s": "does not start with a number",
    "1e99 s": "outside anything a workshop measures",
    "9,4 s": "write a decimal point",
    "9**9**9 s": "",
    "犬 s": "does not start with a number",
    "[/b] s": "does not start with a number",
    "": "time is missing",
}


async def test_what_cannot_be_is_refused_in_one_line_and_stays_to_be_mended(tmp_path: Path) -> None:
    async with bench(tmp_path, 1) as pilot:
        await start_runs(pilot)
        for typed, why in TYPED.items():
            await type_keys(pilot, "ctrl+u", *([f"={typed}"] if typed else []), "enter")
            row = question_here(pilot.app)
            assert row.field.id == "time"
            assert row.error, typed
            assert "\n" not in row.error
            assert why in row.error, row.error
            assert value(pilot.app, "time") == typed
        await paste(pilot, "\x1b[31m9 s\x07")
        assert "\x1b" not in screen_text(pilot.app)
        assert job(pilot).readings == ()


# -- one form each --------------------------------------------------------------------------------------------------


async def test_neutral_creep(tmp_path: Path) -> None:
    async with bench(tmp_path, 1) as pilot:
        await type_keys(pilot, "g")
        await choose(pilot, "neutral creep")
        await type_keys(pilot, "enter", "=-3 deg", "enter", "=1 deg", "ctrl+s")
        assert "the forward edge must lie on the forward side" in said(pilot)
        await type_keys(pilot, "shift+tab", "shift+tab", "ctrl+u", "=3.0 deg/3.2 deg")
        await type_keys(pilot, "enter", "ctrl+u", "=-0.8 deg/-1.0 deg", "ctrl+s")
        await on_result(pilot)
        assert "does not creep at rest; the plate rests 1.1° towards reverse" in said(pilot)
        assert "move link 1.113 mm" in said(pilot)  # 58 mm · sin 1.1°
        await type_keys(pilot, "ctrl+s")
        assert [(a.check, a.outcome) for a in job(pilot).answers] == [("neutral-stands", "still")]
        assert {r.quantity: (r.value, r.unit) for r in job(pilot).readings} == {
            "neutral_offset": (-1.1, "deg"), "dead_band": (4.0, "deg")
        }  # fmt: skip


async def test_slope_hold_takes_a_way_and_a_time(tmp_path: Path) -> None:
    async with bench(tmp_path, 1) as pilot:
        await type_keys(pilot, "g")
        await choose(pilot, "slope hold")
        book = pilot.app.book
        for caution in book.checks["slope-hold"].cautions:  # whole, before there is a form
            assert book.cautions[caution].text.split(".")[0] in said(pilot)
        await type_keys(pilot, "enter")
        assert isinstance(pilot.app.screen, FormDialog)
        assert "CAUTION" in said(pilot)
        await take(pilot, "range", "high")
        await type_keys(pilot, "enter", "=15 %", "enter", "=2", "enter")
        assert "has no unit" in question_here(pilot.app).error
        await type_keys(pilot, "ctrl+u", "=3 m in 15 s", "enter", "=200 mm/s", "enter", "=70 degC", "enter")
        await on_result(pilot)
        assert "creep from leakage 0.2 m/s" in said(pilot)
        await type_keys(pilot, "escape")  # back to the form, as it was typed
        assert value(pilot.app, "nose_up") == "3 m in 15 s"
        await type_keys(pilot, "ctrl+s")
        await on_result(pilot)
        await type_keys(pilot, "ctrl+s")
        assert job(pilot).answers[0].check == "slope-hold"
        assert "leakage_on_slope_over_new" in [r.quantity for r in job(pilot).readings]


async def test_joint_angles(tmp_path: Path) -> None:
    async with bench(tmp_path, 3) as pilot:
        await type_keys(pilot, "g")
        await choose(pilot, "joint angles")
        await type_keys(pilot, "enter", "=3 deg", "enter", "=8 deg", "enter", "=5 deg")
        assert value(pilot.app, "speed") == "2500 rpm"
        await type_keys(pilot, "ctrl+s")
        await on_result(pilot)
        assert "left over shakes the driven unit" not in said(pilot)  # 4.0° of 4.4° allowed …
        assert "the joint angles differ by 2.0°" in said(pilot)  # … but unequal
        await type_keys(pilot, "ctrl+s")
        assert [(a.check, a.outcome) for a in job(pilot).answers] == [("joint-angles", "unequal")]
        angles = {r.quantity: r.value for r in job(pilot).readings}
        assert angles == pytest.approx(
            {"front_joint_angle": 5.0, "rear_joint_angle": 3.0, "angle_left_over": 4.0}, abs=0.01
        )


async def test_what_does_not_fit_the_machine_is_said_and_a_plain_reading_stays(tmp_path: Path) -> None:
    async with bench(tmp_path, 4) as pilot:
        await type_keys(pilot, "g")
        assert "timed runs: not on gear machines" in said(pilot)
        await walk_to(pilot, "a plain reading")
        assert row_here(pilot.app).startswith("a plain reading")
        await type_keys(pilot, "enter")
        await answer(pilot, "what", "gear oil level")


async def test_a_model_without_numbers_says_what_is_lacking(tmp_path: Path) -> None:
    async with bench(tmp_path, 1) as pilot:
        pilot.app.state.models["known"].data.clear()
        await type_keys(pilot, "g")
        await choose(pilot, "slope hold")
        assert "Known gives no pump displacement" in said(pilot)
        await type_keys(pilot, "enter", "=640 kg", "enter", "=15 %", "enter", "=1 mm/s", "enter", "=1 mm/s", "enter")
        await type_keys(pilot, "=70 degC", "enter")
        assert "the model has no pump_displacement" in said(pilot)
        assert isinstance(pilot.app.screen, FormDialog)


# -- recordings -----------------------------------------------------------------------------------------------------


async def to_recording(pilot: Pilot[Any], path: str) -> None:
    await type_keys(pilot, "g")
    await choose(pilot, "recording")
    await type_keys(pilot, "enter")
    await paste(pilot, path)
    await type_keys(pilot, "enter", "ctrl+u", "=2590 rpm", "enter")
    await take(pilot, "range", "high")


async def test_a_recording_is_drawn_named_and_recorded(tmp_path: Path) -> None:
    path = tmp_path / "ride one.csv"
    path.write_text(ride(), encoding="utf-8")
    async with bench(tmp_path, 3) as pilot:
        await to_recording(pilot, f"'{path}'")
        await on_result(pilot)
        assert "engine 2× or joints 2×" in said(pilot)
        assert "A" in [span.text for row in pilot.app.screen.query_one("#page").lines for span in row.spans]
        await type_keys(pilot, "ctrl+s")
        assert [(a.check, a.outcome) for a in job(pilot).answers] == [("vibration-recording", "unsure")]
        (reading,) = job(pilot).readings
        assert (reading.quantity, reading.unit) == ("strongest_vibration", "Hz")
        assert reading.value == pytest.approx(86.3, abs=0.1)


async def test_a_file_that_cannot_be_heard_leaves_the_form_as_it_was(tmp_path: Path) -> None:
    async with bench(tmp_path, 3) as pilot:
        await to_recording(pilot, str(tmp_path / "gone.csv"))
        await until(pilot, lambda: "No such file" in told(pilot), "the refusal")
        await settled(pilot)
        assert "No such file" in said(pilot)
        assert value(pilot.app, "file") == str(tmp_path / "gone.csv")
        assert value(pilot.app, "speed") == "2590 rpm"
        await type_keys(pilot, "ctrl+u")
        await paste(pilot, str(tmp_path))
        await type_keys(pilot, "ctrl+s")
        await until(pilot, lambda: "is a folder" in told(pilot), "the refusal")
        assert job(pilot).answers == ()


ENDLESS = """
import os, sys
sys.stdin.readline()
open(sys.argv[1], "w").write(str(os.getpid()))
print('{"type": "progress", "share": 0.4, "at": "reading"}', flush=True)
sys.stdin.read()
"""


async def test_keys_are_answered_while_it_works_and_esc_ends_the_work(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    note = tmp_path / "pid"
    monkeypatch.setattr(dialogs, "command", lambda: (sys.executable, "-c", ENDLESS, str(note)))
    async with bench(tmp_path, 3) as pilot:
        await to_recording(pilot, "anything.csv")
        await until(pilot, lambda: pilot.app.screen._at.share > 0, "progress")
        await settled(pilot)
        assert pilot.app.screen.focused is not None  # else the next key would be held back
        assert "reading" in said(pilot)
        assert "40%" in said(pilot)
        await type_keys(pilot, "escape")
        assert form_here(pilot.app) is not None
        assert value(pilot.app, "file") == "anything.csv"
        pid = int(note.read_text())
        await until(pilot, lambda: not _lives(pid), "the end of the work")


def _lives(pid: int) -> bool:
    try:
        os.kill(pid, 0)
    except ProcessLookupError:
        return False
    return True
