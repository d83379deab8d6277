"""What is still ahead of a job, at the edges: the minute of the promise, the last day with nothing to spare."""

from __future__ import annotations

from datetime import UTC, date, datetime
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from aids.small_book import small_book

from shopboard.planning.closed_days import open_hours
from shopboard.planning.outlook import Outlook, outlook
from shopboard.records import Job, PartLine, PartState, Settings, ShopState

BERLIN = ZoneInfo("Europe/Berlin")
BOOK = small_book()
#: Tuesday, 10:00 on the wall.
NOW = datetime(2026, 11, 24, 9, tzinfo=UTC)
WEEK = Settings(name="s", hours=dict.fromkeys(("mon", "tue", "wed", "thu", "fri"), "08:00-17:00"))


def job(**facts: Any) -> Job:
    """A job as it stands."""
    start = {"id": 1, "customer": 1, "machine": 1, "arrived": NOW, "complaint": "slow", "since": NOW}
    return Job(**{**start, **facts})


def part(**facts: Any) -> PartLine:
    """A line of parts of the job."""
    return PartLine(**{"id": 1, "job": 1, "number": "N", "name": "seal", "quantity": 1, "needed_at": NOW, **facts})


def ahead(one: Job, *lines: PartLine, now: datetime = NOW) -> Outlook:
    """The outlook of the job with these lines of parts."""
    state = ShopState(settings=WEEK, models={}, jobs={1: one}, parts={line.id: line for line in lines})
    return outlook(state, one, BOOK, now, open_hours(state.settings, BERLIN, {}))


def local(day: int, hour: int, minute: int = 0) -> datetime:
    """A moment in November 2026 by the clock on the wall."""
    return datetime(2026, 11, day, hour, minute, tzinfo=BERLIN).astimezone(UTC)


def test_spare_turns_negative_by_one_minute_of_work() -> None:
    """80 minutes are left: begun at 15:40 they end as the shop closes, a minute later they end tomorrow."""
    promised = job(promise=local(24, 17))
    assert ahead(promised, now=local(24, 15, 40)).spare == 0
    assert ahead(promised, now=local(24, 15, 41)).spare == -1


def test_parts_hold_the_work_up_until_their_day() -> None:
    found = ahead(job(promise=local(26, 17)), part(state=PartState.ORDERED, expected=date(2026, 11, 26)))
    assert found.ready == local(26, 9, 20) and found.spare == 0
    assert found.parts_by == date(2026, 11, 26) and not found.parts_unknown


@pytest.mark.parametrize(
    ("expected", "unknown"), [(None, True), (date(2026, 11, 23), True), (date(2026, 11, 24), False)]
)
def test_nobody_knows_when_an_undated_or_overdue_part_comes(expected: date | None, unknown: bool) -> None:
    assert ahead(job(), part(state=PartState.ORDERED, expected=expected)).parts_unknown is unknown
