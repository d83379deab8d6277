"""`calc` and the pages under it: options in, one line of error or a result out."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import Any, NoReturn

from shopboard.records import visible

from .driveline_pages import DRIVELINE_PAGES
from .hydrostat_pages import HYDROSTAT_PAGES
from .inputs import datum, shop_folder
from .oil_pages import OIL_PAGES
from .page import Option, Page
from .runs_pages import RUNS_PAGES
from .vibration_pages import VIBRATION_PAGES

PAGES: tuple[Page, ...] = (*HYDROSTAT_PAGES, *OIL_PAGES, *RUNS_PAGES, *DRIVELINE_PAGES, *VIBRATION_PAGES)

_ABOUT = """Figures from what a shop can measure. Values carry units (17 mm, 1 1/2 in, 2600 rpm, 80 degC, 12 %); a
standard error may follow (9.4 s +- 0.1 s) and comes out as a 90 % band. Where work can hurt someone the maker's
service manual, the employer's lockout procedure and qualified people come first."""


def add_calc(subparsers: Any) -> None:
    """Add the command `calc` with its pages to argparse's `subparsers`; each sets `func` (options → exit code)."""
    calc = subparsers.add_parser("calc", help="figures from what a shop can measure", description=_ABOUT)
    _add_pages(calc)


def _add_pages(parser: argparse.ArgumentParser) -> None:
    """The pages as commands; without one the list of them is printed."""
    parser.set_defaults(func=_listing)
    names = parser.add_subparsers(title="calculations", metavar="NAME")
    for page in PAGES:
        _add_page(names, page)


def _add_page(names: Any, page: Page) -> None:
    parser = names.add_parser(
        page.name,
        help=page.title,
        description=page.text(),
        epilog=page.end(),
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    if page.file:
        parser.add_argument("file", metavar="FILE", help="the recording, CSV or WAV")
    for option in page.options:
        _add_option(parser, option)
    if page.takes_model:
        parser.add_argument("--model", metavar="M", help="a model of the shop, by id or name, for the numbers it gives")
        parser.add_argument("--gear", metavar="G", default="", help="the range driven in, if the model has several")
        parser.add_argument(
            "--set", metavar="NAME=VALUE", action="append", type=datum, help="a number of the model, over --model's"
        )
    parser.add_argument("--shop", metavar="FOLDER", default=argparse.SUPPRESS, help="the shop's folder")
    parser.add_argument("--units", choices=("metric", "us"), help="units of the answer (default: the shop's)")
    parser.add_argument("--json", action="store_true", help="print JSON")
    parser.set_defaults(func=_runner(page))


def _add_option(parser: argparse.ArgumentParser, option: Option) -> None:
    extra: dict[str, Any] = {"choices": option.choices} if option.choices else {"metavar": option.metavar}
    parser.add_argument(
        option.flag,
        type=option.read,
        required=option.needed,
        action="append" if option.repeat else "store",
        default=option.default,
        help=option.help.replace("%", "%%"),
        **extra,
    )


def _runner(page: Page) -> Any:
    def run(options: argparse.Namespace) -> int:
        try:
            result = page.run(options)
            units = options.units or _shop_units(options)
        except (ValueError, ArithmeticError) as error:
            return _complain(str(error))
        except OSError as error:
            return _complain(f"{error.filename}: {error.strerror}" if error.filename else str(error))
        if options.json:
            import msgspec

            sys.stdout.write(msgspec.json.format(msgspec.json.encode(result.as_json(units)), indent=2).decode() + "\n")
        else:
            from .show import text

            print(visible(text(result, units), lines=True))
        return 0

    return run


def _shop_units(options: argparse.Namespace) -> str:
    """The units of the shop, metric without one."""
    folder = shop_folder(options)
    if folder is None or (isinstance(folder, Path) and not (folder / "shop.toml").is_file()):
        return "metric"
    from shopboard.store import read_settings

    return read_settings(folder).units


def _listing(options: argparse.Namespace) -> int:
    width = max(len(page.name) for page in PAGES)
    print("\n".join(f"{page.name.ljust(width)}  {page.title}" for page in PAGES))
    print("\n`shopboard calc NAME --help` is a page with the formula, the inputs and a worked example.")
    return 0


def _complain(line: str) -> int:
    print(f"shopboard: {visible(line)}", file=sys.stderr)
    return 2


class _Bad(Exception):
    """Options that do not parse: one line."""


class _Parser(argparse.ArgumentParser):
    def error(self, message: str) -> NoReturn:
        """One line instead of the usage."""
        raise _Bad(f"{message}; `{self.prog} --help` shows what there is")


def main(arguments: Sequence[str]) -> int:
    """Run one calculation and return its exit code: 0, or 2 with one line on stderr."""
    parser = _Parser(prog="shopboard calc", description=_ABOUT)
    _add_pages(parser)
    try:
        options = parser.parse_args(arguments)
    except _Bad as error:
        return _complain(str(error))
    return int(options.func(options))
