"""The shop's history searched: what is typed into the one line of it, and what is shown and printed of it."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from datetime import date, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from shopboard.records import Settings, tag
from shopboard.store.story import Told, Wanted

from .fields import moment_on
from .lines import Line, cell, line, wrapped

#: What the line understands, as it is told to people.
HOW = "words, by:ana, T-0412, since:2026-11-01, until:2026-11-30"

_DAYS = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")
_TAG = re.compile(r"(?:T-?|job:)0*(\d{1,9})", re.IGNORECASE)


def read_wanted(typed: str, settings: Settings, today: date) -> Wanted:
    """What a typed line asks for. Raises ValueError in one line for a person or a day that is none.

    >>> from shopboard.records import Settings
    >>> read_wanted("T-0412 pump", Settings(name="S"), date(2026, 11, 25))
    Wanted(job=412, by='', words=('pump',), since=None, until=None)
    """
    job, by, words, since, until = None, "", [], None, None
    for word in typed.split():
        name, _, value = word.partition(":")
        if found := _TAG.fullmatch(word):
            job = int(found[1])
        elif name.casefold() == "by" and value:
            by = person_id(value, settings)
        elif name.casefold() == "since" and value:
            since = _start_of(value, settings, today)
        elif name.casefold() == "until" and value:
            until = _start_of(value, settings, today) + timedelta(days=1)
        else:
            words.append(word.casefold())
    return Wanted(job, by, tuple(words), since, until)


def person_id(text: str, settings: Settings) -> str:
    """The id of the person with this id or name; as typed where nobody is: they may have left long ago."""
    wanted = text.casefold()
    for person in settings.people:
        if wanted in (person.id.casefold(), person.name.casefold()):
            return person.id
    return text


def past_day(text: str, today: date) -> date:
    """A day that was: 2026-11-27, today, yesterday, -3 (days ago), a weekday (the last one). Raises ValueError.

    >>> past_day("fri", date(2026, 11, 25))
    datetime.date(2026, 11, 20)
    """
    word = text.strip().lower()
    if word in ("today", "yesterday"):
        return today - timedelta(days=word == "yesterday")
    if re.fullmatch(r"-\d{1,5}", word):
        return today - timedelta(days=int(word[1:]))
    named = [n for n, name in enumerate(_DAYS) if len(word) >= 3 and name.startswith(word)]
    if named:
        return today - timedelta(days=(today.weekday() - named[0]) % 7)
    try:
        return date.fromisoformat(word)
    except ValueError:
        raise ValueError(f"“{text}” is not a day; type 2026-11-27, today, yesterday, fri or -3") from None


def _start_of(text: str, settings: Settings, today: date) -> datetime:
    return moment_on(past_day(text, today), ZoneInfo(settings.zone), "00:00")


def told_lines(told: Sequence[Told], zone: ZoneInfo, width: int) -> list[Line]:
    """A change a line, each with its number as key: when, who, why."""
    rows: list[Line] = []
    for one in told:
        stamp = f"{one.at.astimezone(zone):%d %b %Y %H:%M}"
        rows.append(line(str(one.seq), (f"{stamp}  ", "soft"), cell(one.by, 9), cell(one.why, max(0, width - 28))))
    return rows


def printed_lines(told: Iterable[Told], zone: ZoneInfo, width: int) -> list[Line]:
    """The same with the whole sentence, for paper and pipes."""
    rows: list[Line] = []
    for one in told:
        stamp = f"{one.seq:>6}  {one.at.astimezone(zone):%Y-%m-%d %H:%M}  "
        first, *rest = wrapped(one.why, max(20, width - 35))
        rows.append(line(None, (stamp, "soft"), cell(one.by, 9), first.text))
        rows += [line(None, " " * 35, row.text) for row in rest]
    return rows


def told_data(told: Iterable[Told]) -> dict[str, Any]:
    """What `history --json` prints:

    - `changes`: oldest first, each with `number`, `at` (UTC, ISO 8601), `by`, `why`, `job` (as T-0412, or null) and
      `undoes` (the number of the change it takes back, or null)
    """
    return {
        "changes": [
            {
                "number": one.seq,
                "at": one.at,
                "by": one.by,
                "why": one.why,
                "job": tag(one.subject) if one.subject is not None else None,
                "undoes": one.undoes,
            }
            for one in told
        ]
    }
