"""The command line, thin: parse, call one room, print. Errors are one line on stderr.

Exit codes: 0 all well, 1 `verify` found faults, 2 bad input, 3 a shop that cannot be opened.
"""

from __future__ import annotations

import argparse
import os
import shutil
import sys
from collections.abc import Callable, Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, NoReturn
from zoneinfo import ZoneInfo

from shopboard.records import Refused, visible

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
    from shopboard.store import ShopUnusable, StoreError

    try:
        options = _parser().parse_args(arguments)
        command: Command = options.func
        return command(options)
    except ShopUnusable as error:
        return _complain(str(error), 3)
    except (_Bad, Refused, StoreError) as error:
        return _complain(str(error), 2)
    except OSError as error:
        return _complain(f"{error.strerror or error}{f': {error.filename}' if error.filename else ''}", 3)


def _complain(text: str, code: int) -> int:
    print(f"shopboard: {visible(text)}", file=sys.stderr)
    return code


# -- what there is --------------------------------------------------------------------------------------------------


def _parser() -> argparse.ArgumentParser:
    parser = _Parser(
        prog="shopboard", description="One board for the whole repair job of hydrostatic ground-care machines."
    )
    _shop_options(parser)
    parser.set_defaults(func=_open_default)
    commands = parser.add_subparsers(title="commands", metavar="COMMAND")
    _add(commands, "open", _open, "the board on a shop's folder", _open_arguments)
    _add(commands, "demo", _demo, "the invented sample shop, copied, its dates slid to today", _demo_arguments)
    _add(commands, "new", _new, "an empty shop with a commented shop.toml", _new_arguments)
    _add(commands, "glance", _glance, "the shop on one screen of text", _reading_arguments)
    _add(commands, "triage", _triage, "ranked causes and next checks for symptoms", _triage_arguments)
    _add(commands, "verify", _verify, "look a shop over: journal, files, records, book", _reading_arguments)
    from shopboard.calc import add_calc

    add_calc(commands)
    return parser


def _add(
    commands: Any, name: str, func: Command, help: str, arguments: Callable[[argparse.ArgumentParser], None]
) -> None:
    parser = commands.add_parser(name, help=help, description=help[0].upper() + help[1:] + ".")
    arguments(parser)
    parser.set_defaults(func=func)


def _shop_options(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--shop", metavar="FOLDER", help="the shop's folder (default: $SHOPBOARD_SHOP)")


def _reading_arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--shop", metavar="FOLDER", default=argparse.SUPPRESS, help="the shop's folder")
    parser.add_argument("--json", action="store_true", help="print JSON")


def _open_arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("folder", help="the shop's folder")
    parser.add_argument(
        "--as", dest="person", default="", metavar="PERSON", help="who signs changes: an id of shop.toml"
    )


def _demo_arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--keep", metavar="FOLDER", help="copy it there and keep it (default: a scratch folder)")


def _new_arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("folder", help="where the shop is to be; must not exist or be empty")


def _triage_arguments(parser: argparse.ArgumentParser) -> None:
    _reading_arguments(parser)
    parser.add_argument("symptoms", nargs="+", metavar="SYMPTOM", help="its name or the customer's words")
    parser.add_argument("--layout", default="in-line", help="in-line, split, transaxle or gear (default: in-line)")
    parser.add_argument("--answer", action="append", default=[], metavar="CHECK=OUTCOME", help="an answered check")
    parser.add_argument("--chart", action="store_true", help="print the triage tree of the first symptom")


# -- the shop -------------------------------------------------------------------------------------------------------


def _folder(options: argparse.Namespace) -> Path | None:
    named = options.shop or os.environ.get("SHOPBOARD_SHOP") or ""
    return Path(named) if named else None


def _needed_folder(options: argparse.Namespace) -> Path:
    folder = _folder(options)
    if folder is None:
        raise _Bad(_NO_SHOP)
    return folder


def _width() -> int:
    return max(60, shutil.get_terminal_size((100, 24)).columns)


def _has_terminal() -> bool:
    return sys.stdin.isatty() and sys.stdout.isatty() and os.environ.get("TERM", "") not in ("", "dumb")


def _print_json(data: Any) -> None:
    import msgspec

    sys.stdout.buffer.write(msgspec.json.format(msgspec.json.encode(data), indent=2) + b"\n")


def _open_default(options: argparse.Namespace) -> int:
    return _board(_needed_folder(options), "")


def _open(options: argparse.Namespace) -> int:
    return _board(Path(options.folder), options.person)


def _board(folder: Path, person: str) -> int:
    if not _has_terminal():
        code = _print_glance(folder)
        print("\nThe board itself needs a terminal: run `shopboard open FOLDER` in one.")
        return code
    from shopboard.store import open_shop, read_book

    book = read_book(folder)
    store = open_shop(folder)
    try:
        if person and store.state.settings.person(person) is None:
            people = ", ".join(p.id for p in store.state.settings.people) or "nobody yet"
            raise _Bad(f"nobody called {person} works here: shop.toml knows {people}")
        os.environ.setdefault("TEXTUAL_FPS", "120")
        from shopboard.places.app import Board

        Board(store, book, person, folder=folder).run()
    finally:
        store.close()
    return 0


def _new(options: argparse.Namespace) -> int:
    from shopboard.store import new_shop

    folder = Path(options.folder)
    new_shop(folder)
    print(f"A new shop stands in {folder}.")
    print("Name bays, people and hours in its shop.toml and the models you repair in models.toml, then:")
    print(f"  shopboard open {folder}")
    return 0


def _demo(options: argparse.Namespace) -> int:
    from shopboard import demo

    folder = demo.lay_out(Path(options.keep) if options.keep else None, datetime.now(UTC))
    if _has_terminal():
        return _board(folder, demo.first_person(folder))
    demo.walk(folder, print)
    print()
    code = _print_glance(folder)
    print(f"\nThe sample shop stands in {folder}. In a terminal: shopboard open {folder}")
    return code


def _glance(options: argparse.Namespace) -> int:
    return _print_glance(_needed_folder(options), as_json=options.json)


def _print_glance(folder: Path, *, as_json: bool = False) -> int:
    from shopboard.places import floor_lines, glance_lines
    from shopboard.places.lines import plain
    from shopboard.store import open_shop, read_book, utc_now

    book = read_book(folder)
    store = open_shop(folder)
    try:
        zone = ZoneInfo(store.state.settings.zone)
        floor = floor_lines.look(store.state, book, utc_now(), zone)
        if as_json:
            _print_json(glance_lines.glance_data(floor))
        else:
            print(plain(glance_lines.glance_lines(floor, _width())))
        for notice in store.notices():
            print(visible(notice), file=sys.stderr)
    finally:
        store.close()
    return 0


def _verify(options: argparse.Namespace) -> int:
    from shopboard.store import verify

    faults = verify(_needed_folder(options))
    if options.json:
        _print_json({"faults": [{"where": f.where, "why": f.why, "mend": f.mend} for f in faults]})
    elif not faults:
        print("no faults: journal, files, records and book agree")
    for fault in faults if not options.json else ():
        print(visible(f"{fault.where}: {fault.why}; {fault.mend}"))
    return 1 if faults else 0


def _triage(options: argparse.Namespace) -> int:
    from shopboard.places import triage_lines
    from shopboard.places.lines import plain
    from shopboard.store import read_book

    try:
        question = triage_lines.question(read_book(_folder(options)), options.layout, options.symptoms, options.answer)
    except ValueError as error:
        raise _Bad(str(error)) from None
    if options.json:
        _print_json(triage_lines.triage_data(question))
    elif options.chart:
        print(plain(triage_lines.chart_lines(question, _width())))
    else:
        print(plain(triage_lines.triage_lines(question, _width())))
    return 0
