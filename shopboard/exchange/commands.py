"""The commands `import`, `export` and `erase`: their arguments, and the terminal they talk to. Light to load."""

from __future__ import annotations

import argparse
import contextlib
import sys
from collections.abc import Callable, Iterator
from typing import TYPE_CHECKING, Any

from shopboard.records import Refused, visible

if TYPE_CHECKING:
    from shopboard.store import Place

#: Finds the shop in the options; raises where none is named.
FindPlace = Callable[[argparse.Namespace], "Place"]
PrintJson = Callable[[Any], None]

LISTS = ("customers", "machines", "parts", "prices", "past-jobs")
TABLES = ("customers", "machines", "jobs", "parts", "closed")
_ENCODINGS = ("utf-8", "utf-8-sig", "utf-16", "cp1252", "latin-1")


def add_exchange(commands: Any, place: FindPlace, print_json: PrintJson) -> None:
    """Add the commands to argparse's `commands`."""
    into = "a list from a CSV or XLSX file into the shop"
    _import_arguments(_parser(commands, "import", into, lambda o: _import(o, place, print_json)))
    out = "lists as CSV or JSON, promises as a calendar, or all that is kept of a customer"
    _export_arguments(_parser(commands, "export", out, lambda o: _export(o, place)))
    gone = "a customer from records and history: words go, figures stay (the owner only)"
    _erase_arguments(_parser(commands, "erase", gone, lambda o: _erase(o, place)))


def _parser(commands: Any, name: str, help: str, func: Callable[[argparse.Namespace], int]) -> argparse.ArgumentParser:
    parser: argparse.ArgumentParser = commands.add_parser(name, help=help, description=help[0].upper() + help[1:] + ".")
    parser.add_argument("--shop", metavar="FOLDER", default=argparse.SUPPRESS, help="the shop's folder")
    parser.set_defaults(func=func)
    return parser


def say(text: str) -> None:
    """Print a line; nothing in it acts on the terminal."""
    print(visible(text))


# -- import -----------------------------------------------------------------------------------------------------------


def _import_arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("kind", choices=LISTS, metavar="LIST", help=", ".join(LISTS))
    parser.add_argument("file", metavar="FILE", help="a CSV or XLSX file")
    parser.add_argument("--as", dest="person", default="", metavar="PERSON", help="who signs: an id of shop.toml")
    parser.add_argument("--columns", default="", metavar="PAIRS", help="which column is what: 'Phone=phone,Old no=-'")
    parser.add_argument("--dates", default="", metavar="ORDER", help="how dates are written: dmy, mdy or ymd")
    parser.add_argument("--decimal", default="", metavar="MARK", help="the mark before decimals: point or comma")
    parser.add_argument("--encoding", default="", choices=_ENCODINGS, metavar="NAME", help=", ".join(_ENCODINGS))
    parser.add_argument("--sheet", default="", metavar="NAME", help="the sheet of a workbook (default: the first)")
    parser.add_argument("--add", action="store_true", help="prices: take in numbers that parts.toml does not have too")
    parser.add_argument("--dry-run", action="store_true", help="try it: nothing is kept but the file of rejects")
    parser.add_argument("--yes", action="store_true", help="ask nothing: the columns as guessed or told are right")
    parser.add_argument("--json", action="store_true", help="print what came of it as JSON")


def _import(options: argparse.Namespace, place: FindPlace, print_json: PrintJson) -> int:
    from .import_command import import_list

    quiet = options.json
    asks = None if quiet else _asks()
    told = import_list(options, place(options), (lambda _: None) if quiet else say, asks, _secret(), _watched)
    if quiet:
        print_json(told)
    return 0


# -- export and erase -------------------------------------------------------------------------------------------------


def _export_arguments(parser: argparse.ArgumentParser) -> None:
    what = (*TABLES, "promises", "customer")
    parser.add_argument("what", choices=what, metavar="WHAT", help=", ".join(what))
    parser.add_argument("whom", nargs="?", default="", metavar="CUSTOMER", help="for customer: the number or name")
    formats = ("csv", "json", "ics", "text")
    parser.add_argument("--format", default="", choices=["", *formats], metavar="FORMAT", help=", ".join(formats))
    parser.add_argument("-o", dest="output", default="", metavar="FILE", help="write there (default: print)")
    parser.add_argument("--bom", action="store_true", help="CSV with the mark by which old spreadsheets know UTF-8")


def _export(options: argparse.Namespace, place: FindPlace) -> int:
    from shopboard.store import utc_now

    from .out_commands import export

    export(options, place(options), utc_now())
    return 0


def _erase_arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("what", choices=["customer"], metavar="customer", help="customer")
    parser.add_argument("whom", metavar="CUSTOMER", help="their number or name")
    parser.add_argument(
        "--name", default="", metavar="NAME", help="the name once more, where nobody is there to type it"
    )
    parser.add_argument("--as", dest="person", default="", metavar="PERSON", help="who signs: an owner of shop.toml")


def _erase(options: argparse.Namespace, place: FindPlace) -> int:
    from shopboard.store import utc_now

    from .out_commands import erase

    erase(options, place(options), utc_now(), say, _asks(), _secret())
    return 0


# -- the terminal -----------------------------------------------------------------------------------------------------


def _asks() -> Callable[[str], str] | None:
    """How to ask, None where nobody sits at a terminal."""
    return _ask if sys.stdin is not None and sys.stdin.isatty() and sys.stdout.isatty() else None


def _secret() -> Callable[[str], str] | None:
    """How to ask for what must not be seen."""
    from getpass import getpass

    return getpass if _asks() else None


def _ask(question: str) -> str:
    try:
        return input(visible(question))
    except EOFError:
        raise Refused("nothing was changed", "nobody answered") from None


@contextlib.contextmanager
def _watched(what: str, total: int) -> Iterator[Callable[[], None]]:
    """A progress bar on a terminal, nothing elsewhere."""
    if sys.stderr is None or not sys.stderr.isatty() or total < 200:
        yield lambda: None
        return
    from rich.console import Console
    from rich.progress import Progress

    with Progress(console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task(what, total=total)
        yield lambda: bar.advance(task)
