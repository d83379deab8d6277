"""The Floor's time line: every hour and every bar stands where the clock says, also on odd days."""

from __future__ import annotations

import re
from datetime import date, datetime, timedelta
from itertools import pairwise
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopboard.places.timeline import Axis, axis, bay_bar, scale_line
from shopboard.planning.hours import OpenHours
from shopboard.records import Settings
from shopboard.records.settings import DAYS

BERLIN = ZoneInfo("Europe/Berlin")
WEEK = Settings(name="s", zone="Europe/Berlin", hours=dict.fromkeys(DAYS[:5], "08:00-17:00"))


def local(text: str) -> datetime:
    return datetime.fromisoformat(text).replace(tzinfo=BERLIN)


NOW = local("2026-11-24T10:42")


def track_of(week: Settings, now: datetime, width: int, *closed: str) -> Axis:
    return axis(OpenHours(week, BERLIN, {date.fromisoformat(day): "closed" for day in closed}), now, width)


def drawn(track: Axis, start: str, until: str, end: str, now: datetime = NOW) -> str:
    return "".join(span.text for span in bay_bar(track, local(start), local(until), local(end), now))


def test_one_day_of_nine_hours_on_eighteen_cells_has_two_cells_an_hour() -> None:
    track = track_of(WEEK, NOW, 18)
    assert len(track.stretches) == 1
    assert track.scale() == "8   10  12  14  16"
    times = ("08:00", "08:29", "08:30", "12:00", "16:59", "17:00")
    assert [track.column(local(f"2026-11-24T{at}")) for at in times] == [0, 0, 1, 8, 17, 17]


def test_before_the_day_is_its_first_cell_and_after_the_last_day_is_none() -> None:
    track = track_of(WEEK, NOW, 18)
    assert track.column(local("2026-11-01T09:00")) == 0
    assert track.column(local("2026-11-24T17:01")) is None


def test_the_coming_days_stand_behind_a_mark_with_their_names_and_closed_ones_take_no_room() -> None:
    friday = local("2026-11-27T09:00")
    track = track_of(WEEK, friday, 60)
    assert [f"{stretch.day:%a}" for stretch in track.stretches] == ["Fri", "Mon", "Tue", "Wed", "Thu"]
    assert re.search(r"\|Mon *\|Tue *\|Wed *\|Thu", track.scale())
    assert track.column(local("2026-11-28T12:00")) == track.column(local("2026-11-30T08:00"))


@pytest.mark.parametrize(
    ("now", "day"),
    [
        ("2026-11-24T16:59", "2026-11-24"),
        ("2026-11-24T17:00", "2026-11-25"),  # closed: the next day is the one to look at
        ("2026-11-24T23:59", "2026-11-25"),
        ("2026-11-25T00:00", "2026-11-25"),
        ("2026-11-27T18:00", "2026-11-30"),
    ],
)
def test_the_first_day_is_the_first_that_is_not_over(now: str, day: str) -> None:
    track = track_of(WEEK, local(now), 30)
    assert str(track.stretches[0].day) == day
    assert bay_bar(track, local(now), local(now), local(now), local(now))[0].text == " " * (
        track.column(local(now)) or 0
    )


def test_the_night_of_the_clock_change_is_labelled_with_the_clock_people_see() -> None:
    """On 2026-03-29 in Berlin the clock goes from 1:59 to 3:00: six cells an hour, and no 2 anywhere."""
    sundays = Settings(name="s", hours={"sun": "00:00-06:00"})
    track = track_of(sundays, local("2026-03-29T00:10"), 19)
    assert track.scale().split() == ["0", "1", "3", "4", "5"]
    again = track_of(sundays, local("2026-10-25T00:10"), 27)
    assert again.scale().split()[:5] == ["0", "1", "2", "2", "3"]


def test_an_opening_at_half_past_is_labelled_from_the_next_full_hour() -> None:
    early = Settings(name="s", hours=dict.fromkeys(DAYS, "07:30-12:00"))
    track = track_of(early, local("2026-11-24T08:00"), 18)
    assert track.scale().split() == ["8", "9", "10", "11"]
    assert track.scale().index("8") == track.column(local("2026-11-24T08:00")) == 2


def test_work_is_heavy_standing_is_dotted_and_now_is_marked() -> None:
    track = track_of(WEEK, NOW, 18)
    assert drawn(track, "2026-11-24T08:00", "2026-11-24T15:00", "2026-11-24T15:00") == "╺━━━━▌━━━━━━━━╸   "
    assert drawn(track, "2026-11-24T08:00", "2026-11-24T09:00", "2026-11-24T17:00") == "╺━┄┄┄▌┄┄┄┄┄┄┄┄┄┄┄┄"
    assert drawn(track, "2026-11-20T08:00", "2026-12-20T15:00", "2026-12-20T15:00") == "╺━━━━▌━━━━━━━━━━━━"


def test_nothing_in_the_bay_is_only_now() -> None:
    empty = "".join(span.text for span in bay_bar(track_of(WEEK, NOW, 18), NOW, NOW, NOW, NOW))
    assert empty == "     ▌            "


@pytest.mark.parametrize("width", range(30, 140))
def test_every_coming_day_is_named(width: int) -> None:
    """Also where an hour would stand beside the mark."""
    early = Settings(name="s", hours=dict.fromkeys(DAYS[:5], "07:00-17:30"))
    track = track_of(early, NOW, width)
    assert track.scale().count("|") == len(track.stretches) - 1
    assert re.findall(r"\|(\w+)", track.scale()) == [f"{stretch.day:%a}" for stretch in track.stretches[1:]]


def test_a_shop_without_hours_has_whole_days() -> None:
    track = track_of(Settings(name="s"), NOW, 20)
    assert track.scale().split()[:3] == ["0", "4", "8"] and track.column(NOW) is not None
    assert len("".join(span.text for span in bay_bar(track, NOW, NOW, NOW, NOW))) == 20


def test_a_shop_that_never_opens_has_a_line_all_the_same() -> None:
    track = track_of(Settings(name="s", hours={"mon": "17:00-08:00"}), NOW, 20)
    assert track.stretches == () and track.scale() == " " * 20 and track.column(NOW) is None
    assert len("".join(span.text for span in bay_bar(track, NOW, NOW, NOW, NOW))) == 20


def test_a_closed_day_takes_no_room_on_the_line() -> None:
    track = track_of(WEEK, NOW, 60, "2026-11-25", "2026-11-30")
    assert [f"{stretch.day:%a}" for stretch in track.stretches] == ["Tue", "Thu", "Fri", "Tue", "Wed"]
    assert track.column(local("2026-11-25T12:00")) == track.column(local("2026-11-26T08:00"))
    today = track_of(WEEK, NOW, 60, "2026-11-24")
    assert today.stretches[0].day == date(2026, 11, 25) and today.column(NOW) == 0


minutes = st.integers(0, 40 * 24 * 60).map(lambda minute: local("2026-10-10T00:00") + timedelta(minutes=minute))


@given(minutes, st.lists(minutes, min_size=3, max_size=3).map(sorted), st.integers(12, 120))
def test_every_row_is_as_wide_as_the_scale_and_time_never_runs_backwards(
    now: datetime, times: list[datetime], width: int
) -> None:
    track = track_of(WEEK, now, width)
    start, until, end = times
    row = "".join(span.text for span in bay_bar(track, start, until, end, now))
    assert len(row) == width and row.count("▌") == 1
    assert len(scale_line(track, 3).spans[-1].text) == width
    columns = [track.column(moment) for moment in (start, until, end)]
    shown = [column for column in columns if column is not None]
    assert all(a <= b for a, b in pairwise(shown)) and columns == [*shown, *[None] * (3 - len(shown))]
    assert all(0 <= column < width for column in shown)
