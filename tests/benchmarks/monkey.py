"""Fifty thousand random keys, clicks, scans and pastes through a raw pseudo-terminal, over ten shops.

`python tests/benchmarks/monkey.py [EVENTS] [SHOPS]` stops at the first traceback, crash or fault of a shop; prints what
was played. The play is that of tests/places/test_monkey.py, with other seeds; nobody's settings are touched.
"""

from __future__ import annotations

import importlib.util
import os
import platform
import sys
import tempfile
from pathlib import Path
from time import perf_counter

HERE = Path(__file__).parent
sys.path.insert(0, str(HERE.parent))


def main(events: int = 50_000, shops: int = 10) -> None:
    """Play and print."""
    spec = importlib.util.spec_from_file_location("test_monkey", HERE.parent / "places" / "test_monkey.py")
    assert spec is not None and spec.loader is not None
    monkey = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(monkey)
    began = perf_counter()
    for seed in range(100, 100 + shops):
        with tempfile.TemporaryDirectory() as scratch:
            os.environ |= {f"XDG_{what}_HOME": f"{scratch}/{what.lower()}" for what in ("CONFIG", "CACHE")}
            monkey.plays(Path(scratch) / "shop", seed, events // shops)
    seconds = perf_counter() - began
    print(f"{events} events over {shops} shops, seeds 100 to {99 + shops}, in {seconds:.0f} s")
    print("no traceback, every board left with status 0, every shop in order; Python", platform.python_version())


if __name__ == "__main__":
    main(*map(int, sys.argv[1:]))
