"""How long a ten-minute, three-axis recording at 400 Hz takes to read and analyse. Run by hand:

    python tests/benchmarks/bench_recording.py

Target: under one second. Last result (seed 0, a shared 2-core virtual machine, Python 3.11): see bench_recording.txt.
"""

from __future__ import annotations

import platform
import sys
import time

import numpy as np

from shopboard.mechanics import matching, orders, recording, spectrum
from shopboard.mechanics.model_data import ModelData

TARGET = 1.0


def made(seed: int = 0, seconds: float = 600.0, rate: float = 400.0) -> bytes:
    """The CSV text of noise with a joint's tone in it."""
    clock = np.arange(int(seconds * rate)) / rate
    axes = np.random.default_rng(seed).normal(size=(len(clock), 3)) + np.sin(2 * np.pi * 86.7 * clock)[:, None]
    rows = (f"{t:.4f},{x:.5f},{y:.5f},{z:.5f}" for t, (x, y, z) in zip(clock, axes, strict=True))
    return ("time (s),x,y,z\n" + "\n".join(rows)).encode()


def analyse(data: bytes) -> str:
    """Read, transform, match: what the command does."""
    read = recording.read_csv(data)
    found = spectrum.spectrum(read.axes, read.rate)
    listed, _ = orders.sources(ModelData({"joints": 2, "cylinders": 3, "pistons": 9}), 2600 / 60)
    matches = matching.match(spectrum.peaks(found), orders.groups(listed, found.resolution), read.rate / 2)
    return ", ".join(m.group.name if m.group else "nothing" for m in matches)


def main() -> int:
    """Print the median of five; 1 if over the target."""
    data, took, said = made(), [], ""
    analyse(data[: data.rindex(b"\n", 0, 200_000)])  # the libraries' own import
    for _ in range(5):
        start = time.perf_counter()
        said = analyse(data)
        took.append(time.perf_counter() - start)
    median = sorted(took)[2]
    print(
        f"{len(data) / 1e6:.1f} MB: median {median:.3f} s, worst {max(took):.3f} s; {said}; {platform.python_version()}"
    )
    return int(median > TARGET)


if __name__ == "__main__":
    sys.exit(main())
