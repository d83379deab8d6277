"""What `shopboard memory …` prints: what closed jobs teach, as text or data, and its plots as a picture."""

from __future__ import annotations

import argparse
from collections.abc import Callable
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any
from zoneinfo import ZoneInfo

from shopboard.records import Refused, visible

if TYPE_CHECKING:  # the arguments are read at every start: what reckons is loaded when it is asked for
    from shopboard.store import Place


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The arguments of `shopboard memory`, but for those of every reading command."""
    parser.add_argument("--model", default="", metavar="MODEL", help="only this model (its id in models.toml)")
    parser.add_argument("--plot", metavar="FILE.svg", help="write the plots to this file, as SVG")


def memory(
    options: argparse.Namespace, place: Place, now: datetime, width: int, tell: Callable[[str], None]
) -> str | dict[str, Any]:
    """What is printed: text, or with --json the data. `tell` is given what a person must know besides.

    Raises Refused for input that cannot be, StoreError for a shop that cannot be opened, OSError where the plots
    cannot be written.
    """
    from shopboard.store import open_shop, read_book

    from . import memory_lines, memory_page
    from .lines import plain
    from .memory_svg import svg_of

    picture = _picture(options.plot)
    book, store = read_book(place), open_shop(place)
    try:
        zone = ZoneInfo(store.state.settings.zone)
        page = memory_page.look(store.state, book, now, zone, store.closed_jobs(), model=options.model)
    except ValueError as error:
        raise Refused(str(error)) from None
    finally:
        store.close()
        for notice in (*store.notices(), *filter(None, [store.read_only])):
            tell(notice)
    if picture is not None:
        picture.write_text(svg_of(page), encoding="utf-8")
        tell(f"the plots stand in {visible(str(picture))}")
    return memory_lines.memory_data(page) if options.json else plain(memory_lines.memory_lines(page, width))


def _picture(named: str | None) -> Path | None:
    if named is None:
        return None
    if not named.lower().endswith(".svg"):
        raise Refused(f"--plot {named}: the picture is an SVG file", "give it a name that ends in .svg")
    return Path(named)
