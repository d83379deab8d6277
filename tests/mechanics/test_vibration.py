"""Vibration: made recordings in noise give their sources back, noise gives none, bad files one clear line."""

from __future__ import annotations

import io
import math
import wave

import numpy as np
import pytest
from aids.recordings import MODELS, Made, recording

from shopboard.mechanics import matching, orders, plots, run_up, spectrum
from shopboard.mechanics.model_data import ModelData
from shopboard.mechanics.recording import RecordingError, read_csv, read_wav

# Fixed before any evaluation seed was looked at; tuning used seeds 0 to 3 only.
EVALUATION_SEED = 20_261_125
RIGHT, FALSE = 0.95, 0.01
RATES = (100.0, 200.0, 400.0)


def named(made: Made) -> tuple[matching.Match, ...]:
    """What the analysis says of a made recording, whose engine speed was read to 0.5 %."""
    found = spectrum.spectrum(made.axes, made.rate)
    listed, _ = orders.sources(made.data, made.read_speed)
    grouped = orders.groups(listed, found.resolution)
    return matching.match(spectrum.peaks(found), grouped, made.rate / 2, 0.005)


def score(seed: int, recordings: int, rate: float) -> tuple[float, float, int]:
    """Share of planted sources named (themselves or their group), share of noise recordings with a false source, and
    how many sources were planted."""
    rng = np.random.default_rng(seed + int(rate))
    right, false = [], []
    for _ in range(recordings):
        made = recording(rng, rate)
        said = {s.name for m in named(made) if m.group for s in m.group.sources}
        right += [source.name in said for source in made.planted]
        false.append(any(m.group for m in named(recording(rng, rate, silent=True))))
    return float(np.mean(right)), float(np.mean(false)), len(right)


@pytest.mark.parametrize("rate", RATES)
def test_sources_in_noise_in_small(rate: float) -> None:
    right, false, planted = score(EVALUATION_SEED + 1, 40, rate)
    assert right > RIGHT - 4 * math.sqrt(0.05 * 0.95 / planted)
    assert false <= FALSE + 4 * math.sqrt(0.01 * 0.99 / 40)


@pytest.mark.long
@pytest.mark.parametrize("rate", RATES)
def test_sources_in_noise_in_full(rate: float) -> None:
    right, false, planted = score(EVALUATION_SEED, 1000, rate)
    print(rate, right, false, planted)
    assert right >= RIGHT
    assert false <= FALSE


def test_coinciding_orders_are_one_group_with_a_check_that_separates() -> None:
    listed, _ = orders.sources(ModelData({"joints": 2, "cylinders": 4, "pistons": 9}), 2600 / 60)
    grouped = orders.groups(listed, 0.125)
    first = next(g for g in grouped if any(s.name == "drive shaft 1×" for s in g.sources))
    assert {s.name for s in first.sources} == {"drive shaft 1×", "engine 1×"}
    assert "engine alone" in first.separate
    second = next(g for g in grouped if any(s.name == "joints 2×" for s in g.sources))
    assert {s.name for s in second.sources} == {"joints 2×", "engine firing 2×"}


def test_orders_above_what_the_logger_holds_are_told() -> None:
    listed, _ = orders.sources(ModelData({"joints": 2, "pistons": 7, "cylinders": 3}), 2600 / 60)
    grouped = orders.groups(listed, 0.125)
    assert {s.name for g in matching.hidden(grouped, 50.0) for s in g.sources} >= {"joints 2×", "pump pistons 7×"}
    assert not any(s.name == "joints 2×" for g in matching.hidden(grouped, 100.0) for s in g.sources)


def test_a_model_without_numbers_says_what_cannot_be_placed() -> None:
    listed, missing = orders.sources(ModelData({}), 40.0)
    assert [s.name for s in listed] == ["engine 1×", "engine 2×"]
    assert any("pistons" in line for line in missing)
    assert any("displacements" in line for line in missing)


def test_gears_and_wheels_follow_the_ratios() -> None:
    listed, missing = orders.sources(ModelData(MODELS[0]), 40.0, "low")
    by_name = {s.name: s.order for s in listed}
    assert not missing
    assert by_name["range gear mesh 13×"] == pytest.approx(13)
    assert by_name["final gear mesh 11×"] == pytest.approx(11 / 2.9)
    assert by_name["drive wheel 1×"] == pytest.approx(1 / 2.9 / 12.4)
    assert by_name["tyre lugs 21×"] == pytest.approx(21 / 2.9 / 12.4)


def test_a_tone_off_every_order_matches_nothing() -> None:
    rng = np.random.default_rng(5)
    time = np.arange(6000) / 200
    axes = rng.normal(size=(6000, 1)) + np.sin(2 * np.pi * 61.3 * time)[:, None]
    made = Made(axes, 200.0, 2600 / 60, ModelData({"joints": 2, "cylinders": 3}), ())
    (only,) = named(made)
    assert only.group is None
    assert only.probability > 0.9
    assert only.peak.frequency == pytest.approx(61.3, abs=0.02)


def test_peaks_vouch_for_each_other_on_a_wrong_speed() -> None:
    # Told 1.5 % too fast: 1× and 2× together still find each other.
    time = np.arange(12000) / 200
    rng = np.random.default_rng(6)
    axes = rng.normal(size=(12000, 1)) + sum(np.sin(2 * np.pi * f * time) for f in (42.0, 84.0))[:, None]
    found = spectrum.spectrum(axes, 200.0)
    listed, _ = orders.sources(ModelData({"joints": 2, "cylinders": 3}), 42.63)
    matches = matching.match(spectrum.peaks(found), orders.groups(listed, found.resolution), 100.0, 0.01)
    assert [m.group is not None for m in matches] == [True, True]
    assert all(m.probability > 0.9 for m in matches)


def test_a_run_up_finds_the_joint_whatever_the_speed() -> None:
    rng = np.random.default_rng(7)
    rate, time = 400.0, np.arange(12000) / 400
    rpm = 1200 + 40 * time
    turn = run_up.turns(time, rpm)
    axes = rng.normal(size=(12000, 2)) + np.sin(2 * np.pi * 2 * turn)[:, None]
    found = run_up.order_spectrum(axes, rate, rpm)
    listed, _ = orders.sources(ModelData({"joints": 2, "cylinders": 3}), 1.0)
    (only,) = matching.match(spectrum.peaks(found), orders.groups(listed, found.resolution), 5.0, 0.01)
    assert only.group is not None
    assert "joints 2×" in only.group.name


def csv(
    rate: float = 200.0, count: int = 2000, header: str = "time (s),ax,ay,az", clock: np.ndarray | None = None
) -> str:
    rng = np.random.default_rng(8)
    clock = np.arange(count) / rate if clock is None else clock
    rows = (",".join(f"{v:.6f}" for v in (t, *rng.normal(size=3))) for t in clock)
    return "\n".join(([header] if header else []) + list(rows))


@pytest.mark.parametrize(
    "text",
    [
        csv(),
        csv(header=""),
        csv().replace(",", ";"),
        csv().replace(",", "\t"),
        "# logger\n# phone\n" + csv(),
        '"time","x","y","z"\n' + csv(header=""),
        csv(header="timestamp (ms),x,y,z", clock=np.arange(2000) * 5.0 + 1.7e6),
        csv(header="when,x,y,z", clock=np.arange(2000) * 5.0),
    ],
)
def test_any_header_and_delimiter(text: str) -> None:
    found = read_csv(text)
    assert found.rate == pytest.approx(200, rel=1e-6)
    assert found.axes.shape == (2000, 3)


def test_sums_and_speed_are_told_from_axes() -> None:
    rng = np.random.default_rng(9)
    rows = [
        f"{i / 100},{a:.4f},{b:.4f},{c:.4f},{abs(a):.4f},{900 + i}"
        for i, (a, b, c) in enumerate(rng.normal(size=(500, 3)))
    ]
    found = read_csv("seconds,x,y,z,absolute,rpm\n" + "\n".join(rows))
    assert found.names == ("x", "y", "z")
    assert found.rpm is not None
    assert found.rpm[-1] == pytest.approx(1399)


def test_jitter_and_single_lost_samples_are_mended_and_said() -> None:
    rng = np.random.default_rng(10)
    clock = np.arange(2000) / 200 + rng.uniform(-0.0005, 0.0005, 2000)
    clock = np.delete(clock, [400, 900, 901])
    found = read_csv(csv(clock=clock))
    assert found.rate == pytest.approx(200, rel=1e-3)
    assert len(found.axes) == 2000
    assert "3 lost" in found.remarks[0]


GAP = np.concatenate([np.arange(1000) / 200, np.arange(1000) / 200 + 7.3])
BACK = np.concatenate([np.arange(1000) / 200, np.arange(1000) / 200 + 4.0])
REFUSED = [
    ("", "empty"),
    ("\n\n", "empty"),
    ("time,x\n", "no rows"),
    ("only words here\nand here", "no rows"),
    (csv(count=30), "at least 64"),
    (csv().replace("\n0.005000,", "\n0.005000,9,", 1), "columns"),
    (csv() + "\n10.0,1,2", "columns"),
    (csv().replace("0.010000,", "0.010000,x", 1), "no number"),
    (csv().replace("0.010000,", "nan,", 1), "not finite"),
    (csv(clock=GAP), "gap of 2.3 s at 4.995 s"),
    (csv(clock=BACK), "backwards"),
    (csv(clock=np.zeros(2000)), "stands still"),
    (csv(clock=np.arange(2000) * 9.0, header="time (s),x,y,z"), "unit is wrong"),
    ("time;x\n" + "\n".join(f"{i},5;{i},2" for i in range(100)), "decimal commas"),
    ("time\n" + "\n".join(f"{i / 100}" for i in range(100)), "one column"),
    ("time,x\n" + "\n".join(f"{i / 100},1.0" for i in range(100)), "nothing moves"),
]


@pytest.mark.parametrize(("text", "says"), REFUSED)
def test_bad_recordings_get_one_clear_line(text: str, says: str) -> None:
    with pytest.raises(RecordingError) as refused:
        read_csv(text)
    assert says in str(refused.value)
    assert "\n" not in str(refused.value)


@pytest.mark.parametrize("data", [b"\xff\xfe\x00", b"\x00\x01\x02" * 50, b"RIFF????WAVE"])
def test_bytes_that_are_no_text(data: bytes) -> None:
    with pytest.raises(RecordingError):
        read_csv(data)


@pytest.mark.parametrize("width", [1, 2, 3, 4])
def test_wav_of_every_width(width: int) -> None:
    tone = np.sin(2 * np.pi * 50 * np.arange(8000) / 1000)
    if width == 1:
        raw = (tone * 100 + 128).astype(np.uint8).tobytes()
    else:
        whole = np.round(tone * 0.8 * 2 ** (8 * width - 1)).astype("<i8")
        raw = b"".join(int(v).to_bytes(width, "little", signed=True) for v in whole)
    file = io.BytesIO()
    with wave.open(file, "wb") as out:
        out.setnchannels(1)
        out.setsampwidth(width)
        out.setframerate(1000)
        out.writeframes(raw)
    found = read_wav(file.getvalue())
    expected = 100 / 128 if width == 1 else 0.8
    assert found.rate == 1000
    assert found.axes[:, 0] == pytest.approx(tone * expected, abs=0.01)


def test_a_broken_wav_gets_one_clear_line() -> None:
    with pytest.raises(RecordingError, match="WAV"):
        read_wav(b"RIFF")


def test_progress_is_told_to_the_end() -> None:
    told: list[float] = []
    read_csv(csv(), told.append)
    assert told[-1] == 1.0


@pytest.mark.parametrize(("rpm", "says"), [(np.zeros(1000), "above zero"), (np.full(1000, 30.0), "eight turns")])
def test_run_ups_that_cannot_be_tracked(rpm: np.ndarray, says: str) -> None:
    with pytest.raises(ValueError, match=says):
        run_up.by_turn(np.random.default_rng(1).normal(size=1000), 100.0, rpm)


def test_the_picture_shows_hostile_labels_as_text() -> None:
    from xml.dom import minidom

    picture = plots.spectrum_svg([(0, 0), (50, 1)], [(50, 1, "<script>&'\"")])
    parsed = minidom.parseString(picture)
    assert not parsed.getElementsByTagName("script")
    assert "<script>&'\"" in [n.firstChild.data for n in parsed.getElementsByTagName("text")]
