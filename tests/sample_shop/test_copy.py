"""A copy of the sample shop is a sound shop at any moment it is made."""

from __future__ import annotations

import gzip
import json
import subprocess
import sys
import time
from datetime import UTC, date, datetime
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from sample_shop import SAMPLE_NOW, copy_to
from shopboard.records import PartState, Stage, encode
from shopboard.store import open_shop, verify

ZONE = ZoneInfo("America/Toronto")

ODD = [
    pytest.param(datetime(2026, 6, 14, 3, 0, tzinfo=ZONE), id="Sunday 03:00"),
    pytest.param(datetime(2028, 2, 29, 11, 15, tzinfo=ZONE), id="29 February"),
    pytest.param(datetime(2026, 3, 8, 7, 30, tzinfo=UTC), id="clocks go forward"),
    pytest.param(datetime(2026, 11, 1, 5, 30, tzinfo=UTC), id="clocks go back"),
    pytest.param(datetime(2027, 1, 1, 0, 0, 1, tzinfo=ZONE), id="New Year"),
    pytest.param(datetime(2026, 12, 31, 23, 59, 59, 999_999, tzinfo=UTC), id="the last microsecond"),
    pytest.param(datetime(2026, 9, 21, 7, 5, tzinfo=ZONE), id="Monday, just open"),
    pytest.param(datetime(2026, 9, 25, 17, 29, tzinfo=ZONE), id="Friday, closing"),
    pytest.param(datetime(2024, 5, 7, 9, 3, 17, 250_000, tzinfo=ZONE), id="before the sample was written"),
]


@pytest.mark.parametrize("now", ODD)
def test_a_copy_is_sound_and_its_past_is_past(tmp_path: Path, now: datetime) -> None:
    copy_to(tmp_path / "shop", now)
    assert verify(tmp_path / "shop") == ()
    store = open_shop(tmp_path / "shop")
    try:
        changes = list(store.changes())
        moments = [change.at for change in changes]
        assert moments == sorted(moments)
        assert moments[-1] <= now
        for job in store.state.jobs.values():
            assert job.arrived <= job.since <= now
            assert all(spell.at <= now for spell in job.spent)
        assert all(closed.closed_at <= now for closed in store.state.closed.values())
        assert all(r.at <= now for machine in store.state.machines.values() for r in machine.readings)
    finally:
        store.close()


def lateness(folder: Path, now: datetime) -> tuple[set[int], set[int]]:
    """Open jobs whose promise is past, and lines of parts that should have come."""
    store, today = open_shop(folder), now.astimezone(ZONE).date()
    late = {job.id for job in store.state.jobs.values() if job.promise and job.promise <= now}
    waits = (PartState.ORDERED, PartState.BACK_ORDERED, PartState.PARTLY_RECEIVED)
    overdue = {
        line.id
        for line in store.state.parts.values()
        if line.state in waits and line.expected and line.expected < today
    }
    store.close()
    return late, overdue


@pytest.mark.parametrize("now", ODD)
def test_what_is_late_and_what_is_to_come_stays_so(tmp_path: Path, folder: Path, now: datetime) -> None:
    copy_to(tmp_path / "shop", now)
    told = lateness(folder, SAMPLE_NOW)
    assert told[0]
    assert told[1]
    assert lateness(tmp_path / "shop", now) == told


def test_at_its_own_moment_the_sample_is_as_it_was_written(tmp_path: Path) -> None:
    copy_to(tmp_path / "shop", SAMPLE_NOW)
    store = open_shop(tmp_path / "shop")
    copied = [json.loads(encode(change)) for change in store.changes()]
    store.close()
    shipped = Path(sys.modules["sample_shop"].__file__ or "").with_name("journal.jsonl.gz").read_bytes()
    assert copied == [json.loads(line) for line in gzip.decompress(shipped).splitlines()]


def test_every_date_in_the_words_moves_too(tmp_path: Path) -> None:
    copy_to(tmp_path / "shop", datetime(2031, 7, 16, 11, 0, tzinfo=ZONE))
    store = open_shop(tmp_path / "shop")
    years = {
        date.fromisoformat(why[:10]).year for change in store.changes() for why in change.why.split("expected ")[1:]
    }
    store.close()
    assert years
    assert min(years) >= 2031


def test_a_copy_is_quick_and_small(tmp_path: Path) -> None:
    shelf = Path(sys.modules["sample_shop"].__file__ or "").parent
    assert sum(path.stat().st_size for path in shelf.rglob("*") if path.is_file()) < 3_000_000
    copy_to(tmp_path / "warm", SAMPLE_NOW)
    begun = time.process_time()
    copy_to(tmp_path / "shop", SAMPLE_NOW)
    assert time.process_time() - begun < 1.0


def test_a_copy_can_be_worked_on(tmp_path: Path) -> None:
    from shopboard.shop import evidence, stages

    now = datetime(2026, 11, 24, 15, 0, tzinfo=ZONE)
    copy_to(tmp_path / "shop", now)
    store = open_shop(tmp_path / "shop", clock=lambda: now)
    arrived = next(job for job in store.state.jobs.values() if job.stage is Stage.ARRIVED)
    store.commit("tove", lambda state, at: stages.diagnose(state, at, "tove", arrived.id))
    store.commit("tove", lambda state, at: evidence.remark(state, at, "tove", arrived.id, "looked at it"))
    store.close()
    assert verify(tmp_path / "shop") == ()


def test_a_full_folder_and_a_moment_without_a_zone_are_refused(tmp_path: Path) -> None:
    (tmp_path / "note.txt").write_text("mine")
    with pytest.raises(FileExistsError):
        copy_to(tmp_path, SAMPLE_NOW)
    with pytest.raises(ValueError, match="zone"):
        copy_to(tmp_path / "shop", SAMPLE_NOW.replace(tzinfo=None))
    assert not (tmp_path / "shop").exists()


def test_it_works_from_any_folder(tmp_path: Path) -> None:
    code = (
        "from datetime import UTC, datetime; from pathlib import Path; import sample_shop;"
        f"sample_shop.copy_to(Path({str(tmp_path / 'shop')!r}), datetime(2026, 5, 5, 12, tzinfo=UTC))"
    )
    subprocess.run([sys.executable, "-c", code], cwd=tmp_path, check=True, timeout=60)
    assert verify(tmp_path / "shop") == ()
