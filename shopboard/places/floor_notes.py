"""What the Floor says of the days its hours show: closed days, who is away, clocks that change, and jobs that no plan
can hold."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, datetime, time, timedelta
from typing import TYPE_CHECKING

from shopboard.planning.closed_days import span_words
from shopboard.records import tag

from .lines import Line, line, wrapped
from .timeline import Axis

if TYPE_CHECKING:  # they bring what nothing loads before the first paint
    from .floor_lines import Floor

#: So many rows of notes on the days; so many reasons why jobs cannot be planned, and jobs named for each.
ROWS, UNPLANNED = 2, 2
#: Days are told of so far ahead at least, also where fewer are shown.
SOON = timedelta(days=6)


def day_lines(floor: Floor, track: Axis, width: int) -> list[Line]:
    """Closed days of the coming week and of the days shown, who is away or will be, and when the clocks change; nothing
    on usual days."""
    words = [*_closed(floor, track), *_away(floor, track), *_clocks(floor, track)]
    rows = wrapped("; ".join(words), width, "soft") if words else []
    if len(rows) > ROWS:
        rest = " ".join(row.text for row in rows[ROWS - 1 :])
        rows = [*rows[: ROWS - 1], line(None, (rest[: width - 1].rstrip() + "…", "soft"))]
    return rows


def _last(floor: Floor, track: Axis) -> date:
    soon = floor.now.astimezone(floor.zone).date() + SOON
    return max(soon, track.stretches[-1].day) if track.stretches else soon


def _closed(floor: Floor, track: Axis) -> Iterator[str]:
    today, days = floor.now.astimezone(floor.zone).date(), []
    for day, why in floor.hours.shut(today, _last(floor, track)):
        when = "today" if day == today else f"{day:%a} {day.day} {day:%b}"
        days.append(f"{when}{f' ({why})' if why != 'closed' else ''}")
    if days:
        yield f"closed {', '.join(days)}"


def _away(floor: Floor, track: Axis) -> Iterator[str]:
    """People away and the shop closed for hours, within the days shown."""
    end = datetime.combine(_last(floor, track) + timedelta(days=1), time(), floor.zone)
    days = [day for day, _ in floor.hours.shut(floor.now.astimezone(floor.zone).date(), _last(floor, track))]
    for closure in sorted(floor.state.closures.values(), key=lambda one: (one.start, one.id)):
        begin, until = closure.start, closure.until
        if closure.bay or not floor.now < until or not begin < min(until, end):
            continue
        first = max(begin, floor.now).astimezone(floor.zone).date()
        if closure.whole_shop and first in days:
            continue
        person = floor.state.settings.person(closure.person)
        what = f"{person.name.split()[0] if person else closure.person} is away" if closure.person else "shop closed"
        when = span_words(begin, until, floor.now, floor.zone)
        yield f"{what} {when}{f' ({closure.why})' if closure.why else ''}"


def _clocks(floor: Floor, track: Axis) -> Iterator[str]:
    day = floor.now.astimezone(floor.zone).date()
    while day <= _last(floor, track):
        midnights = (datetime.combine(day + timedelta(days=n), time(), floor.zone) for n in (0, 1))
        before, after = (moment.utcoffset() or timedelta(0) for moment in midnights)
        if before != after:
            minutes = abs(after - before) // timedelta(minutes=1)
            amount = "an hour" if minutes == 60 else f"{minutes} min"
            yield f"clocks go {'forward' if after > before else 'back'} {amount} on {day:%a} {day.day} {day:%b}"
        day += timedelta(days=1)


def unplanned_lines(floor: Floor, width: int) -> list[Line]:
    """Jobs that no plan can hold, each with why and what would do; those with the same reason together."""
    if floor.planned is None:
        return []
    reasons: dict[int, str] = {}
    for one in floor.planned.plan.unplaceable:
        reasons.setdefault(one.task.job, one.why.replace(f" of {tag(one.task.job)}", "", 1))
    groups: dict[str, list[int]] = {}
    for job, why in sorted(reasons.items()):
        groups.setdefault(why, []).append(job)
    rows: list[Line] = []
    for why, jobs in list(groups.items())[:UNPLANNED]:
        named = ", ".join(map(tag, jobs[:UNPLANNED]))
        more = f" and {len(jobs) - UNPLANNED} more" if len(jobs) > UNPLANNED else ""
        rows += wrapped(f"{named}{more} cannot be planned: {why}", width, "late")
    if len(groups) > UNPLANNED:
        rows.append(line(None, ("and for other reasons more: see `shopboard plan`", "soft")))
    return rows
