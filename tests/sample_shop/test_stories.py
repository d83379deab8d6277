"""A worn pump and a short linkage, told by timed runs: the readings move the right cause, and one can see why."""

from __future__ import annotations

from pathlib import Path

import msgspec
import pytest

from shopboard.records import Job
from shopboard.shop import evidence
from shopboard.store import FolderStore, read_book
from shopboard.trouble import Ranking


def of(shop: FolderStore, serial: str) -> Job:
    return next(job for job in shop.state.jobs.values() if shop.state.machines[job.machine].serial == serial)


def only(job: Job, kept: bool) -> Job:
    """The job as it was right before its timed runs were recorded, or (`kept`) right after."""
    at = next(answer.at for answer in job.answers if answer.check == "timed-runs")
    answers = tuple(a for a in job.answers if a.at < at or (kept and a.at == at))
    readings = tuple(r for r in job.readings if r.at < at or (kept and r.at == at))
    return msgspec.structs.replace(job, answers=answers, readings=readings)


def chance(ranking: Ranking, cause: str) -> float:
    return next(c.probability for c in ranking.causes if c.id == cause)


@pytest.mark.parametrize(
    ("serial", "outcome", "by_the_runs", "at_last"),
    [
        ("T34-3377", "slower-hot", "pump-worn", "pump-worn"),
        ("LS-20655", "slow-alike", "travel-blocked", "cable-stretched"),
    ],
)
def test_the_runs_bring_the_right_cause_up(
    serial: str, outcome: str, by_the_runs: str, at_last: str, shop: FolderStore, folder: Path
) -> None:
    job, book = of(shop, serial), read_book(folder)
    before, after, now = (evidence.ranking(shop.state, j, book) for j in (only(job, False), only(job, True), job))
    assert next(a.outcome for a in job.answers if a.check == "timed-runs") == outcome
    assert after.causes[0].id == by_the_runs
    assert chance(after, by_the_runs) > 1.3 * chance(before, by_the_runs)
    assert now.causes[0].id == at_last
    assert now.causes[0].probability > 0.6
    assert any(w.text.startswith("timed runs") and w.weight > 0 for w in now.causes[0].speaks_for)


def test_the_numbers_are_worked_out_from_the_runs_written_beside_them(shop: FolderStore) -> None:
    for serial in ("T34-3377", "LS-20655"):
        kept = {r.quantity: r for r in of(shop, serial).readings if "range" in r.note}
        assert set(kept) == {"share_of_stroke", "leakage_over_new"}
        assert all(r.note.count(" m in ") == 4 and r.error > 0 for r in kept.values())
