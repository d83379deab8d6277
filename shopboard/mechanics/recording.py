"""A recording as a phone or a sound recorder writes it: CSV with a time column, or WAV; checked before use."""

from __future__ import annotations

import io
import math
import re
import wave
from collections.abc import Callable
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]

_CHUNK = 100_000
_LEAST_SAMPLES = 64
_UNITS = {"s": 1.0, "sec": 1.0, "seconds": 1.0, "ms": 1e-3, "us": 1e-6, "µs": 1e-6, "ns": 1e-9}
_SPEED = re.compile(r"rpm|rev|speed|tacho", re.IGNORECASE)
_SUM = re.compile(r"abs|magnitude|total|norm|\bg-?force|seconds_elapsed|index|sample", re.IGNORECASE)
_TIME = re.compile(r"time|elapsed|^\s*t\b|\bsec|epoch", re.IGNORECASE)


class RecordingError(ValueError):
    """A recording that cannot be used: one clear line."""


class Recording(NamedTuple):
    """Evenly spaced samples: `rate` [Hz], `axes` (samples × 1 … 3, in whatever unit the logger wrote), their names,
    `rpm` beside each sample if the file had a speed column, and remarks on what was mended."""

    rate: float
    axes: Array
    names: tuple[str, ...]
    rpm: Array | None = None
    remarks: tuple[str, ...] = ()

    @property
    def seconds(self) -> float:
        """Length of the recording [s]."""
        return len(self.axes) / self.rate


def read_wav(data: bytes) -> Recording:
    """The recording in a WAV file (8, 16, 24 or 32 bit, first three channels). Raises RecordingError."""
    try:
        with wave.open(io.BytesIO(data)) as file:
            width, channels, rate = file.getsampwidth(), file.getnchannels(), file.getframerate()
            raw = file.readframes(file.getnframes())
    except (wave.Error, EOFError) as error:
        raise RecordingError(f"this WAV file cannot be read: {error}") from None
    if width == 1:
        values = np.frombuffer(raw, np.uint8).astype(float) - 128
    else:
        count = len(raw) // width * width
        raw_bytes = np.frombuffer(raw[:count], np.uint8).reshape(-1, width)
        padded = np.zeros((len(raw_bytes), 4), np.uint8)
        padded[:, 4 - width :] = raw_bytes
        values = padded.view("<i4")[:, 0].astype(float) / 2.0 ** (8 * (4 - width))
    axes = values[: len(values) // channels * channels].reshape(-1, channels)[:, :3] / 2.0 ** (8 * width - 1)
    return _usable(float(rate), axes, tuple(f"channel {i + 1}" for i in range(axes.shape[1])))


def read_csv(data: bytes | str, progress: Callable[[float], None] | None = None) -> Recording:
    """The recording in CSV text: a time column, then one to three axes, maybe a speed column; any header.

    Commas, semicolons, tabs or blanks between columns. Small jitter and single lost samples are mended and said;
    `progress` is told the share read. Raises RecordingError, one line.
    """
    text = data if isinstance(data, str) else _text(data)
    lines = [line for line in text.splitlines() if line.strip() and not line.lstrip().startswith("#")]
    if not lines:
        raise RecordingError("this recording is empty")
    names, first, delimiter = _header(lines)
    table = _numbers(lines, first, delimiter, progress)
    if names is None or len(names) != table.shape[1]:
        names = ["time", *(f"axis {i}" for i in range(1, table.shape[1]))]
    if table.shape[1] < 2:
        raise RecordingError("this recording has one column: it needs a time column and one to three axes")
    return _from_table(table, names)


def _text(data: bytes) -> str:
    for encoding in ("utf-8-sig", "utf-16") if data[:2] in (b"\xff\xfe", b"\xfe\xff") else ("utf-8-sig", "latin-1"):
        try:
            return data.decode(encoding)
        except UnicodeDecodeError:
            continue
    raise RecordingError("this recording is no text that can be read")


def _header(lines: list[str]) -> tuple[list[str] | None, int, str | None]:
    """Column names (if any), the number of the first line of numbers, and the delimiter."""
    for at, line in enumerate(lines[:50]):
        delimiter = next((d for d in (";", "\t", ",") if d in line), None)
        cells = [c.strip().strip('"') for c in line.split(delimiter)]
        if delimiter in (";", "\t") and any(re.fullmatch(r"[+-]?\d+,\d+", c) for c in cells):
            raise RecordingError("this recording has decimal commas: export it again with decimal points")
        if all(_is_number(c) for c in cells):
            before = lines[at - 1] if at else None
            return (None if before is None else [c.strip().strip('"') for c in before.split(delimiter)]), at, delimiter
    raise RecordingError("this recording has no rows of numbers in its first 50 lines")


def _is_number(cell: str) -> bool:
    try:
        float(cell)
    except ValueError:
        return False
    return True


def _numbers(lines: list[str], first: int, delimiter: str | None, progress: Callable[[float], None] | None) -> Array:
    """The rows of numbers, read in chunks so that progress can be told. Raises RecordingError naming the row."""
    tables: list[Array] = []
    for at in range(first, len(lines), _CHUNK):
        part = lines[at : at + _CHUNK]
        try:
            tables.append(np.loadtxt(part, delimiter=delimiter, ndmin=2, quotechar='"'))
        except ValueError:
            raise RecordingError(_bad_row(part, at, delimiter)) from None
        if tables[-1].shape[1] != tables[0].shape[1]:
            raise RecordingError(
                f"row {at + 1} has {tables[-1].shape[1]} columns, the rows before {tables[0].shape[1]}"
            )
        if progress:
            progress(min(1.0, (at + _CHUNK) / len(lines)))
    return np.concatenate(tables)


def _bad_row(lines: list[str], before: int, delimiter: str | None) -> str:
    wanted = len(lines[0].split(delimiter))
    for at, line in enumerate(lines):
        cells = line.split(delimiter)
        if len(cells) != wanted:
            return f"row {before + at + 1} has {len(cells)} columns, the rows before {wanted}"
        bad = next((c for c in cells if not _is_number(c.strip().strip('"'))), None)
        if bad is not None:
            return f"row {before + at + 1} holds '{bad.strip()[:20]}', which is no number"
    return "this recording holds rows that cannot be read"


def _from_table(table: Array, names: list[str]) -> Recording:
    if not np.isfinite(table).all():
        row = int(np.argmin(np.isfinite(table).all(axis=1))) + 1
        raise RecordingError(f"row {row} of the numbers holds a value that is not finite")
    if len(table) < _LEAST_SAMPLES:
        raise RecordingError(f"this recording has {len(table)} samples: at least {_LEAST_SAMPLES} are needed")
    clock = next((i for i, n in enumerate(names) if _TIME.search(n)), 0)
    speed = next((i for i, n in enumerate(names) if i != clock and _SPEED.search(n)), None)
    others = [i for i in range(len(names)) if i not in (clock, speed)]
    axes = [i for i in others if not _SUM.search(names[i]) and not _TIME.search(names[i])][:3] or others[:3]
    if not axes:
        raise RecordingError("this recording has a time column and nothing measured beside it")
    wanted = axes if speed is None else [*axes, speed]
    rate, even, remarks = _evened(table[:, clock] * _clock_unit(names[clock], table[:, clock]), table[:, wanted])
    rpm = None if speed is None else even[:, -1]
    return _usable(rate, even[:, : len(axes)], tuple(names[i] for i in axes), rpm, remarks)


def _clock_unit(name: str, clock: Array) -> float:
    """Seconds in one unit of the time column: from its name, else from the size of its steps."""
    said = re.search(r"[\[(_ ](s|sec|seconds|ms|us|µs|ns)[\])]?\s*$", name.strip(), re.IGNORECASE)
    if said:
        return _UNITS[said[1].lower()]
    step = float(np.median(np.diff(clock)))
    for unit in (1.0, 1e-3, 1e-6, 1e-9):
        if 1e-5 <= step * unit <= 0.5:
            return unit
    return 1.0


def _evened(clock: Array, values: Array) -> tuple[float, Array, tuple[str, ...]]:
    """The values at even steps, or RecordingError for a clock that cannot be trusted."""
    steps = np.diff(clock)
    if (steps <= 0).any():
        row = int(np.argmax(steps <= 0)) + 2
        raise RecordingError(f"the clock stands still or runs backwards at row {row} of the numbers")
    step = float(np.median(steps))
    if not 1e-5 <= step <= 0.5:
        raise RecordingError(f"the clock says one sample every {step:g} s: the time column or its unit is wrong")
    worst = int(np.argmax(steps))
    lost = int(np.round(steps / step - 1).clip(0).sum())
    if steps[worst] > 5.5 * step or lost > 0.02 * len(clock):
        at = clock[worst] - clock[0]
        raise RecordingError(f"the recording has a gap of {steps[worst]:.2g} s at {at:.4g} s: record again, or cut it")
    rate = (len(steps) + lost) / float(clock[-1] - clock[0])
    even = clock[0] + np.arange(len(clock) + lost) / rate
    if lost == 0 and np.abs(clock - even).max() < 0.02 * step:
        return rate, values, ()
    filled = np.column_stack([np.interp(even, clock, column) for column in values.T])
    return rate, filled, (f"samples brought to even steps, {lost} lost ones filled in",)


def _usable(
    rate: float, axes: Array, names: tuple[str, ...], rpm: Array | None = None, remarks: tuple[str, ...] = ()
) -> Recording:
    if len(axes) < _LEAST_SAMPLES:
        raise RecordingError(f"this recording has {len(axes)} samples: at least {_LEAST_SAMPLES} are needed")
    moving = [i for i in range(axes.shape[1]) if np.ptp(axes[:, i]) > 0]
    if not moving:
        raise RecordingError("nothing moves in this recording: every value is the same")
    if not math.isfinite(rate) or rate <= 0:
        raise RecordingError("this recording says no sampling rate")
    return Recording(rate, axes[:, moving], tuple(names[i] for i in moving), rpm, remarks)
