"""The commands `away`, `down`, `closed` and `back`: who is away, which bay is down, when the shop is closed. Without a
name each lists what was said, for now and later. Light to load."""

from __future__ import annotations

import argparse
import re
from collections.abc import Callable
from datetime import datetime
from typing import TYPE_CHECKING, Any, NamedTuple
from zoneinfo import ZoneInfo

from shopboard import console
from shopboard.records import Refused, ShopState, visible

if TYPE_CHECKING:
    from shopboard.places.closure_lines import What
    from shopboard.records import Step
    from shopboard.store import Place

FindPlace = Callable[[argparse.Namespace], "Place"]
PrintJson = Callable[[Any], None]
#: Makes a rule of the options, once it is known who signs.
Making = Callable[[argparse.Namespace, ShopState, datetime, str], Callable[[ShopState, datetime], "Step"]]

_DAY = "2026-11-27, today, fri, +3, 'fri 14:00' or 14:00"


def add_closures(commands: Any, place: FindPlace, print_json: PrintJson) -> None:
    """Add the commands to argparse's `commands`."""

    def add(name: str, help: str, what: What, making: Making) -> argparse.ArgumentParser:
        parser: argparse.ArgumentParser = commands.add_parser(
            name, help=help, description=help[0].upper() + help[1:] + "."
        )
        parser.add_argument("--shop", metavar="FOLDER", default=argparse.SUPPRESS, help="the shop's folder")
        parser.add_argument("--as", dest="signs", default="", metavar="PERSON", help="who signs: an id of shop.toml")
        parser.add_argument("--json", action="store_true", help="print what is said of now and later as JSON")
        parser.set_defaults(func=lambda options: _run(options, place(options), what, making, print_json))
        return parser

    one = add("away", "somebody is away or ill, until when; without a name, who is and will be", "away", _away)
    one.add_argument("who", nargs="?", default="", metavar="PERSON", help="an id or name of shop.toml")
    _span_arguments(one)
    one = add("down", "a bay cannot be used, until when; without a name, which are and will be", "down", _down)
    one.add_argument("who", nargs="?", default="", metavar="BAY", help="an id or name of shop.toml")
    _span_arguments(one)
    one = add("closed", "the shop is closed on a day; without one, the closed days to come", "closed", _closed)
    one.add_argument("start", nargs="?", default="", metavar="DAY", help=f"from when: {_DAY}")
    one.add_argument("--until", default="", metavar="DAY", help="to the end of this day, or until this hour of it")
    one.add_argument("--why", default="", metavar="WORDS", help="a holiday, stocktaking …")
    one = add("back", "somebody is back, a bay in use or the shop open again, or will not be away", "away", _back)
    one.add_argument("who", metavar="NAME", help="a person, a bay, or shop")


def _span_arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--from", dest="start", default="", metavar="DAY", help=f"from when (default: now): {_DAY}")
    parser.add_argument("--until", default="", metavar="DAY", help="to the end of this day, or until this hour of it")
    parser.add_argument("--why", default="", metavar="WORDS", help="ill, a course, lift broken …")


def _run(
    options: argparse.Namespace, place: Place, what: What, making: Making, print_json: PrintJson
) -> int:  # fmt: skip
    from shopboard.exchange.signing import proved
    from shopboard.places import closure_lines
    from shopboard.places.lines import plain
    from shopboard.planning.closed_days import holidays_around
    from shopboard.store import open_shop, utc_now

    store, said = open_shop(place, clock=utc_now), ""
    try:
        state, now = store.state, utc_now()
        if _is_said(options):
            by = proved(state.settings, options.signs, place, now, _secret())
            said = store.commit(by, making(options, state, now, by)).why
        today = now.astimezone(ZoneInfo(state.settings.zone)).date()
        found = closure_lines.look(store.state, now, holidays_around(state.settings, today))
    finally:
        store.close()
    if options.json:
        print_json(closure_lines.closures_data(found))
    else:
        print(visible(said) if said else plain(closure_lines.closure_lines(found, what, console.width())))
    return 0


def _is_said(options: argparse.Namespace) -> bool:
    """Whether something is to be kept, not only listed. Raises Refused where only half of it is said."""
    given = {name: getattr(options, name, "") for name in ("who", "start", "until", "why")}
    if not hasattr(options, "who"):
        if not given["start"] and any(given.values()):
            raise Refused("from which day on is not said", "name it first: `shopboard closed 2026-12-24 --until fri`")
        return bool(given["start"])
    if not given["who"] and any(given.values()):
        raise Refused("who or what is not said", "name it first: `shopboard away ana --until fri`")
    return bool(given["who"])


def _secret() -> Callable[[str], str] | None:
    import sys
    from getpass import getpass

    return getpass if sys.stdin is not None and sys.stdin.isatty() and sys.stdout.isatty() else None


# -- what is said -----------------------------------------------------------------------------------------------------


class _Span(NamedTuple):
    start: datetime | None
    until: datetime


def _span(options: argparse.Namespace, state: ShopState, now: datetime, until: str) -> _Span:
    from shopboard.places.fields import read_moment

    zone = ZoneInfo(state.settings.zone)
    today = now.astimezone(zone).date()
    try:
        start = read_moment(options.start, "from", today, zone) if options.start else None
        if start is not None and start <= now and options.start.strip().lower() == "today":
            start = None  # today so far is over
        return _Span(start, read_moment(until, "until", today, zone, end=True))
    except ValueError as error:
        raise Refused(str(error)) from None


def _needed_until(options: argparse.Namespace, name: str) -> str:
    if not options.until.strip():
        raise Refused(f"until when is not said of {name}", "say --until fri, --until 'fri 14:00' or --until 2026-11-27")
    until: str = options.until
    return until


def _away(
    options: argparse.Namespace, state: ShopState, now: datetime, by: str
) -> Callable[[ShopState, datetime], Step]:
    from shopboard.shop import closures

    person = _one_of(options.who, [(p.id, p.name) for p in state.settings.people])
    span = _span(options, state, now, _needed_until(options, options.who))
    return lambda fresh, at: closures.away(fresh, at, by, person, span.until, span.start, options.why)


def _down(
    options: argparse.Namespace, state: ShopState, now: datetime, by: str
) -> Callable[[ShopState, datetime], Step]:
    from shopboard.shop import closures

    bay = _one_of(options.who, [(b.id, b.name) for b in state.settings.bays])
    span = _span(options, state, now, _needed_until(options, options.who))
    return lambda fresh, at: closures.down(fresh, at, by, bay, span.until, span.start, options.why)


def _closed(
    options: argparse.Namespace, state: ShopState, now: datetime, by: str
) -> Callable[[ShopState, datetime], Step]:
    from shopboard.shop import closures

    until = options.until or re.sub(r"\s*\b\d{1,2}:\d\d$", "", options.start.strip()) or "today"
    span = _span(options, state, now, until)
    return lambda fresh, at: closures.closed(fresh, at, by, span.until, span.start, options.why)


def _back(
    options: argparse.Namespace, state: ShopState, now: datetime, by: str
) -> Callable[[ShopState, datetime], Step]:
    from shopboard.shop import closures

    people = [(p.id, p.name) for p in state.settings.people]
    bays = [(b.id, b.name) for b in state.settings.bays]
    if options.who.strip().casefold() == "shop":
        return lambda fresh, at: closures.end(fresh, at, by)
    found = _one_of(options.who, [*people, *bays])
    ids = {id for id, _ in people}, {id for id, _ in bays}
    if found in ids[0] and found in ids[1]:
        raise Refused(f"{found} is a person and a bay", "say it by name")
    if found not in ids[0] and found not in ids[1]:
        raise Refused(f"there is no {options.who} here", "name a person or a bay of shop.toml, or shop")
    named = {"person": found} if found in ids[0] else {"bay": found}
    return lambda fresh, at: closures.end(fresh, at, by, **named)


def _one_of(typed: str, known: list[tuple[str, str]]) -> str:
    """The id of who or what is meant by id, whole name or first name; what is typed where nothing fits, which the rule
    refuses."""
    word = typed.strip().casefold()
    for told in (
        [id for id, _ in known if id.casefold() == word],
        [id for id, name in known if name.casefold() == word],
        [id for id, name in known if name.casefold().split(" ")[0] == word],
    ):
        if len(told) == 1:
            return told[0]
    return typed.strip()
