"""What a vibration recording answers: its spectrum's peaks, each with its likeliest source on this machine."""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple

from . import matching, orders, outcomes, run_up, sources, spectrum
from .matching import Match
from .model_data import ModelData
from .recording import Recording
from .results import Figure, Result
from .spectrum import Spectrum
from .units import Quantity

CAUTION = "turning shafts take hold of clothing: fix the phone, stand clear, guards on"


class Heard(NamedTuple):
    """A recording's answer with its spectrum and matches for drawing; `axis` is Hz, or order for a run-up."""

    result: Result
    spectrum: Spectrum
    matches: tuple[Match, ...]
    axis: str


def recording_answer(read: Recording, data: ModelData, gear: str, speed: Quantity | None, name: str) -> Heard:
    """Peaks and their sources at engine `speed`; without one, by order tracking along the recording's own speed.

    Raises ValueError when neither is given.
    """
    track = read.rpm is not None and speed is None
    if read.rpm is not None and speed is None:
        found = run_up.order_spectrum(read.axes, read.rate, read.rpm)
        turning, top, error = 1.0, run_up.held_orders(read.rate, read.rpm), 0.003
    elif speed is not None:
        found = spectrum.spectrum(read.axes, read.rate)
        turning, top = speed.si, read.rate / 2
        error = speed.error / speed.si or matching.SPEED_ERROR
    else:
        raise ValueError("give the engine's speed, or a recording with a column rpm")
    listed, missing = orders.sources(data, turning, gear)
    grouped = orders.groups(listed, found.resolution)
    matches = matching.match(spectrum.peaks(found), grouped, top, error)
    hidden = [s.name for group in matching.hidden(grouped, top) for s in group.sources]
    result = Result(
        calculation="recording",
        inputs={"file": name, **({"speed": speed} if speed else {})},
        results={
            "length": Figure(read.seconds, "time"),
            "rate": Figure(read.rate, "frequency"),
            "axes": Figure(", ".join(read.names)),
            "peaks": Figure(len(matches)),
        },
        verdict=_verdict(matches),
        rows=tuple(_peak_row(m, turning, track) for m in matches),
        assumes=(
            *read.remarks,
            *([f"above what this recording holds: {', '.join(hidden)}"] if hidden else []),
            *missing,
            *data.assumptions(),
            CAUTION,
        ),
        source=sources.RECORDING,
        outcome=outcomes.vibration(matches),
    )
    return Heard(result, found, matches, "order" if track else "Hz")


def labels(matches: tuple[Match, ...]) -> list[tuple[float, float, str]]:
    """Each peak as a drawing labels it: place, amplitude, source."""
    return [(m.peak.frequency, m.peak.amplitude, m.group.name if m.group else "nothing matches") for m in matches]


def _verdict(matches: tuple[Match, ...]) -> str:
    if not matches:
        return "nothing stands out of the noise"
    first = next((m for m in matches if m.group), None)
    if first is None or first.group is None:
        return "there are peaks, but nothing on this machine matches them at this speed"
    tail = f"; to tell them apart: {first.group.separate}" if first.group.separate else ""
    return f"strongest match: {first.group.name} ({100 * first.probability:.0f} %){tail}"


def _peak_row(match: Match, speed: float, track: bool) -> Mapping[str, Figure]:
    peak = match.peak
    place = {"order": Figure(round(peak.frequency / speed, 3))}
    if not track:
        place = {"frequency": Figure(peak.frequency, "frequency"), **place}
    return {
        **place,
        "amplitude": Figure(peak.amplitude),
        "over_noise": Figure(round(peak.prominence, 1)),
        "source": Figure(match.group.name if match.group else "nothing matches"),
        "probability": Figure(match.probability, "fraction"),
        "second_best": Figure(match.second.name if match.second else "nothing matches"),
        "its_probability": Figure(match.second_probability, "fraction"),
    }
