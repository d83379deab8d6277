"""Very many kills: three writers on one shop, killed again and again, everything acknowledged held against the disk.

    python tests/benchmarks/kill_many.py [--kills 2000] [--seed 1] [--folder DISK] [--pieces FILE [--stop 40]]

Every so many rounds a new shop is begun. This process keeps the acknowledgements; it stops at the first that is lost,
the first record that stands alone of its change, the first shop that does not open and the first fault that `verify`
finds. Run it on a disk, so that a sync takes its time and kills fall into it. With
`--pieces` the totals are kept in a file: a run may stop after some seconds and the next one goes on from there.
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

import msgspec
from aids import crash_worker
from aids.crash_harness import BETWEEN, Killed, check, kill_rounds, replayed

from shopboard.store import new_shop

WRITERS, ROUNDS, MOST_ACKS, AIMED = 3, 16, 24, 0.9


class Totals(msgspec.Struct):
    """What came of all pieces so far."""

    shops: int = 0
    kills: int = 0
    acks: int = 0
    changes: int = 0
    seconds: float = 0.0
    steps: dict[str, int] = {}

    def add(self, got: Killed, changes: int) -> None:
        """One more shop."""
        self.shops, self.changes = self.shops + 1, self.changes + changes
        self.kills, self.acks = self.kills + got.steps.total(), self.acks + len(got.acks)
        self.steps = dict(Counter(self.steps) + got.steps)


def main() -> None:
    """Kill, check and print."""
    options = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    options.add_argument("--kills", type=int, default=2_000)
    options.add_argument("--seed", type=int, default=1)
    options.add_argument("--folder", type=Path, default=None, help="a folder on the disk that matters")
    options.add_argument("--pieces", type=Path, default=None, help="keep the totals here, and go on from them")
    options.add_argument("--stop", type=float, default=float("inf"), help="with --pieces: stop after so many seconds")
    given = options.parse_args()
    kept = given.pieces is not None and given.pieces.exists()
    total = msgspec.json.decode(given.pieces.read_bytes(), type=Totals) if kept else Totals()
    place = Path(tempfile.mkdtemp(prefix="kill-many-", dir=given.folder))
    began = time.monotonic()
    try:
        while total.kills < given.kills and time.monotonic() - began < given.stop:
            at = time.monotonic()
            one_shop(place / "shop", given.seed * 1000 + total.shops, total)
            total.seconds += time.monotonic() - at
            if given.pieces:
                given.pieces.write_bytes(msgspec.json.encode(total))
            print(f"{total.kills} kills, {total.acks} acknowledged", file=sys.stderr, flush=True)
    finally:
        shutil.rmtree(place, ignore_errors=True)
    tell(total, given.seed)


def one_shop(folder: Path, seed: int, total: Totals) -> None:
    """Some rounds on one new shop; whatever is lost or half there stops everything."""
    new_shop(folder)
    got = kill_rounds(folder, ROUNDS, seed, crash_worker.run, WRITERS, MOST_ACKS, AIMED)
    store = check(folder, got.acks)
    replayed(folder, store)
    total.add(got, store.state.seq)
    store.close()
    shutil.rmtree(folder)


def tell(total: Totals, seed: int) -> None:
    """What came of it: every check passed, or this would not have been reached."""
    print(
        f"{platform.system()} {platform.machine()}, {os.cpu_count()} cores, Python {platform.python_version()}, "
        f"seed {seed}, {total.seconds / 60:.0f} minutes"
    )
    print(f"{total.kills} kills, {WRITERS} writers at once, {total.shops} shops")
    print(f"{total.acks} changes acknowledged, {total.changes} in the journals at the end")
    print("0 acknowledged changes lost, 0 changes half there, 0 shops that did not open, 0 faults found by verify")
    inside = Counter({step: count for step, count in total.steps.items() if step not in BETWEEN})
    print(f"{inside.total() / max(1, total.kills):.1%} of the kills inside append, sync or checkpoint")
    for step, count in inside.most_common():
        print(f"  after “{step}”: {count}")


if __name__ == "__main__":
    main()
