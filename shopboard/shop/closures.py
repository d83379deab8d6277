"""Who is away and which bay is down, from when and until when: what the plan must not count on."""

from __future__ import annotations

from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from shopboard.records import Closure, Refused, ShopState, Step, Table

from .bays import bay_of
from .guards import changed, either, rule

#: Nobody is away, and no bay down, for longer than this at once.
MOST = timedelta(days=400)


@rule
def away(
    state: ShopState, now: datetime, by: str, person: str, until: datetime, start: datetime | None = None, why: str = ""
) -> Step:
    """The person is away from `start` (now, if none is given) until `until`. Said again, the new end counts.

    Refused: nobody of that name, an end that has gone by or comes before the start, more than MOST.
    """
    found = state.settings.person(person)
    if found is None:
        raise Refused(f"nobody called {person or '(blank)'} works here", _people(state))
    begin = _span(now, start, until, f"{found.name} is away")
    kept = _running(state, begin, person=found.id)
    record = _record(state, kept, begin, until, why, person=found.id)
    return Step(f"{found.name} is away {_words(state, now, begin, until)}{_why(why)}.", (record,))


@rule
def down(
    state: ShopState, now: datetime, by: str, bay: str, until: datetime, start: datetime | None = None, why: str = ""
) -> Step:
    """The bay cannot be used from `start` (now, if none is given) until `until`. Said again, the new end counts.

    Refused: no such bay, an end that has gone by or comes before the start, more than MOST.
    """
    found = bay_of(state, bay)
    begin = _span(now, start, until, f"{found.name} is down")
    kept = _running(state, begin, bay=found.id)
    record = _record(state, kept, begin, until, why, bay=found.id)
    return Step(f"{found.name} is down {_words(state, now, begin, until)}{_why(why)}.", (record,))


@rule
def end(state: ShopState, now: datetime, by: str, person: str = "", bay: str = "") -> Step:
    """The person is back, or the bay can be used again, from now on. Refused where neither was away or down."""
    kept = _running(state, now, person=person, bay=bay)
    name = _name(state, person, bay)
    if kept is None:
        raise Refused(f"{name} is not {'away' if person else 'down'} now", "nothing is left to do")
    ended: Closure = changed(kept, until=max(now, kept.start))
    return Step(f"{name} is {'back' if person else 'in use again'}.", (ended,))


def here(state: ShopState, now: datetime, person: str = "", bay: str = "") -> None:
    """Refuses what counts on a person who is away now, or a bay that is down."""
    kept = _running(state, now, person=person, bay=bay)
    if kept is not None:
        zone = ZoneInfo(state.settings.zone)
        what = "away" if person else "down"
        until = f"{kept.until.astimezone(zone):%a %d %b %H:%M}"
        would = "say so first if that is over" if person else "take another bay, or say that it can be used again"
        raise Refused(f"{_name(state, person, bay)} is {what} until {until}{_why(kept.why)}", would)


def _running(state: ShopState, at: datetime, person: str = "", bay: str = "") -> Closure | None:
    """The closure of this person or bay that holds at a moment."""
    theirs = (c for c in state.closures.values() if (c.person, c.bay) == (person, bay))
    return next((c for c in theirs if c.start <= at < c.until), None)


def _span(now: datetime, start: datetime | None, until: datetime, what: str) -> datetime:
    begin = start or now
    if until <= now:
        raise Refused(f"{what} until a moment that has gone by", "name a later day or hour")
    if until <= begin:
        raise Refused(f"{what} until before it begins", "name a later end")
    if until - begin > MOST:
        raise Refused(f"{what} for more than {MOST.days} days", "take them out of shop.toml instead")
    return begin


def _record(
    state: ShopState, kept: Closure | None, begin: datetime, until: datetime, why: str, person: str = "", bay: str = ""
) -> Closure:
    if kept is not None:
        again: Closure = changed(kept, until=until, why=why or kept.why)
        return again
    return Closure(id=state.next_id(Table.CLOSURES), person=person, bay=bay, start=begin, until=until, why=why.strip())


def _words(state: ShopState, now: datetime, begin: datetime, until: datetime) -> str:
    zone = ZoneInfo(state.settings.zone)
    first = "" if begin <= now else f"from {begin.astimezone(zone):%a %d %b %H:%M} "
    return f"{first}until {until.astimezone(zone):%a %d %b %H:%M}"


def _why(why: str) -> str:
    return f" ({why.strip()})" if why.strip() else ""


def _name(state: ShopState, person: str, bay: str) -> str:
    found = state.settings.person(person) if person else state.settings.bay(bay)
    return found.name if found else person or bay or "nobody"


def _people(state: ShopState) -> str:
    names = either(p.id for p in state.settings.people)
    return f"here work {names}" if names else "add people to shop.toml"
