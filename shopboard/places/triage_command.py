"""What `shopboard triage …` prints: ranked causes and next checks, the chart, or what book and shop say of a cause."""

from __future__ import annotations

import argparse
import difflib
from collections.abc import Callable
from datetime import datetime
from typing import TYPE_CHECKING, Any

from shopboard.records import Refused, visible

if TYPE_CHECKING:  # the arguments are read at every start: what reckons is loaded when it is asked for
    from shopboard.store import Place
    from shopboard.trouble import Book, Learned


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The arguments of `shopboard triage`, but for those of every reading command."""
    parser.add_argument("symptoms", nargs="+", metavar="SYMPTOM", help="its name or the customer's words")
    parser.add_argument("--layout", default="in-line", help="in-line, split, transaxle or gear (default: in-line)")
    parser.add_argument("--answer", action="append", default=[], metavar="CHECK=OUTCOME", help="an answered check")
    parser.add_argument("--chart", action="store_true", help="print the triage tree of the first symptom")
    parser.add_argument("--says", default="", metavar="CAUSE", help="what the book and the shop say of this cause")
    parser.add_argument("--book-alone", action="store_true", help="leave out what the shop's closed jobs teach")


def triage(
    options: argparse.Namespace, place: Place | None, now: datetime, width: int, tell: Callable[[str], None]
) -> str | dict[str, Any]:
    """What is printed: text, or with --json the data. `tell` is given what a person must know besides.

    Raises Refused for input that cannot be, StoreError for a shop that cannot be opened.
    """
    from shopboard.store import read_book, read_settings

    from . import triage_lines
    from .book_says import says_lines
    from .lines import plain

    settings = read_settings(place) if place else None
    book = read_book(place)
    # Instruments that the shop does not name are not proposed; a shop that names none has all
    instruments = (settings.instruments or None) if settings else None
    try:
        triage_lines.known_layout(options.layout)
        learned = None if place is None or options.book_alone else learned_from(place, book, options.layout, now, tell)
        asked = triage_lines.question(
            book, options.layout, options.symptoms, options.answer, instruments, learned, _cause(book, options)
        )
    except ValueError as error:
        raise Refused(str(error)) from None
    if options.json:
        return triage_lines.triage_data(asked)
    if asked.says is not None:
        why = "left out, as asked" if options.book_alone else "no shop is named"
        return plain(says_lines(asked.says, settings.comeback_days if settings else 90, "", why, width))
    lines = triage_lines.chart_lines if options.chart else triage_lines.triage_lines
    return plain(lines(asked, width))


def _cause(book: Book, options: argparse.Namespace) -> str:
    """The cause asked about by id or name, "" for none. Raises ValueError with the nearest ones."""
    wanted = options.says.strip().lower()
    here = {id: cause.name for id, cause in book.causes.items() if options.layout in cause.layouts}
    for id, name in here.items():
        if wanted in (id, name.lower()):
            return id
    if not wanted:
        return ""
    near = difflib.get_close_matches(wanted, [*here, *(name.lower() for name in here.values())], 3, 0.5)
    hint = f"did you mean {' or '.join(near)}?" if near else "its id stands in --json"
    raise ValueError(f"no cause “{options.says}” on {options.layout}: {hint}")


def learned_from(place: Place, book: Book, layout: str, now: datetime, tell: Callable[[str], None]) -> Learned:
    """What the shop's closed jobs teach for a layout as of now; what cannot be read is told and left out."""
    from shopboard.shop.lessons import learned
    from shopboard.store import open_shop, readable_jobs

    store = open_shop(place)
    try:
        return learned(store.state, readable_jobs(store, tell), book, now, layout)
    finally:
        store.close()
        for notice in (*store.notices(), *filter(None, [store.read_only])):
            tell(visible(notice))
