"""The commands `move`, `files`, `admit` and `branches`: their arguments and what they print. Light to load."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

from shopboard import console
from shopboard.records import Refused, visible

if TYPE_CHECKING:
    from shopboard.store import Address, Place

#: Finds the shop in the options; raises where none is named.
FindPlace = Callable[[argparse.Namespace], "Place"]
PrintJson = Callable[[Any], None]


def add_chain(commands: Any, place: FindPlace, print_json: PrintJson) -> None:
    """Add the commands to argparse's `commands`."""
    one = _parser(commands, "move", "a shop from a folder into a database, or back", _move)
    one.add_argument("source", help="the shop's folder or address; it is only read")
    one.add_argument("target", help="a new folder, or the address of a new branch")

    one = _parser(commands, "files", "the files a shop in a database edits: list, get, put", lambda o: _files(o, place))
    one.add_argument("what", nargs="?", default="list", choices=("list", "get", "put", "drop"), metavar="WHAT")
    one.add_argument("name", nargs="?", default="", help="shop.toml, models.toml, parts.toml, book/….toml")
    one.add_argument("file", nargs="?", default="-", help="what to put (default: standard input)")
    one.add_argument("--version", type=int, default=0, metavar="N", help="get an earlier version")
    _shop(one)

    one = _parser(
        commands, "admit", "let a login of the database's server work here, look, or own", lambda o: _admit(o, place)
    )
    one.add_argument("login", help="the login, made by who runs the server")
    one.add_argument(
        "may", choices=("staff", "wall", "owner", "nothing"), metavar="ROLE", help="staff, wall, owner, nothing"
    )
    _shop(one)

    one = _parser(
        commands,
        "branches",
        "all branches of a database: late, at risk, parts another has, failing early",
        lambda o: _branches(o, place, print_json),
    )
    one.add_argument("--json", action="store_true", help="print JSON")
    _shop(one)


def _parser(commands: Any, name: str, help: str, func: Callable[[argparse.Namespace], int]) -> argparse.ArgumentParser:
    parser: argparse.ArgumentParser = commands.add_parser(name, help=help, description=help[0].upper() + help[1:] + ".")
    parser.set_defaults(func=func)
    return parser


def _shop(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--shop", metavar="ADDRESS", default=argparse.SUPPRESS, help="the database's address")


def _say(text: str) -> None:
    print(visible(text))


def _address(options: argparse.Namespace, place: FindPlace) -> Address:
    found = place(options)
    if isinstance(found, Path):
        raise Refused(f"{found} is a folder", "this works on an address: postgresql://HOST/DATABASE?branch=NAME")
    return found


def _move(options: argparse.Namespace) -> int:
    from shopboard.store import place_of
    from shopboard.store.move import move

    source, target = place_of(options.source), place_of(options.target)
    done = move(source, target, lambda text: print(visible(text), flush=True))
    _say(f"{source} is moved to {target}: {done.changes} changes, journal {done.digest[:16]}")
    _say("The source is untouched. Open only the target from now on; two would go apart.")
    return 0


def _files(options: argparse.Namespace, place: FindPlace) -> int:
    from shopboard.store import chain_files as files

    address = _address(options, place)
    if options.what == "list":
        for line in files.listed(address, options.name):
            _say(line)
        return 0
    if not options.name:
        raise Refused(f"files {options.what} needs the name of a file", "`shopboard files` lists those there are")
    if options.what == "get":
        sys.stdout.buffer.write(files.got(address, options.name, options.version).encode())
        return 0
    body = None
    if options.what == "put":
        data = sys.stdin.buffer.read() if options.file == "-" else Path(options.file).read_bytes()
        try:
            body = data.decode("utf-8-sig")
        except UnicodeDecodeError:
            raise Refused(f"{options.file} is not UTF-8 text", "save it as UTF-8") from None
    _say(files.put(address, options.name, body))
    return 0


def _admit(options: argparse.Namespace, place: FindPlace) -> int:
    from shopboard.store import chain_files as files

    _say(files.admit(_address(options, place), options.login, options.may))
    return 0


def _branches(options: argparse.Namespace, place: FindPlace, print_json: PrintJson) -> int:
    from shopboard.places import branches_page
    from shopboard.places.lines import plain
    from shopboard.store import utc_now

    look = branches_page.look(_address(options, place), utc_now())
    if options.json:
        print_json(branches_page.branches_data(look))
    else:
        print(plain(branches_page.branches_lines(look, console.width())))
    return 0
