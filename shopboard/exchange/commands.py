"""The commands `import`, `export` and `erase`: their arguments, and the terminal they talk to. Light to load."""

from __future__ import annotations

import argparse
import contextlib
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

from shopboard.records import Refused, visible

#: Finds the shop's folder in the options; raises where none is named.
Folder = Callable[[argparse.Namespace], Path]
PrintJson = Callable[[Any], None]

LISTS = ("customers", "machines", "past-jobs")
TABLES = ("customers", "machines", "jobs", "parts", "closed")
_ENCODINGS = ("utf-8", "utf-8-sig", "utf-16", "cp1252", "latin-1")


def add_exchange(commands: Any, folder: Folder, print_json: PrintJson) -> None:
    """Add the commands to argparse's `commands`."""
    _import_arguments(
        _parser(
            commands, "import", "a list from a CSV or XLSX file into the shop", lambda o: _import(o, folder, print_json)
        )
    )


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
    parser.add_argument("--dry-run", action="store_true", help="try it: nothing is kept but the file of rejects")
    parser.add_argument("--yes", action="store_true", help="ask nothing: the columns as guessed or told are right")
    parser.add_argument("--json", action="store_true", help="print what came of it as JSON")


def _import(options: argparse.Namespace, folder: Folder, print_json: PrintJson) -> int:
    from .import_command import import_list

    quiet = options.json
    asks = sys.stdin is not None and sys.stdin.isatty() and sys.stdout.isatty() and not quiet
    told = import_list(options, folder(options), (lambda _: None) if quiet else say, _ask if asks else None, _watched)
    if quiet:
        print_json(told)
    return 0


def _ask(question: str) -> str:
    try:
        return input(question)
    except EOFError:
        raise Refused("nothing was imported", "nobody answered") from None


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
