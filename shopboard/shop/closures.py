"""Who is away, which bay is down and when the whole shop is closed: what the plan must not count on."""

from __future__ import annotations

from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from shopboard.planning.closed_days import span_words, until_words
from shopboard.records import Closure, Refused, ShopState, Step, Table

from .bays import bay_of
from .guards import changed, either, rule

#: Nobody is away, no bay down and no shop closed for longer than this at once.
MOST = timedelta(days=400)


@rule
def away(
    state: ShopState, now: datetime, by: str, person: str, until: datetime, start: datetime | None = None, why: str = ""
) -> Step:
    """The person is away from `start` (now, if none is given) until `until`. Said again, the new end counts.

    Refused: nobody of that name, an end that has gone by or comes before the start, more than MOST, days on which
    they are away already.
    """
    found = state.settings.person(person)
    if found is None:
        raise Refused(f"nobody called {person or '(blank)'} works here", _people(state))
    return _closed(state, now, start, until, why, f"{found.name} is away", person=found.id)


@rule
def down(
    state: ShopState, now: datetime, by: str, bay: str, until: datetime, start: datetime | None = None, why: str = ""
) -> Step:
    """The bay cannot be used from `start` (now, if none is given) until `until`. Said again, the new end counts.

    Refused: no such bay, an end that has gone by or comes before the start, more than MOST, days on which it is down
    already.
    """
    found = bay_of(state, bay)
    return _closed(state, now, start, until, why, f"{found.name} is down", bay=found.id)


@rule
def closed(
    state: ShopState, now: datetime, by: str, until: datetime, start: datetime | None = None, why: str = ""
) -> Step:
    """The whole shop is closed from `start` (now, if none is given) until `until`. Said again, the new end counts.

    Refused: an end that has gone by or comes before the start, more than MOST, days on which it is closed already.
    """
    return _closed(state, now, start, until, why, "the shop is closed")


@rule
def end(state: ShopState, now: datetime, by: str, person: str = "", bay: str = "") -> Step:
    """The person is back, the bay can be used again or (with neither) the shop is open, from now on; what was said for
    later only does not come. Refused where nothing of it was said."""
    kept = _running(state, now, person, bay) or _next(state, now, person, bay)
    name, what = _name(state, person, bay), _what(person, bay)
    if kept is None:
        raise Refused(f"{name} is not {what} now, and nothing is said for later", "nothing is left to do")
    ended: Closure = changed(kept, until=max(now, kept.start))
    if kept.start > now:
        return _said(f"{name} is not {what} {_words(state, now, kept.start, kept.until)} after all.", ended)
    return _said(f"{name} is {'back' if person else 'in use again' if bay else 'open again'}.", ended)


def here(state: ShopState, now: datetime, person: str = "", bay: str = "") -> None:
    """Refuses what counts on a person who is away now, or a bay that is down."""
    kept = _running(state, now, person, bay)
    if kept is not None:
        until = until_words(kept.until, ZoneInfo(state.settings.zone))
        would = "say so first if that is over" if person else "take another bay, or say that it can be used again"
        raise Refused(f"{_name(state, person, bay)} is {_what(person, bay)} {until}{_why(kept.why)}", would)


def _closed(
    state: ShopState, now: datetime, start: datetime | None, until: datetime, why: str, what: str,
    person: str = "", bay: str = "",
) -> Step:  # fmt: skip
    begin = _span(now, start, until, what)
    kept = _running(state, begin, person, bay)
    for other in state.closures.values():
        alike = (other.person, other.bay) == (person, bay) and other is not kept
        if alike and max(other.start, begin) < min(other.until, until):
            when = _words(state, now, other.start, other.until)
            raise Refused(f"{what} already {when}{_why(other.why)}", "take that back first, or name other days")
    if kept is not None:
        record: Closure = changed(kept, until=until, why=why.strip() or kept.why)
    else:
        id = state.next_id(Table.CLOSURES)
        record = Closure(id=id, person=person, bay=bay, start=begin, until=until, why=why.strip())
    return _said(f"{what} {_words(state, now, record.start, until)}{_why(record.why)}.", record)


def _said(why: str, record: Closure) -> Step:
    return Step(f"The{why[3:]}" if why.startswith("the ") else why, (record,))


def _running(state: ShopState, at: datetime, person: str, bay: str) -> Closure | None:
    """The closure of this person or bay (neither: of the shop) that holds at a moment."""
    theirs = (c for c in state.closures.values() if (c.person, c.bay) == (person, bay))
    return next((c for c in theirs if c.start <= at < c.until), None)


def _next(state: ShopState, now: datetime, person: str, bay: str) -> Closure | None:
    """The first closure said for later."""
    theirs = [c for c in state.closures.values() if (c.person, c.bay) == (person, bay) and now < c.start < c.until]
    return min(theirs, key=lambda closure: closure.start, default=None)


def _span(now: datetime, start: datetime | None, until: datetime, what: str) -> datetime:
    begin = start or now
    if until <= now:
        raise Refused(f"{what} until a moment that has gone by", "name a later day or hour")
    if until <= begin:
        raise Refused(f"{what} until before it begins", "name a later end")
    if until - begin > MOST:
        raise Refused(f"{what} for more than {MOST.days} days", "change shop.toml instead")
    return begin


def _words(state: ShopState, now: datetime, begin: datetime, until: datetime) -> str:
    return span_words(begin, until, now, ZoneInfo(state.settings.zone))


def _why(why: str) -> str:
    return f" ({why.strip()})" if why.strip() else ""


def _what(person: str, bay: str) -> str:
    return "away" if person else "down" if bay else "closed"


def _name(state: ShopState, person: str, bay: str) -> str:
    if not person and not bay:
        return "the shop"
    found = state.settings.person(person) if person else state.settings.bay(bay)
    return found.name if found else person or bay


def _people(state: ShopState) -> str:
    names = either(p.id for p in state.settings.people)
    return f"here work {names}" if names else "add people to shop.toml"
