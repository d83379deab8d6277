"""A recording worked out in a process of its own, so that the board answers every key meanwhile.

The request comes on standard input as one line of JSON; lines of JSON go out: progress, then what was heard or why
nothing can be.
"""

from __future__ import annotations

import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import msgspec

from shopboard.mechanics.results import Result
from shopboard.mechanics.units import Quantity

#: Recordings above this would not fit in a small machine's memory.
MOST_BYTES = 1_000_000_000


class Request(msgspec.Struct, frozen=True):
    """What to work out: the file, the model's numbers, range, the engine's speed (None: in the file)."""

    path: str
    data: dict[str, str | float | int]
    gear: str = ""
    speed: Quantity | None = None


class Progress(msgspec.Struct, frozen=True, tag="progress"):
    """How far it is, as a share, and at what."""

    share: float
    at: str


class Refusal(msgspec.Struct, frozen=True, tag="refused"):
    """Why nothing can be said, in one line."""

    why: str


class Heard(msgspec.Struct, frozen=True, tag="heard"):
    """The result, and its spectrum thinned for drawing with the peaks' labels."""

    result: Result
    points: list[tuple[float, float]]
    labels: list[tuple[float, float, str]]
    axis: str


Report = Progress | Refusal | Heard


def command() -> tuple[str, ...]:
    """How this is started as a process."""
    return (sys.executable, "-m", "shopboard.places.measure_work")


def work(request: Request, tell: Callable[[Report], None]) -> None:
    """Work the request out, telling progress, and at the end what was heard or refused."""
    try:
        tell(_heard(request, tell))
    except OSError as error:
        tell(Refusal(f"{request.path}: {error.strerror or error}"))
    except (ValueError, ArithmeticError) as error:
        tell(Refusal(str(error)))


def _heard(request: Request, tell: Callable[[Report], None]) -> Heard:
    from shopboard.mechanics import recording, recording_answers, spectrum
    from shopboard.mechanics.model_data import ModelData

    data = _bytes(Path(request.path).expanduser())
    tell(Progress(0.05, "reading"))
    if data[:4] == b"RIFF":
        read = recording.read_wav(data)
    else:
        read = recording.read_csv(data, lambda share: tell(Progress(0.05 + 0.75 * share, "reading")))
    tell(Progress(0.8, "listening"))
    name = Path(request.path).name
    heard = recording_answers.recording_answer(read, ModelData(request.data), request.gear, request.speed, name)
    points = spectrum.rows(heard.spectrum)
    return Heard(heard.result, points, recording_answers.labels(heard.matches), heard.axis)


def _bytes(path: Path) -> bytes:
    if path.is_dir():
        raise ValueError(f"{path} is a folder: name the recording in it")
    if path.exists() and not path.is_file():
        raise ValueError(f"{path} is no file that can be read to its end")
    if path.exists() and path.stat().st_size > MOST_BYTES:
        raise ValueError(f"{path} is larger than a gigabyte: cut it to the minutes that matter")
    return path.read_bytes()


def main() -> int:
    """One request in, reports out."""

    def tell(report: Any) -> None:
        sys.stdout.buffer.write(msgspec.json.encode(report) + b"\n")
        sys.stdout.buffer.flush()

    work(msgspec.json.decode(sys.stdin.buffer.readline(), type=Request), tell)
    return 0


if __name__ == "__main__":
    sys.exit(main())
