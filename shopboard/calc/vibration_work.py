"""The work behind the pages on orders and recordings; loaded only when one of them runs."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable, Mapping
from pathlib import Path

from shopboard.mechanics import orders, plots, recording, recording_answers, spectrum
from shopboard.mechanics.results import Figure, Result

from .inputs import CalcError, model_data
from .vibration_pages import ORDERS_SOURCE

_BIG = 20_000_000


def orders_result(o: argparse.Namespace) -> Result:
    """What turns, meshes or pumps at which frequency at this speed."""
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
    """The peaks of the recording and what they may come from; with --plot also the spectrum as a picture."""
    read = _read(Path(o.file))
    if o.speed is None and read.rpm is None:
        raise CalcError("give --speed, the engine's, or a recording with a column rpm")
    heard = recording_answers.recording_answer(read, model_data(o), o.gear, o.speed, Path(o.file).name)
    if o.plot:
        points, labels = spectrum.rows(heard.spectrum), recording_answers.labels(heard.matches)
        Path(o.plot).write_text(plots.spectrum_svg(points, labels, heard.axis), encoding="utf-8")
    return heard.result
