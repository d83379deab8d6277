"""The pure parts of the Measure panel: the drawing, the words, what is read from forms, the work of a process."""

from __future__ import annotations

import math
from pathlib import Path

import msgspec
import pytest
from aids.measuring import DATA
from aids.recordings import ride
from aids.shipped_book import shipped_book
from hypothesis import given
from hypothesis import strategies as st
from rich.cells import cell_len

from shopboard.mechanics.kept import kept
from shopboard.mechanics.results import Figure, Result
from shopboard.mechanics.units import UnitError
from shopboard.places import measure_forms, measure_lines, measure_work
from shopboard.places.measure_work import Heard, Progress, Refusal, Request
from shopboard.places.spectrum_lines import columns, spectrum_lines
from shopboard.records import Layout, Machine, Model
from shopboard.shop import readings

BOOK = shipped_book()
KNOWN = Model(id="known", name="Known", layout=Layout.IN_LINE, data=DATA)

# -- the drawing ------------------------------------------------------------------------------------------------------

POINTS = st.lists(st.tuples(st.floats(0, 1e4), st.floats(0, 1e6)), min_size=1, max_size=300)


@given(POINTS, st.integers(20, 150), st.integers(3, 15))
def test_a_drawing_is_as_wide_and_high_as_it_was_asked_for(
    points: list[tuple[float, float]], width: int, height: int
) -> None:
    labels = [(x, y, "engine 1×") for x, y in sorted(points, key=lambda p: -p[1])[:30]]
    rows = spectrum_lines(points, labels, "Hz", width, height)
    assert len(rows) == height + 3  # the letters' row, the bars, the axis and its numbers
    assert all(cell_len(row.text) <= width for row in rows)
    assert rows[-1].text.endswith("Hz")


def test_no_peak_is_lost_between_columns_and_the_highest_reaches_the_top() -> None:
    points = [(float(f), 0.01) for f in range(200)]
    points[87] = (87.0, 1.0)
    heights, end = columns(points, 50)
    assert max(heights) == 1.0
    assert heights.index(1.0) == int(87 / 199 * 50)
    assert end == 199.0
    rows = spectrum_lines(points, [(87.0, 1.0, "joints 2×")], "Hz", 50, 5)
    at = int(87 / 199 * 50)
    assert rows[0].text == " " * at + "A"
    assert [row.text[at] for row in rows[1:6]] == ["█"] * 5
    assert rows[6].text.count("┴") == rows[7].text.replace(" Hz", "").split().__len__()


def test_letters_over_one_column_are_the_strongest_peaks() -> None:
    rows = spectrum_lines([(10.0, 1.0), (10.1, 0.5), (100.0, 0.2)], [(10.0, 1.0, "a"), (10.1, 0.5, "b")], "Hz", 20, 4)
    letters = "".join(c for row in rows for c in row.text if c.isalpha())
    assert letters == "AHz"


def test_no_points_no_drawing() -> None:
    assert spectrum_lines([], [], "Hz", 80) == []


# -- words ------------------------------------------------------------------------------------------------------------


def test_what_moved_reads_as_a_sentence() -> None:
    moved = (("pump pistons and bores worn", 0.32, 0.71), ("wrong or thin oil", 0.4, 0.004))
    assert measure_lines.moved_words(moved) == "pump pistons and bores worn 32 % → 71 %; wrong or thin oil 40 % → <1 %"
    assert measure_lines.moved_words(()) == "no cause can be told yet"


def test_every_way_to_measure_answers_a_check_of_the_book_and_needs_numbers_that_models_have() -> None:
    from shopboard.mechanics.model_data import MODEL_DATA
    from shopboard.mechanics.outcomes import CHECKS

    assert {kind.id: kind.check for kind in measure_lines.KINDS} == CHECKS
    for kind in measure_lines.KINDS:
        assert set(kind.needs) <= set(MODEL_DATA)
        assert kind.check in BOOK.checks


@pytest.mark.parametrize("width", [40, 72, 150])
def test_cautions_come_before_the_instruction_and_nothing_is_wider_than_the_dialog(width: int) -> None:
    for kind in measure_lines.KINDS:
        rows = [row.text for row in measure_lines.before_lines(kind, BOOK, None, width)]
        assert all(cell_len(row) <= width for row in rows)
        first = BOOK.checks[kind.check].how.split()[0]
        assert rows[0].startswith("CAUTION")
        assert any(row.startswith(first) for row in rows[1:])


def test_what_cannot_be_measured_here_says_why() -> None:
    machine = Machine(id=1, customer=1, model="g", layout=Layout.GEAR)
    rows = measure_lines.kind_lines(BOOK, machine, 0, 72)
    assert [row.key for row in rows if row.key] == ["recording", "reading"]
    assert any(row.text == "timed runs: not on gear machines" for row in rows)


# -- what is read -----------------------------------------------------------------------------------------------------


def test_a_creep_is_a_speed_or_a_way_and_a_time() -> None:
    assert measure_forms.creep("2 m in 50 s").si == pytest.approx(0.04)
    assert measure_forms.creep("-1 ft in 10 s").si == pytest.approx(-0.03048)
    assert measure_forms.creep("8 in in 4 s").si == pytest.approx(0.0508)
    assert measure_forms.creep("40 mm/s ± 2 mm/s").error == pytest.approx(0.002)
    noisy = measure_forms.creep("2 m ± 0.02 m in 50 s ± 0.5 s")
    assert noisy.error == pytest.approx(0.04 * math.hypot(0.01, 0.01))
    for typed in ("2 in 50", "2 m in 0 s", "fast", "2 m in 50 kg", ""):
        with pytest.raises(UnitError):
            measure_forms.creep(typed)


def test_an_edge_is_one_angle_or_both_wheels() -> None:
    assert [q.value for q in measure_forms.edge("3 deg/3.4 deg")] == [3.0, 3.4]
    with pytest.raises(UnitError, match="no unit"):
        measure_forms.edge("3/4")


def test_forms_start_with_what_the_model_knows() -> None:
    forms = (
        measure_forms.setup_fields(KNOWN, {}),
        measure_forms.creep_fields(KNOWN),
        measure_forms.joint_fields(KNOWN),
    )
    starts = {f.id: f.start for fields in forms for f in fields if f.start}
    assert starts["mass"] == "1500 kg"
    assert (starts["arm"], starts["pitch"], starts["speed"]) == ("58 mm", "1.25 mm", "2500 rpm")
    bare = [f.start for f in measure_forms.setup_fields(None, {})]
    assert bare == [""]


# -- what is kept -----------------------------------------------------------------------------------------------------


def _runs(contrast: float) -> Result:
    return Result(
        calculation="timed-runs",
        inputs={},
        results={
            "stroke_forward": Figure(0.98, "fraction", 0.95, 1.01),
            "stroke_reverse": Figure(0.7, "fraction", 0.67, 0.73),
            "leakage_over_sound": Figure(3.1, "", 2.2, 4.3),
            "oil_contrast": Figure(contrast, "temperature rise"),
        },
    )


def test_the_weaker_direction_and_the_leakage_are_kept_with_their_errors() -> None:
    found = {name: (value, unit, error) for name, value, unit, error in kept(_runs(45.0))}
    assert found["share_of_stroke"] == (70.0, "%", pytest.approx(3 / 1.645, rel=0.02))
    assert found["leakage_over_new"] == (310.0, "%", pytest.approx(105 / 1.645, rel=0.02))


def test_leakage_without_a_contrast_of_oil_is_not_kept_for_tyre_slip_grows_with_load_too() -> None:
    assert [name for name, *_ in kept(_runs(5.0))] == ["share_of_stroke"]


def test_what_is_kept_under_names_of_the_book_fits_it() -> None:
    asked = {r.quantity for r in BOOK.checks["timed-runs"].readings}
    found = kept(_runs(45.0))
    assert asked == {name for name, *_ in found}
    for name, value, unit, error in found:
        readings.fits(name, value, unit, error, BOOK)  # refuses what does not


# -- the work of a process of its own ---------------------------------------------------------------------------------


def _work(path: Path | str, **given: object) -> list[object]:
    told: list[object] = []
    measure_work.work(Request(str(path), dict(DATA), "high", **given), told.append)  # type: ignore[arg-type]
    return told


def test_a_recording_tells_progress_and_then_what_was_heard_and_comes_through_json(tmp_path: Path) -> None:
    path = tmp_path / "ride.csv"
    path.write_text(ride(), encoding="utf-8")
    *progress, heard = _work(path, speed=measure_forms.quantity("2590 rpm", "rotation"))
    assert all(isinstance(p, Progress) for p in progress)
    shares = [p.share for p in progress if isinstance(p, Progress)]
    assert shares == sorted(shares)
    assert isinstance(heard, Heard)
    assert heard.labels[0][0] == pytest.approx(2 * 2590 / 60, abs=0.1)
    assert "joints 2×" in heard.labels[0][2]
    again = msgspec.json.decode(msgspec.json.encode(heard), type=measure_work.Report)
    assert isinstance(again, Heard)
    assert again.result.as_json() == heard.result.as_json()


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("", "is empty"),
        ("time,x\n1,2,3\n", "1 samples: at least 64"),
        ("time,x\n" + "\n".join(f"{i / 100},1" for i in range(200)), "nothing moves"),
        ("time;x\n" + "\n".join(f"0,{i:03d};1" for i in range(200)), "decimal commas"),
        ("time,x\n" + "\n".join(f"{5 - i / 100},{i % 7}" for i in range(200)), "stands still or runs backwards"),
        ("time,x\n" + "\n".join(f"{i / 100 + (i > 99) * 9},{i % 7}" for i in range(200)), "a gap"),
    ],
)
def test_a_bad_recording_is_refused_in_one_line(text: str, why: str, tmp_path: Path) -> None:
    path = tmp_path / "bad.csv"
    path.write_text(text, encoding="utf-8")
    last = _work(path, speed=measure_forms.quantity("2590 rpm", "rotation"))[-1]
    assert isinstance(last, Refusal)
    assert "\n" not in last.why
    assert why in last.why


def test_without_a_speed_anywhere_it_says_what_would_do(tmp_path: Path) -> None:
    path = tmp_path / "ride.csv"
    path.write_text(ride(), encoding="utf-8")
    last = _work(path)[-1]
    assert isinstance(last, Refusal)
    assert "engine's speed" in last.why


@pytest.mark.parametrize("path", ["/nowhere/at/all.csv", "/", "a\x00b", "/dev/null", "x" * 5000])
def test_a_path_that_is_no_recording_is_refused(path: str) -> None:
    last = _work(path)[-1]
    assert isinstance(last, Refusal)
    assert last.why
