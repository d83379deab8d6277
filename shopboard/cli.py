"""The command line, thin: parse, call one room, print. Errors are one line on stderr.

Exit codes: 0 all well, 1 `verify` found faults, 2 bad input, 3 a shop that cannot be opened (or a disk that refuses).
"""

from __future__ import annotations

import argparse
import gc
import os
import shlex
import sys
from collections.abc import Callable, Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any, NoReturn
from zoneinfo import ZoneInfo

from shopboard import console
from shopboard.records import Refused, visible

if TYPE_CHECKING:
    from shopboard.store import Fault, Place

Command = Callable[[argparse.Namespace], int]

_NO_SHOP = (
    "no shop named: give --shop FOLDER or set SHOPBOARD_SHOP; "
    "`shopboard demo` shows a sample, `shopboard new FOLDER` makes one"
)


class _Bad(Exception):
    """Bad input: one line, exit code 2."""


class _Parser(argparse.ArgumentParser):
    def error(self, message: str) -> NoReturn:
        """One line, exit code 2."""
        raise _Bad(f"{message}; `{self.prog} --help` shows what there is")


def run(arguments: Sequence[str]) -> int:
    """Run one command and return its exit code; whatever goes wrong is one line on stderr."""
    code = _run(arguments)
    try:
        sys.stdout.flush()
    except BrokenPipeError:  # the reader has seen enough
        console.let_go()
    except OSError as error:
        console.let_go()
        # A command that met the full disk itself has told so
        return code or _complain(f"the output cannot be written: {error.strerror}", 3)
    return code


def _run(arguments: Sequence[str]) -> int:
    from shopboard.store import StoreError

    to_board = _to_board(arguments)
    if not to_board:
        gc.enable()
    try:
        options = _parser(to_board=to_board).parse_args(arguments)
        command: Command = options.func
        return command(options)
    except SystemExit as done:  # help was printed
        return int(done.code or 0)
    except (_Bad, Refused) as error:
        return _complain(str(error), 2)
    except StoreError as error:
        return _complain(str(error), 3)
    except BrokenPipeError:
        return 0
    except OSError as error:
        return _complain(f"{error.strerror or error}{f': {error.filename}' if error.filename else ''}", 3)


def _complain(text: str, code: int) -> int:
    _tell(text)
    return code


def _tell(text: str) -> None:
    print(f"shopboard: {visible(text)}", file=sys.stderr)


# -- what there is --------------------------------------------------------------------------------------------------


def _to_board(arguments: Sequence[str]) -> bool:
    """Whether these arguments lead to the board, whatever follows: the other commands need not be loaded then."""
    return not arguments or arguments[0] in ("open", "demo") or (arguments[0] == "--shop" and len(arguments) == 2)


def _parser(*, to_board: bool = False) -> argparse.ArgumentParser:
    parser = _Parser(
        prog="shopboard", description="One board for the whole repair job of hydrostatic ground-care machines."
    )
    _shop_options(parser)
    parser.set_defaults(func=_open_default)
    commands = parser.add_subparsers(title="commands", metavar="COMMAND")
    _add(commands, "open", _open, "the board on a shop's folder", _open_arguments)
    _add(commands, "demo", _demo, "the invented sample shop, copied, its dates slid to today", _demo_arguments)
    if not to_board:
        _add_others(commands)
    return parser


def _add_others(commands: Any) -> None:
    _add(commands, "new", _new, "an empty shop with a commented shop.toml", _new_arguments)
    _add(commands, "glance", _glance, "the shop on one screen of text", _reading_arguments)
    _add(commands, "plan", _plan, "the plan, each person's next job, how sure each promise is", _reading_arguments)
    _add(commands, "triage", _triage, "ranked causes and next checks for symptoms", _triage_arguments)
    _add(commands, "memory", _memory, "failure ages, early failures, service due, lead times", _memory_arguments)
    _add(
        commands,
        "paper",
        _paper,
        "tag, work order, estimate, parts list, receipt or chart, as text or PDF",
        _paper_arguments,
    )
    _add(commands, "verify", _verify, "look a shop over: journal, files, records, book", _reading_arguments)
    _add(commands, "help", _help, "a page on a place or a thing; without a topic, the topics", _help_arguments)
    from shopboard.calc import add_calc
    from shopboard.chain.commands import add_chain
    from shopboard.exchange.commands import add_exchange
    from shopboard.upkeep.commands import add_upkeep

    add_calc(commands)
    add_chain(commands, _needed_place, _print_json)
    add_exchange(commands, _needed_place, _print_json)
    add_upkeep(commands, _needed_place, _print_json)


def _add(
    commands: Any, name: str, func: Command, help: str, arguments: Callable[[argparse.ArgumentParser], None]
) -> None:
    parser = commands.add_parser(name, help=help, description=help[0].upper() + help[1:] + ".")
    arguments(parser)
    parser.set_defaults(func=func)


def _shop_options(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--shop", metavar="FOLDER", help="the shop's folder or address (default: $SHOPBOARD_SHOP)")


def _reading_arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--shop", metavar="FOLDER", default=argparse.SUPPRESS, help="the shop's folder")
    parser.add_argument("--json", action="store_true", help="print JSON")


def _open_arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("folder", nargs="?", help="the shop's folder or address (default: --shop or $SHOPBOARD_SHOP)")
    parser.add_argument(
        "--as", dest="person", default="", metavar="PERSON", help="who signs changes: an id of shop.toml"
    )


def _demo_arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--keep", metavar="FOLDER", help="copy it there and keep it (default: a scratch folder)")


def _new_arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("folder", help="where the shop is to be: a new folder, or a new branch's address")


def _triage_arguments(parser: argparse.ArgumentParser) -> None:
    from shopboard.places.triage_command import add_arguments

    _reading_arguments(parser)
    add_arguments(parser)


def _memory_arguments(parser: argparse.ArgumentParser) -> None:
    from shopboard.places.memory_command import add_arguments

    _reading_arguments(parser)
    add_arguments(parser)


def _paper_arguments(parser: argparse.ArgumentParser) -> None:
    from shopboard.paper.command import add_arguments

    add_arguments(parser)


# -- the shop -------------------------------------------------------------------------------------------------------


def _place(options: argparse.Namespace) -> Place | None:
    from shopboard.store import place_of

    named = options.shop or os.environ.get("SHOPBOARD_SHOP") or ""
    return place_of(named) if named else None


def _needed_place(options: argparse.Namespace) -> Place:
    place = _place(options)
    if place is None:
        raise _Bad(_NO_SHOP)
    return place


def _needed_folder(options: argparse.Namespace) -> Path:
    place = _needed_place(options)
    if not isinstance(place, Path):
        raise _Bad("this works on a shop in a folder: `shopboard move` brings one from a database into a folder")
    return place


def _print_json(data: Any) -> None:
    import msgspec

    text = msgspec.json.format(msgspec.json.encode(data), indent=2).decode()
    # Within JSON what would act on a terminal is written as its code: it reads back as it was typed
    shown = "".join(c if c == "\n" or visible(c) == c else _json_code(c) for c in text)
    sys.stdout.buffer.write(shown.encode() + b"\n")


def _json_code(char: str) -> str:
    units = char.encode("utf-16-be")
    return "".join(f"\\u{units[n]:02x}{units[n + 1]:02x}" for n in range(0, len(units), 2))


def _help_arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("topic", nargs="?", metavar="TOPIC", help="a place, or one of the topics that `help` lists")


def _help(options: argparse.Namespace) -> int:
    from shopboard import manual

    found = manual.show(options.topic)
    if found is None:
        raise _Bad(f"there is no help on “{options.topic}”: `shopboard help` lists the topics")
    print(found)
    return 0


def _open_default(options: argparse.Namespace) -> int:
    return _board(_needed_place(options), "")


def _open(options: argparse.Namespace) -> int:
    from shopboard.store import place_of

    return _board(place_of(options.folder) if options.folder else _needed_place(options), options.person)


def _board(folder: Place, person: str, *, show_round: bool = False) -> int:
    if not console.has_terminal():
        _print_glance(folder)
        print(f"\nThe board itself needs a terminal: run `{_open_words(folder)}` in one.")
        return 0
    from shopboard.store import open_shop, read_book

    book = read_book(folder)
    store = open_shop(folder, closed_later=True)
    try:
        if person and store.state.settings.person(person) is None:
            people = ", ".join(p.id for p in store.state.settings.people) or "nobody yet"
            raise _Bad(f"nobody called {person} works here: shop.toml knows {people}")
        os.environ.setdefault("TEXTUAL_FPS", "120")
        from shopboard.places.app import Board

        store.follow()
        Board(store, book, person, folder=folder, reckon=True, show_round=show_round).run()
    finally:
        store.close()
    return 0


def _new(options: argparse.Namespace) -> int:
    from shopboard.store import new_shop, place_of

    folder = place_of(options.folder)
    new_shop(folder)
    if not isinstance(folder, Path):
        print(visible(f"A new shop stands at {folder}."))
        print("Name bays, people and hours in its shop.toml: `shopboard files get shop.toml`, then `files put`. Then:")
        print(f"  {_open_words(folder)}")
        return 0
    print(visible(f"A new shop stands in {folder}."))
    print("Name bays, people and hours in its shop.toml and the models you repair in models.toml, then:")
    print(f"  {_open_words(folder)}")
    return 0


def _open_words(folder: Place) -> str:
    return visible(f"shopboard open {shlex.quote(str(folder))}")


def _demo(options: argparse.Namespace) -> int:
    from shopboard import demo

    folder = demo.lay_out(Path(options.keep) if options.keep else None, datetime.now(UTC))
    if console.has_terminal():
        return _board(folder, demo.first_person(folder), show_round=True)
    demo.walk(folder, print)
    print()
    _print_glance(folder)
    print(f"\nThe sample shop stands in {visible(str(folder))}. In a terminal: {_open_words(folder)}")
    return 0


def _glance(options: argparse.Namespace) -> int:
    _print_glance(_needed_place(options), as_json=options.json)
    return 0


def _print_glance(folder: Place, *, as_json: bool = False) -> None:
    from shopboard.places import floor_lines, glance_lines, glance_plan
    from shopboard.places.lines import plain
    from shopboard.store import open_shop, own_folder, read_book, utc_now

    book = read_book(folder)
    store = open_shop(folder, closed_later=True)
    try:
        now, zone = utc_now(), ZoneInfo(store.state.settings.zone)
        planned, how = glance_plan.plan_of(own_folder(folder), store.state, book, now, zone)
        floor = floor_lines.look(store.state, book, now, zone, planned, holidays=planned.holidays)
        if as_json:
            _print_json(glance_lines.glance_data(floor, how))
        else:
            print(plain(glance_lines.glance_lines(floor, console.width(), how)))
    finally:
        store.close()
        for notice in (*store.notices(), *filter(None, [store.read_only])):
            print(f"shopboard: {visible(notice)}", file=sys.stderr)


def _plan(options: argparse.Namespace) -> int:
    from shopboard.places import plan_page
    from shopboard.places.lines import plain
    from shopboard.store import open_shop, read_book, utc_now

    place = _needed_place(options)
    book = read_book(place)
    store = open_shop(place)
    try:
        zone = ZoneInfo(store.state.settings.zone)
        closed = {job.id: (job, lines) for job, lines in store.closed_jobs()}
        page = plan_page.look(store.state, book, utc_now(), zone, closed)
    finally:
        store.close()
        for notice in (*store.notices(), *filter(None, [store.read_only])):
            print(f"shopboard: {visible(notice)}", file=sys.stderr)
    if options.json:
        _print_json(plan_page.plan_data(page))
    else:
        print(plain(plan_page.plan_page_lines(page, console.width())))
    return 0


def _memory(options: argparse.Namespace) -> int:
    from shopboard.places.memory_command import memory
    from shopboard.store import utc_now

    said = memory(options, _needed_place(options), utc_now(), console.width(), _tell)
    print(said) if isinstance(said, str) else _print_json(said)
    return 0


def _paper(options: argparse.Namespace) -> int:
    from shopboard.paper.command import paper
    from shopboard.store import utc_now

    paper(options, _place(options), utc_now(), console.width(), lambda text: print(visible(text, lines=True)))
    return 0


def _verify(options: argparse.Namespace) -> int:
    from shopboard.store import verify

    faults = verify(_needed_place(options))
    if options.json:
        _print_json(_verify_data(faults))
    elif not faults:
        print("no faults: journal, files, records and book agree")
    else:
        print("\n".join(visible(f"{f.where}: {f.why}{f'; {f.mend}' if f.mend else ''}") for f in faults))
    return 1 if faults else 0


def _verify_data(faults: Sequence[Fault]) -> dict[str, Any]:
    """What `verify --json` prints:

    - `faults`: a list, empty when all is well, each with `where` (file, line or record), `why` and `mend` (all text)
    """
    return {"faults": [{"where": fault.where, "why": fault.why, "mend": fault.mend} for fault in faults]}


def _triage(options: argparse.Namespace) -> int:
    from shopboard.places.triage_command import triage
    from shopboard.store import utc_now

    said = triage(options, _place(options), utc_now(), console.width(), _tell)
    print(said) if isinstance(said, str) else _print_json(said)
    return 0
