"""`shopboard import`: a list from a file, its columns confirmed, tried first if asked, kept all or nothing."""

from __future__ import annotations

import argparse
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any, NoReturn
from zoneinfo import ZoneInfo

from shopboard.records import Refused, ShopState, Step
from shopboard.shop.roles import permit
from shopboard.store import Place, Store, disk, open_shop, read_book

from .entries import Reader, check_way, find_ways, read_rows
from .fields import NAMES
from .import_lines import mapping_lines, outcome_data, outcome_lines
from .mapping import Mapping, mapped
from .outcome import Outcome, rejects_file, rejects_path
from .parts_file import with_prices
from .readings import MARKS, ORDERS
from .sheet import Sheet, many, read_sheet
from .signing import proved
from .take import List, step_of, take
from .take_prices import take_prices

Say = Callable[[str], None]
#: Asks a question on the terminal; None where there is nobody to ask.
Ask = Callable[[str], str] | None


@dataclass
class _Run:
    """One import under way."""

    options: argparse.Namespace
    place: Place
    store: Store
    say: Say
    ask: Ask
    now: datetime

    @property
    def path(self) -> Path:
        return Path(self.options.file)


def import_list(
    options: argparse.Namespace, place: Place, say: Say, ask: Ask, secret: Ask, watch: Any
) -> dict[str, object]:
    """Take in the list; returns what came of it as JSON would say it. `watch(total)` gives a progress bar's context.

    Raises Refused and StoreError, and OSError where the file cannot be read.
    """
    check_way("--dates", options.dates, ORDERS)
    check_way("--decimal", options.decimal, MARKS)
    sheet = read_sheet(Path(options.file), sheet=options.sheet, encoding=options.encoding)
    from shopboard.store import utc_now

    store = open_shop(place, clock=utc_now)
    try:
        run = _Run(options, place, store, say, ask, utc_now())
        by = proved(store.state.settings, options.person, place, run.now, secret)
        given = _read(run, sheet, watch)
        if options.kind == "prices":
            return _keep_prices(run, given[0], given[1], by, watch)
        return _keep(run, given[0], given[1], by, watch)
    finally:
        store.close()


# -- what the file says -----------------------------------------------------------------------------------------------


def _read(run: _Run, sheet: Sheet, watch: Any) -> tuple[Mapping, List]:
    options = run.options
    for line in sheet.said:
        run.say(line)
    if sheet.blank:
        run.say(f"{many(sheet.blank, 'blank row')} left out")
    mapping = _confirmed(run, sheet)
    reader = _reader(run, mapping)
    with watch("reading", len(mapping.rows)) as tick:
        entries, unread = read_rows(mapping, reader, tick)
    return mapping, List(options.kind, Path(options.file).name, entries, unread)


def _confirmed(run: _Run, sheet: Sheet) -> Mapping:
    """The mapping that the person agreed to; what they said wrong is told and forgotten."""
    told, tried = "", run.options.columns
    mapping: Mapping | None = None
    while True:
        try:
            mapping = mapped(sheet, run.options.kind, tried)
            told = tried
            for line in mapping_lines(mapping):
                run.say(line)
        except Refused as wrong:
            if run.ask is None or run.options.yes:
                raise
            run.say(str(wrong))
        if run.ask is None or run.options.yes:
            assert mapping is not None
            return mapping
        right = "Are the columns right? Enter for yes, " if mapping else "Which is it? "
        answer = _asked(run, f"{right}HEADING=field to set one right, n to stop: ")
        if mapping is not None and answer.casefold() in ("", "y", "yes"):
            return mapping
        tried = ",".join(filter(None, (told, answer)))


def _asked(run: _Run, question: str) -> str:
    assert run.ask is not None
    answer = run.ask(question).strip()
    if answer.casefold() in ("n", "no"):
        _stop()
    return answer


def _stop() -> NoReturn:
    raise Refused("nothing was imported", "start again when the list is as it should be")


def _reader(run: _Run, mapping: Mapping) -> Reader:
    settings = run.store.state.settings
    zone = ZoneInfo(settings.zone)
    reader = Reader(run.now.astimezone(zone).date(), zone, settings.currency)
    order, mark = run.options.dates, run.options.decimal
    while True:
        ways, said, doubts = find_ways(mapping, reader, order, mark)
        if not doubts:
            for line in said:
                run.say(line)
            return Reader(reader.today, reader.zone, reader.currency, ways)
        doubt = doubts[0]
        option = "--dates" if doubt.is_date else "--decimal"
        if run.ask is None or run.options.yes:
            raise Refused(doubt.words, f"say which with {option} {' or '.join(doubt.meanings)}")
        run.say(doubt.words)
        answer = _asked(run, f"Which is it? {', '.join(doubt.meanings)} (n to stop): ")
        if answer in (ORDERS if doubt.is_date else MARKS):
            order, mark = (answer, mark) if doubt.is_date else (order, answer)


# -- keeping it -------------------------------------------------------------------------------------------------------


class _NothingNew(Exception):
    """There is nothing to keep."""


def _keep(run: _Run, mapping: Mapping, given: List, by: str, watch: Any) -> dict[str, object]:
    book = read_book(run.place)
    with watch("comparing", len(given.entries)) as tick:
        outcome = take(run.store.state, run.now, by, given, book, tick)
    seen = outcome.words(*NAMES[given.kind])
    _agreed(run, outcome, given.kind, bool(outcome.puts))
    last: list[tuple[Outcome, Path | None]] = [(outcome, None)]

    def action(state: ShopState, now: Any) -> Step:
        fresh = take(state, now, by, given, book)
        # The rejects are on the disk before the rest is kept: whoever sees the one finds the other
        last[0] = fresh, _write_rejects(run, mapping, fresh)
        if not fresh.puts:
            raise _NothingNew
        return step_of(fresh, given)

    if run.options.dry_run:
        last[0] = outcome, _write_rejects(run, mapping, outcome)
        return _told(run, last[0], given.kind, 0)
    try:
        seq = run.store.commit(by, action).seq
    except _NothingNew:
        seq = 0
    if last[0][0].words(*NAMES[given.kind]) != seen:
        run.say("somebody else changed the shop meanwhile; what counts is this:")
    return _told(run, last[0], given.kind, seq)


def _agreed(run: _Run, outcome: Outcome, kind: str, some: bool) -> None:
    """Show what it comes to; return once the person wants that kept. Raises Refused."""
    for line in outcome_lines(outcome, kind):
        run.say(line)
    if run.options.dry_run or run.options.yes or not some:
        return
    if run.ask is None:
        raise Refused("nobody is here to say whether the columns are right", "repeat with --yes, or try --dry-run")
    if _asked(run, "Keep it? y or n: ").casefold() not in ("y", "yes"):
        _stop()


def _keep_prices(run: _Run, mapping: Mapping, given: List, by: str, watch: Any) -> dict[str, object]:
    """Prices go into parts.toml, at once or not at all; what it was stays beside it."""
    if not isinstance(run.place, Path):
        raise Refused("a shop in a database keeps parts.toml there", "`shopboard files put parts.toml` writes it")
    permit(run.store.state.settings, by, "data.take_in")
    path = run.place / "parts.toml"
    before = path.read_bytes() if path.exists() else b""
    state = run.store.state
    with watch("comparing", len(given.entries)) as tick:
        outcome, prices = take_prices(state.settings, state.catalogue, given.entries, run.options.add, tick)
    outcome.rejected = sorted([*given.unread, *outcome.rejected], key=lambda one: one.row.number)
    _agreed(run, outcome, given.kind, bool(prices))
    rejects = _write_rejects(run, mapping, outcome)
    if prices and not run.options.dry_run:
        text = with_prices(before.decode("utf-8-sig"), prices)
        if before:
            disk.replace_file(run.place / "parts.toml.old", before)
        disk.replace_file(path, text.encode())
        run.say("parts.toml is written; parts.toml.old is what it was. A board sees it when it is opened again.")
    return _told(run, (outcome, rejects), given.kind, 0)


def _write_rejects(run: _Run, mapping: Mapping, outcome: Outcome) -> Path | None:
    if not outcome.rejected:
        return None
    data = rejects_file(mapping, outcome.rejected)
    path = rejects_path(run.path, data)
    disk.replace_file(path, data)
    return path


def _told(run: _Run, last: tuple[Outcome, Path | None], kind: str, seq: int) -> dict[str, object]:
    outcome, path = last
    if path is not None:
        run.say(f"{many(len(outcome.rejected), 'row')} rejected: {path} holds them with the reasons")
    if run.options.dry_run:
        run.say(f"Tried only, nothing was kept: {outcome.words(*NAMES[kind])}.")
    elif seq:
        run.say(f"Kept as change {seq}: {outcome.words(*NAMES[kind])}. `u` on the board takes it back.")
    elif kind == "prices" and outcome.added + outcome.filled:
        run.say(f"Kept: {outcome.words(*NAMES[kind])}.")
    else:
        run.say(f"Nothing to keep: {outcome.words(*NAMES[kind])}.")
    return outcome_data(outcome, kind, seq, path)
