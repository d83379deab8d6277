"""The commands `backup`, `restore`, `pin` and `history`, and those of `closures`: their arguments and what they print.
Light to load."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

from shopboard import console
from shopboard.records import Refused, visible

from .closures import add_closures

if TYPE_CHECKING:
    from shopboard.store import Place

#: Finds the shop in the options; raises where none is named.
FindPlace = Callable[[argparse.Namespace], "Place"]
PrintJson = Callable[[Any], None]


def add_upkeep(commands: Any, place: FindPlace, print_json: PrintJson) -> None:
    """Add the commands to argparse's `commands`."""
    one = _parser(commands, "backup", "the whole shop in one file, while others work", lambda o: _backup(o, place))
    one.add_argument("file", metavar="FILE", help="a new file, or a folder for a file named by shop and moment")

    one = _parser(commands, "restore", "a shop from its backup; what stood there is kept aside", _restore, shop=False)
    one.add_argument("file", metavar="FILE", help="what `shopboard backup` made")
    one.add_argument("folder", metavar="FOLDER", help="a new folder, or a shop that nobody holds open")

    one = _parser(commands, "pin", "set, change or take away a PIN", lambda o: _pin(o, place))
    one.add_argument("--as", dest="person", default="", metavar="PERSON", help="whose PIN: an id of shop.toml")
    one.add_argument(
        "--clear", metavar="OTHER", default="", help="take away a PIN that somebody forgot (the owner only)"
    )

    one = _parser(commands, "history", "every change of the shop, filtered", lambda o: _history(o, place, print_json))
    one.add_argument("words", nargs="*", metavar="WORD", help="all of these words in what was done")
    one.add_argument("--job", default="", metavar="TAG", help="of one job: T-0412")
    one.add_argument("--by", default="", metavar="PERSON", help="signed by this person")
    one.add_argument("--since", default="", metavar="DAY", help="2026-11-01, today, yesterday, fri, -3")
    one.add_argument("--until", default="", metavar="DAY", help="this day too")
    one.add_argument("--last", type=int, default=0, metavar="N", help="only the last so many")
    one.add_argument("--json", action="store_true", help="print JSON")
    add_closures(commands, place, print_json)


def _parser(
    commands: Any, name: str, help: str, func: Callable[[argparse.Namespace], int], *, shop: bool = True
) -> argparse.ArgumentParser:
    parser: argparse.ArgumentParser = commands.add_parser(name, help=help, description=help[0].upper() + help[1:] + ".")
    if shop:
        parser.add_argument("--shop", metavar="FOLDER", default=argparse.SUPPRESS, help="the shop's folder")
    parser.set_defaults(func=func)
    return parser


def _say(text: str) -> None:
    print(visible(text))


def _now() -> datetime:
    from shopboard.store import utc_now

    return utc_now()


# -- backup and restore -----------------------------------------------------------------------------------------------


def _backup(options: argparse.Namespace, place: FindPlace) -> int:
    from shopboard.store import ShopUnusable
    from shopboard.store.backup import backup

    folder = place(options)
    if not isinstance(folder, Path):
        raise ShopUnusable("a shop in a database is backed up with the database's own tools", "pg_dump makes one")
    made = backup(folder, Path(options.file), _now())
    _say(f"The shop as of change {made.seq} is in {made.file}: {made.files} files, {made.bytes / 1e6:.1f} MB.")
    _say("It was restored into a scratch folder, read whole and looked over. PINs and half-typed forms are not in it.")
    return 0


def _restore(options: argparse.Namespace) -> int:
    from shopboard.store.restore import restore

    told = restore(Path(options.file), Path(options.folder), _now())
    _say(f"The shop as of change {told.seq} stands in {told.folder}.")
    if told.aside:
        _say(f"What stood there before is kept in {told.aside}.")
    return 0


# -- PINs -------------------------------------------------------------------------------------------------------------


def _pin(options: argparse.Namespace, place: FindPlace) -> int:
    from shopboard.store import own_folder, read_settings
    from shopboard.store.pins import Pins

    where = place(options)
    settings, pins = read_settings(where), Pins(own_folder(where))
    who = options.person or (settings.people[0].id if len(settings.people) == 1 else "")
    person = settings.person(who)
    if person is None:
        known = ", ".join(one.id for one in settings.people) or "nobody yet"
        raise Refused(f"nobody called {who} works here" if who else "whose PIN", f"say --as with one of: {known}")
    if not sys.stdin.isatty():
        raise Refused("a PIN is typed unseen", "run it in a terminal")
    if pins.has(who):
        pins.check(who, _unseen(f"PIN of {person.name}: "), _now())
    if options.clear:
        _clear_other(settings, pins, who, options.clear)
        return 0
    new = _unseen("new PIN, empty for none: ")
    if new != _unseen("once more: "):
        raise Refused("the two differ, so nothing was changed", "do it again")
    if new:
        pins.set(who, new)
    else:
        pins.clear(who)
    _say(f"{person.name}'s PIN is set." if new else f"{person.name} has no PIN.")
    return 0


def _clear_other(settings: Any, pins: Any, who: str, other: str) -> None:
    from shopboard.shop import roles

    if settings.person(other) is None:
        raise Refused(f"nobody called {other} works here", "shop.toml lists who does")
    if other != who:
        roles.permit(settings, who, "pins.of_others")
    pins.clear(other)
    _say(f"{other} has no PIN now and can set a new one.")


def _unseen(question: str) -> str:
    from getpass import getpass

    try:
        return getpass(question)
    except (EOFError, KeyboardInterrupt):
        raise Refused("nothing was typed, so nothing was changed", "do it again") from None


# -- history ----------------------------------------------------------------------------------------------------------


def _history(options: argparse.Namespace, place: FindPlace, print_json: PrintJson) -> int:
    from itertools import islice
    from zoneinfo import ZoneInfo

    from shopboard.places import history_search
    from shopboard.places.lines import plain
    from shopboard.store import open_shop
    from shopboard.store.story import story

    if options.last < 0:
        raise Refused(f"--last {options.last} is no number of changes", "say how many")
    store = open_shop(place(options))
    try:
        settings = store.state.settings
        zone = ZoneInfo(settings.zone)
        wanted = history_search.read_wanted(_typed(options), settings, _now().astimezone(zone).date())
        found = (told for told in story(store, wanted) if told is not None)
        told = list(islice(found, options.last) if options.last else found)[::-1]
    except ValueError as error:
        raise Refused(str(error)) from None
    finally:
        store.close()
    if options.json:
        print_json(history_search.told_data(told))
    elif told:
        print(plain(history_search.printed_lines(told, zone, console.width())))
    else:
        _say("no change has all of this")
    return 0


def _typed(options: argparse.Namespace) -> str:
    """The options as one types them into the line of the board."""
    named = {"job": options.job.upper().removeprefix("T-"), "by": options.by}
    named |= {"since": options.since, "until": options.until}
    return " ".join([*(f"{name}:{value}" for name, value in named.items() if value), *options.words])
