"""The Floor's time line: open hours as cells, today in full and the coming days in brief."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from itertools import islice
from zoneinfo import ZoneInfo

from shopboard.planning.hours import OpenHours

from .lines import Line, Span, cell, line


@dataclass(frozen=True)
class Stretch:
    """One day's open hours on `cells` cells, beginning at cell `at`."""

    day: date
    start: datetime
    end: datetime
    at: int
    cells: int

    def column(self, moment: datetime) -> int:
        """The cell of a moment, kept within the stretch."""
        share = (moment - self.start) / (self.end - self.start)
        return self.at + min(self.cells - 1, max(0, int(share * self.cells)))


@dataclass(frozen=True)
class Axis:
    """Days side by side; nights and closed days take no room."""

    stretches: tuple[Stretch, ...]
    width: int
    zone: ZoneInfo

    def column(self, moment: datetime) -> int | None:
        """The cell of a moment; None when it lies beyond the last day shown (the first cell when before)."""
        for stretch in self.stretches:
            if moment <= stretch.end:
                return stretch.column(moment)
        return None

    def within(self, first: int, last: int | None) -> int:
        """The last cell of what goes from cell `first` to `last` (None: beyond the end) on its first day."""
        ends = [stretch.at + stretch.cells - 1 for stretch in self.stretches if stretch.at + stretch.cells > first]
        return min([*ends[:1], self.width - 1 if last is None else last])

    def scale(self) -> str:
        """The hours of the first day and the names of the next ones."""
        row = [" "] * self.width
        for stretch in self.stretches[1:]:
            _write(row, stretch.at - 1, "|" + f"{stretch.day:%a}"[: stretch.cells])
        for stretch in self.stretches[:1]:
            self._hours(row, stretch)
        return "".join(row)

    def _hours(self, row: list[str], stretch: Stretch) -> None:
        per_hour = stretch.cells / ((stretch.end - stretch.start) / timedelta(hours=1))
        step = next(hours for hours in (1, 2, 3, 4, 6, 12) if hours * per_hour >= 3 or hours == 12)
        minutes = stretch.start.astimezone(self.zone).minute
        moment = stretch.start + timedelta(minutes=-minutes % 60)
        while moment < stretch.end:
            _write(row, stretch.column(moment), f"{moment.astimezone(self.zone).hour}")
            moment += timedelta(hours=step)


def _write(row: list[str], at: int, text: str) -> None:
    if any(char != " " for char in row[max(0, at - 1) : at + len(text)]):
        return
    row[at : at + len(text)] = list(text)[: len(row) - at]


def axis(hours: OpenHours, now: datetime, width: int) -> Axis:
    """The time line on `width` cells: the first day with work not yet over takes most of it."""
    days = []
    for day in islice(hours.days(now.astimezone(hours.zone).date()), 9):
        opened = hours.on(day)
        if opened and opened[1] > now:
            days.append((day, opened))
    later = min(len(days) - 1, max(0, (width - 20) // 9)) if days else 0
    brief = 4
    stretches, at = [], 0
    for index, (day, (start, end)) in enumerate(days[: later + 1]):
        cells = width - later * (brief + 1) if index == 0 else brief
        stretches.append(Stretch(day, start, end, at, cells))
        at += cells + 1
    return Axis(tuple(stretches), width, hours.zone)


def bay_bar(track: Axis, start: datetime, until: datetime, end: datetime, now: datetime) -> list[Span]:
    """A bay's row: work from `start` to `until` as a heavy line, standing from there to `end` dotted, `▌` is now."""
    row = [" "] * track.width
    first = track.column(start) or 0
    _fill(row, first, track.column(until), "━")
    if end > until:
        waits = track.column(until)
        if waits is not None:
            _fill(row, waits, track.column(end), "┄")
    if until > start:
        row[first] = "╺"
        if (last := track.column(until)) is not None and end <= until:
            row[last] = "╸"
    for stretch in track.stretches[1:]:
        row[stretch.at - 1] = "|" if row[stretch.at - 1] == " " else row[stretch.at - 1]
    here = track.column(now) or 0
    return [Span("".join(row[:here]), "bar"), Span("▌", "mark"), Span("".join(row[here + 1 :]), "bar")]


def plan_bar(track: Axis, pieces: Sequence[tuple[datetime, datetime, bool, str]], now: datetime) -> list[Span]:
    """A bay's row with the plan in it: each piece from, until, whether it is work (heavy) or standing (dotted), and
    what stands in its line where there is room, such as the tag's number."""
    row = [" "] * track.width
    here = track.column(now) or 0
    for start, end, works, label in sorted(pieces, key=lambda piece: piece[2]):
        first = track.column(start)
        if first is None or end <= start:
            continue
        last = track.column(end)
        # What ends where the next begins leaves a gap of a cell, so that two pieces are seen as two
        last = last - 1 if last is not None and works and last > first else last
        _fill(row, first, last, "━" if works else "┄")
        if works:
            row[first] = "╺"
            if last is not None and last > first:
                row[last] = "╸"
            _label(row, here + 1 if first <= here else first, track.within(first, last), label)
    for stretch in track.stretches[1:]:
        row[stretch.at - 1] = "|"
    return [Span("".join(row[:here]), "bar"), Span("▌", "mark"), Span("".join(row[here + 1 :]), "bar")]


def _label(row: list[str], first: int, last: int, label: str) -> None:
    """Write a label into a line of its length at least, its ends kept where the line is longer by two."""
    room = last + 1 - first
    if label and room >= len(label):
        at = first + (room >= len(label) + 2)
        row[at : at + len(label)] = label


def _fill(row: list[str], first: int, last: int | None, char: str) -> None:
    for index in range(first, (len(row) - 1 if last is None else last) + 1):
        row[index] = char


def scale_line(track: Axis, indent: int) -> Line:
    """The line over the bays with the hours."""
    return line(None, " " * indent, (cell(track.scale(), track.width), "soft"))
