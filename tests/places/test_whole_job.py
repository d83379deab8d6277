"""The whole job by keys at 80×24, and another process that reads in the journal what was done, by whom and why."""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
from pathlib import Path
from random import Random

import pytest
from aids.boards import open_board, screen_text
from aids.journey import Trip, whole_job

#: Reads the journal as plain text, trusting none of the board's own code, then has the shop looked over.
READER = """
import json, sys
from pathlib import Path
folder = Path(sys.argv[1])
lines = [json.loads(l) for p in sorted((folder / "journal").glob("*.jsonl")) for l in p.read_text("utf-8").splitlines()]
from shopboard.store import verify
faults = [f"{f.where}: {f.why}" for f in verify(folder)]
print(json.dumps({"changes": [[l["s"], l["by"], l["why"], l["at"]] for l in lines], "faults": faults}))
"""


def read_elsewhere(folder: Path) -> tuple[list[list[str]], list[str]]:
    """What a separate process finds in the journal, and the faults `verify` sees there."""
    done = subprocess.run(
        [sys.executable, "-c", READER, str(folder)],
        cwd=folder.parent,
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    found = json.loads(done.stdout)
    return found["changes"], found["faults"]


def confirm(folder: Path, trip: Trip) -> None:
    """Every step stands in the journal, in order, signed and with its reason; nothing else does; no fault is found."""
    changes, faults = read_elsewhere(folder)
    assert faults == []
    assert [seq for seq, *_ in changes] == list(range(1, len(changes) + 1))
    told = [(by, why) for _, by, why, _ in changes]
    assert len(told) == len(trip.story), "\n".join(f"{by}: {why}" for by, why in told)
    for (by, why), (who, pattern) in zip(told, trip.story, strict=True):
        assert by == who and re.search(pattern, why), f"{by}: {why}\nexpected {who}: {pattern}"


async def test_a_machine_from_the_counter_to_collected(tmp_path: Path) -> None:
    trip = Trip()
    async with open_board(tmp_path / "shop") as pilot:
        await whole_job(pilot, trip)
        assert "collected" in screen_text(pilot.app)
    confirm(tmp_path / "shop", trip)


async def test_another_machine_complaint_and_answers_at_every_run(tmp_path: Path) -> None:
    await _other(int.from_bytes(os.urandom(4), "big"), tmp_path)


@pytest.mark.long
@pytest.mark.parametrize("seed", range(100, 120))
async def test_many_other_machines(seed: int, tmp_path: Path) -> None:
    await _other(seed, tmp_path)


async def _other(seed: int, tmp_path: Path) -> None:
    print(f"seed {seed}")
    trip = Trip.drawn(Random(seed))
    print(trip)
    async with open_board(tmp_path / "shop") as pilot:
        await whole_job(pilot, trip)
    confirm(tmp_path / "shop", trip)
