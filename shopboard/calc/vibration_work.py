"""The work behind the pages on orders and recordings; loaded only when one of them runs."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable, Mapping
from pathlib import Path

from shopboard.mechanics import matching, orders, plots, recording, run_up, spectrum
from shopboard.mechanics.results import Figure, Result

from .inputs import CalcError, model_data
from .vibration_pages import ORDERS_SOURCE, RECORDING_SOURCE

_BIG = 20_000_000
_CAUTION = "turning shafts take hold of clothing: fix the phone, stand clear, guards on"


def orders_result(o: argparse.Namespace) -> Result:
    data = model_data(o)
    found, missing = orders.sources(data, o.speed.si, o.gear)
    top = o.rate.si / 2 if o.rate else None
    grouped = orders.groups(found, o.resolution.si)
    return Result(
        calculation="orders",
        inputs={"speed": o.speed, **({"rate": o.rate} if o.rate else {})},
        results={"sources": Figure(len(found)), "groups": Figure(len(grouped))},
        rows=tuple(_order_row(source, group, top) for group in grouped for source in group.sources),
        assumes=(
            *_separations(grouped),
            *missing,
            "what is behind the hydrostat is placed at full stroke, good to 3 %",
            *data.assumptions(),
        ),
        source=ORDERS_SOURCE,
    )


def _order_row(source: orders.Source, group: orders.Group, top: float | None) -> Mapping[str, Figure]:
    others = [other.name for other in group.sources if other is not source]
    note = f"with {', '.join(others)}" if others else ""
    if top is not None and source.frequency >= top:
        note = "above what the logger can hold"
    return {
        "source": Figure(source.name),
        "order": Figure(round(source.order, 4)),
        "frequency": Figure(source.frequency, "frequency"),
        "note": Figure(note),
    }


def _separations(grouped: tuple[orders.Group, ...]) -> tuple[str, ...]:
    """One sentence a group of coinciding sources: what tells them apart."""
    return tuple(f"to tell apart {group.name}: {group.separate}" for group in grouped if group.separate)


def _progress(size: int) -> Callable[[float], None] | None:
    """A bar on the terminal for files that take longer than a moment."""
    if size < _BIG or not sys.stderr.isatty():
        return None

    def show(share: float) -> None:
        bar = "#" * round(30 * share)
        end = "\n" if share >= 1 else ""
        sys.stderr.write(f"\rreading [{bar.ljust(30, '.')}] {100 * share:3.0f} %{end}")
        sys.stderr.flush()

    return show


def _read(path: Path) -> recording.Recording:
    data = path.read_bytes()
    if data[:4] == b"RIFF" or path.suffix.lower() == ".wav":
        return recording.read_wav(data)
    return recording.read_csv(data, _progress(len(data)))


def recording_result(o: argparse.Namespace) -> Result:
    read = _read(Path(o.file))
    data = model_data(o)
    track = read.rpm is not None and o.speed is None
    if not track and o.speed is None:
        raise CalcError("give --speed, the engine's, or a recording with a column rpm")
    if track:
        assert read.rpm is not None
        found = run_up.order_spectrum(read.axes, read.rate, read.rpm)
        speed, top, error = 1.0, run_up.held_orders(read.rate, read.rpm), 0.003
    else:
        found = spectrum.spectrum(read.axes, read.rate)
        speed, top = o.speed.si, read.rate / 2
        error = o.speed.error / o.speed.si or matching.SPEED_ERROR
    listed, missing = orders.sources(data, speed, o.gear)
    grouped = orders.groups(listed, found.resolution)
    matches = matching.match(spectrum.peaks(found), grouped, top, error)
    if o.plot:
        _plot(Path(o.plot), found, matches, "order" if track else "Hz")
    hidden = [s.name for group in matching.hidden(grouped, top) for s in group.sources]
    return Result(
        calculation="recording",
        inputs={"file": Path(o.file).name, **({"speed": o.speed} if o.speed else {})},
        results={
            "length": Figure(read.seconds, "time"),
            "rate": Figure(read.rate, "frequency"),
            "axes": Figure(", ".join(read.names)),
            "peaks": Figure(len(matches)),
        },
        verdict=_verdict(matches),
        rows=tuple(_peak_row(m, speed, track) for m in matches),
        assumes=(
            *read.remarks,
            *([f"above what this recording holds: {', '.join(hidden)}"] if hidden else []),
            *missing,
            *data.assumptions(),
            _CAUTION,
        ),
        source=RECORDING_SOURCE,
    )


def _verdict(matches: tuple[matching.Match, ...]) -> str:
    if not matches:
        return "nothing stands out of the noise"
    first = next((m for m in matches if m.group), None)
    if first is None or first.group is None:
        return "there are peaks, but nothing on this machine matches them at this speed"
    tail = f"; to tell them apart: {first.group.separate}" if first.group.separate else ""
    return f"strongest match: {first.group.name} ({100 * first.probability:.0f} %){tail}"


def _peak_row(match: matching.Match, speed: float, track: bool) -> Mapping[str, Figure]:
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


def _plot(path: Path, found: spectrum.Spectrum, matches: tuple[matching.Match, ...], axis: str) -> None:
    labels = [(m.peak.frequency, m.peak.amplitude, m.group.name if m.group else "nothing matches") for m in matches]
    path.write_text(plots.spectrum_svg(spectrum.rows(found), labels, axis), encoding="utf-8")
