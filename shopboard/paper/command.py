"""What `shopboard paper …` prints: which paper of what, as text or into a PDF."""

from __future__ import annotations

import argparse
from collections.abc import Callable
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from shopboard.records import Refused, Settings, tag_number
from shopboard.shop.lessons import family_of, learned
from shopboard.store import Place, Store, disk, open_shop, read_book, read_settings, readable_jobs

from .blocks import Paper, Sheet

if TYPE_CHECKING:
    from shopboard.trouble import Book

    from .desk import Desk

#: What can be printed, and what it is of.
KINDS = {
    "tag": "the tag of a job, with its codes",
    "work-order": "complaint, cause, correction, cautions and every step of a job",
    "estimate": "every line of a job's sum, or the range of sums while its cause is not known",
    "parts": "the parts of a job; of all that is to come without a tag",
    "receipt": "the receipt of a collected job",
    "part-labels": "a label with its code for each part of a job; of all that is to come without a tag",
    "bin-label": "the label of the bin that holds a part number",
    "words": "a short message for the customer of a job, to copy or read out",
    "chart": "the trouble chart of a symptom",
}


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The arguments of `shopboard paper`."""
    parser.add_argument("kind", choices=KINDS, metavar="PAPER", help="; ".join(f"{k}: {v}" for k, v in KINDS.items()))
    parser.add_argument(
        "of", nargs="*", metavar="TAG", help="the job's tag; for a chart the symptom, for a bin the part number"
    )
    parser.add_argument("--layout", default="in-line", help="the chart's layout (default: in-line)")
    parser.add_argument("--pdf", metavar="FILE", help="write a PDF there instead of printing text")
    parser.add_argument("--sheet", default="", metavar="SIZE", help="A4 or Letter (default: shop.toml)")
    parser.add_argument("--label", default="", metavar="WxH", help="a tag's size in mm (default: shop.toml)")
    parser.add_argument("--shop", metavar="FOLDER", default=argparse.SUPPRESS, help="the shop's folder")


def paper(
    options: argparse.Namespace, folder: Place | None, now: datetime, width: int, say: Callable[[str], None]
) -> None:
    """Print the paper as text, or write its PDF and say where. Raises Refused, StoreError and OSError."""
    from .sizes import label_size, sheet_size

    if options.kind == "words" and options.pdf is not None:
        raise Refused("words to say are text only", "leave --pdf out")
    settings: Settings
    made: Paper | str
    if options.kind == "chart":
        settings, made = _chart(options, folder, now)
    elif folder is None:
        raise Refused("no shop named", "give --shop FOLDER or set SHOPBOARD_SHOP")
    else:
        settings, made = _of_shop(options, folder, now)
    if isinstance(made, str):
        say(made)
        return
    # Asked for whichever is printed, so that a wrong size is told in either case
    label, sheet = label_size(settings, options.label), sheet_size(settings, options.sheet)
    if options.pdf is None:
        from .text import as_text

        say(as_text(made, width))
        return
    from .pdf import as_pdf

    target = Path(options.pdf)
    disk.replace_file(target, as_pdf(made, sheet if isinstance(made, Sheet) else label, now))
    say(f"{target} is written.")


def _chart(options: argparse.Namespace, folder: Place | None, now: datetime) -> tuple[Settings, Paper]:
    from .chart import trouble_chart

    if not options.of:
        raise Refused("no symptom named", "write it after the word chart")
    settings = read_settings(folder) if folder else Settings(name="shopboard")
    book = _taught(folder, now, options.layout) if folder else read_book(None)
    owned = settings.instruments or None
    return settings, trouble_chart(book, " ".join(options.of), options.layout, settings.name, instruments=owned)


def _taught(folder: Place, now: datetime, layout: str) -> Book:
    """The shop's book as its closed jobs correct it for a layout."""
    book, store = read_book(folder), open_shop(folder)
    try:
        return learned(store.state, readable_jobs(store, lambda _: None), book, now, layout).book
    finally:
        store.close()


def _of_shop(options: argparse.Namespace, folder: Place, now: datetime) -> tuple[Settings, Paper | str]:
    from .desk import Desk

    bin = options.kind == "bin-label"
    number = None if bin else _number(options.kind, options.of)
    book = read_book(folder)
    store = open_shop(folder)
    try:
        if number is not None and options.kind == "estimate":
            book = _learned(store, book, now, number)
        desk = Desk(store.state, book, now)
        made = _bin(desk, " ".join(options.of)) if bin else _made(options.kind, desk, number)
        return store.state.settings, made
    finally:
        store.close()


def _learned(store: Store, book: Book, now: datetime, number: int) -> Book:
    """The book as the shop's closed jobs correct it for the machine of an open job, whose range of sums goes by it."""
    job = store.state.jobs.get(number)
    machine = store.state.machines.get(job.machine) if job else None
    if machine is None:
        return book
    closed, family = readable_jobs(store, lambda _: None), family_of(store.state, machine)
    return learned(store.state, closed, book, now, machine.layout.value, family).book


def _bin(desk: Desk, number: str) -> Paper:
    from .part_labels import bin_labels

    return bin_labels(desk, number)


def _number(kind: str, of: list[str]) -> int | None:
    words = " ".join(of)
    if not words and kind in ("parts", "part-labels"):
        return None
    number = tag_number(words)
    if number is None:
        raise Refused(f"{words or 'nothing'} is no tag", "write it like T-0412")
    return number


def _made(kind: str, desk: Desk, number: int | None) -> Paper | str:
    from .estimate_sheet import estimate_sheet, sum_of
    from .part_labels import line_labels
    from .parts_list import parts_list
    from .receipt import receipt
    from .tag import tag_label
    from .words import message
    from .work_order import work_order

    if kind == "part-labels":
        return line_labels(desk, number)
    if number is None or kind == "parts":
        return parts_list(desk, number)
    if kind == "words":
        return message(desk, number, sum_of(desk, desk.job(number)[0]))
    make: dict[str, Callable[[Desk, int], Paper]] = {
        "tag": tag_label,
        "work-order": work_order,
        "estimate": estimate_sheet,
        "receipt": receipt,
    }
    return make[kind](desk, number)
