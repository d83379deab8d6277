"""Very many kills: three writers on one shop, killed again and again, everything acknowledged held against the disk.

    python tests/benchmarks/kill_many.py [--kills 2000] [--seed 1] [--folder DISK]

Every so many rounds a new shop is begun. This process keeps the acknowledgements; it stops at the first that is lost,
the first record that stands alone of its change, the first shop that does not open and the first fault that `verify`
finds. Run it on a disk, so that a sync takes its time and kills fall into it.
"""

from __future__ import annotations

import argparse
import os
import platform
import shutil
import sys
import tempfile
import time
from collections import Counter
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

from aids import crash_worker
from aids.crash_harness import BETWEEN, Killed, check, kill_rounds, replayed

from shopboard.store import new_shop

WRITERS, ROUNDS, MOST_ACKS = 3, 16, 24


def main() -> None:
    """Kill, check and print."""
    options = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    options.add_argument("--kills", type=int, default=2_000)
    options.add_argument("--seed", type=int, default=1)
    options.add_argument("--folder", type=Path, default=None, help="a folder on the disk that matters")
    given = options.parse_args()
    place = Path(tempfile.mkdtemp(prefix="kill-many-", dir=given.folder))
    began, total, shops, changes = time.monotonic(), Killed(), 0, 0
    try:
        while total.steps.total() < given.kills:
            folder = place / f"shop-{shops}"
            new_shop(folder)
            got = kill_rounds(folder, ROUNDS, given.seed * 1000 + shops, crash_worker.run, WRITERS, MOST_ACKS)
            store = check(folder, got.acks)
            replayed(folder, store)
            changes += store.state.seq
            store.close()
            shutil.rmtree(folder)
            shops += 1
            total.acks += got.acks
            total.steps += got.steps
            print(f"{total.steps.total()} kills, {len(total.acks)} acknowledged", file=sys.stderr, flush=True)
    finally:
        shutil.rmtree(place, ignore_errors=True)
    tell(total, shops, changes, time.monotonic() - began, given.seed)


def tell(total: Killed, shops: int, changes: int, seconds: float, seed: int) -> None:
    """What came of it: every check passed, or this would not have been reached."""
    print(
        f"{platform.system()} {platform.machine()}, {os.cpu_count()} cores, Python {platform.python_version()}, "
        f"seed {seed}, {seconds / 60:.0f} minutes"
    )
    print(f"{total.steps.total()} kills, {WRITERS} writers at once, {shops} shops")
    print(f"{len(total.acks)} changes acknowledged, {changes} in the journals at the end")
    print("0 acknowledged changes lost, 0 changes half there, 0 shops that did not open, 0 faults found by verify")
    print(f"{total.inside():.1%} of the kills inside append, sync or checkpoint")
    inside: Counter[str] = Counter({step: n for step, n in total.steps.items() if step not in BETWEEN})
    for step, count in inside.most_common():
        print(f"  after “{step}”: {count}")


if __name__ == "__main__":
    main()
