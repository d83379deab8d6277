"""Who is away, which bay is down and when the shop is closed, now and to come: as lines and as data."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import date, datetime, timedelta
from typing import Any, Literal, NamedTuple
from zoneinfo import ZoneInfo

from shopboard.planning.closed_days import open_hours, span_words
from shopboard.records import Closure, ShopState

from .lines import Line, heading, wrapped

#: Closed days are listed for so many days to come.
AHEAD = 180

What = Literal["away", "down", "closed"]


class Closures(NamedTuple):
    """What is said of now and later: closures of people, of bays and of the shop, soonest first, and closed days."""

    state: ShopState
    now: datetime
    away: tuple[Closure, ...]
    down: tuple[Closure, ...]
    closed: tuple[Closure, ...]
    days: tuple[tuple[date, str], ...]

    @property
    def zone(self) -> ZoneInfo:
        """Where the shop's clock is read."""
        return ZoneInfo(self.state.settings.zone)


def look(state: ShopState, now: datetime, holidays: Mapping[date, str]) -> Closures:
    """What is not over yet; `holidays` are the public ones."""
    zone = ZoneInfo(state.settings.zone)
    today = now.astimezone(zone).date()
    coming = sorted((c for c in state.closures.values() if max(now, c.start) < c.until), key=lambda c: (c.start, c.id))
    days = open_hours(state.settings, zone, holidays).shut(today, today + timedelta(days=AHEAD))
    return Closures(
        state,
        now,
        tuple(c for c in coming if c.person),
        tuple(c for c in coming if c.bay),
        tuple(c for c in coming if c.whole_shop),
        tuple(days),
    )


def closure_lines(found: Closures, what: What, width: int) -> list[Line]:
    """One kind of them as lines."""
    if what == "away":
        rows = [words for c in found.away for words in wrapped(_said(found, c, person_name(found.state, c)), width)]
        return rows or wrapped("nobody is away, now or later", width)
    if what == "down":
        rows = [words for c in found.down for words in wrapped(_said(found, c, bay_name(found.state, c)), width)]
        return rows or wrapped("no bay is down, now or later", width)
    rows = [words for text in _closed(found) for words in wrapped(text, width)]
    return [heading(f"closed in the next {AHEAD} days, beside the hours of the week"), *rows] if rows else wrapped(
        f"no closed day in the next {AHEAD} days but by the hours of the week", width
    )  # fmt: skip


def _closed(found: Closures) -> Iterator[str]:
    for closure in found.closed:
        yield _said(found, closure, "the shop")
    for day, why in found.days:
        yield f"{day:%a} {day.day} {day:%b} {day:%Y}: {why}"


def _said(found: Closures, closure: Closure, name: str) -> str:
    when = span_words(closure.start, closure.until, found.now, found.zone)
    return f"{name} {when}{f' ({closure.why})' if closure.why else ''}"


def person_name(state: ShopState, closure: Closure) -> str:
    """Whose closure it is."""
    person = state.settings.person(closure.person)
    return person.name if person else closure.person


def bay_name(state: ShopState, closure: Closure) -> str:
    """Which bay's closure it is."""
    bay = state.settings.bay(closure.bay)
    return bay.name if bay else closure.bay


def closures_data(found: Closures) -> dict[str, Any]:
    """What `away`, `down`, `closed` and `back` print with `--json`, each all of it. Moments are ISO 8601 in UTC.

    - `at`: the moment it was asked
    - `away`: who is away or will be, with `person` (id), `name`, `start`, `until` (moments), `why` (in words, null)
    - `down`: the same of bays, with `bay` (id) and `name`
    - `closed`: when the whole shop is closed by somebody's word, with `start`, `until` and `why`
    - `days`: closed days of the next months by shop.toml and public holidays, with `day` (ISO date) and `why`
    """

    def span(closure: Closure) -> dict[str, Any]:
        return {"start": closure.start, "until": closure.until, "why": closure.why or None}

    state = found.state
    return {
        "at": found.now,
        "away": [{"person": c.person, "name": person_name(state, c), **span(c)} for c in found.away],
        "down": [{"bay": c.bay, "name": bay_name(state, c), **span(c)} for c in found.down],
        "closed": [span(c) for c in found.closed],
        "days": [{"day": day.isoformat(), "why": why} for day, why in found.days],
    }
