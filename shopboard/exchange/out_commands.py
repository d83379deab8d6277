"""`shopboard export` and `shopboard erase`: what goes out, and who goes."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable
from datetime import datetime
from pathlib import Path
from zoneinfo import ZoneInfo

import msgspec

from shopboard.records import Refused, visible
from shopboard.shop.roles import permit
from shopboard.store import FolderStore, Place, Store, disk, open_shop
from shopboard.store.copies import copies_near

from .calendar_file import promises
from .export_files import as_csv, as_json
from .own_data import as_text, find_customer, own_data
from .sheet import many
from .signing import proved
from .tables import COLUMNS, Tables

Ask = Callable[[str], str] | None
Say = Callable[[str], None]


def export(options: argparse.Namespace, place: Place, now: datetime) -> None:
    """Write the table, the calendar or a customer's own data. Raises Refused, StoreError, OSError."""
    format = options.format or {"promises": "ics", "customer": "json"}.get(options.what, "csv")
    fits = {"promises": ("ics",), "customer": ("json", "text")}.get(options.what, ("csv", "json"))
    if format not in fits:
        raise Refused(f"{options.what} cannot be written as {format}", f"--format {' or '.join(fits)}")
    if options.what != "customer" and options.whom:
        raise Refused(f"{options.whom} does not belong behind {options.what}", "only `export customer` takes a name")
    store = open_shop(place)
    try:
        data = _made(options, store, format, now)
    finally:
        store.close()
    _write(data, options.output)


def _made(options: argparse.Namespace, store: Store, format: str, now: datetime) -> bytes:
    if options.what == "promises":
        return promises(store.state, now)
    if options.what == "customer":
        told = own_data(store, find_customer(store.state, options.whom), now)
        if format == "text":
            return as_text(told, ZoneInfo(store.state.settings.zone)).encode()
        return msgspec.json.format(msgspec.json.encode(told), indent=2) + b"\n"
    rows = Tables(store.state, store.closed_jobs() if options.what == "closed" else ()).rows(options.what)
    columns = COLUMNS[options.what]
    return as_json(columns, rows) if format == "json" else as_csv(columns, rows, bom=options.bom)


def _write(data: bytes, output: str) -> None:
    if output:
        disk.replace_file(Path(output), data)
        print(visible(f"{output} is written."))
    elif sys.stdout.isatty():
        # On a terminal nothing in people's text may act
        print(visible(data.decode("utf-8-sig"), lines=True))
    else:
        sys.stdout.flush()
        sys.stdout.buffer.write(data)


# -- erase ------------------------------------------------------------------------------------------------------------


def erase(options: argparse.Namespace, place: Place, now: datetime, say: Say, ask: Ask, secret: Ask) -> None:
    """Erase a customer, once their name was typed. Raises Refused, StoreError."""
    store = open_shop(place)
    try:
        if not isinstance(store, FolderStore):
            raise Refused(
                "a shop in a database cannot erase anybody yet", "move it to a folder, erase there, move it back"
            )
        by = proved(store.state.settings, options.person, place, now, secret)
        permit(store.state.settings, by, "data.erase")
        customer = find_customer(store.state, options.whom)
        machines = sum(one.customer == customer.id for one in store.state.machines.values())
        jobs = sum(one.customer == customer.id for one in store.state.closed.values())
        say(f"customer {customer.id}, {customer.name}: {many(machines, 'machine')}, {many(jobs, 'closed job')}.")
        say("Their name, telephone, address, e-mail and every word on their jobs go for ever; figures stay.")
        typed = options.name or (ask(f"Type the name to erase it ({customer.name}): ") if ask else "")
        if typed.strip() != customer.name.strip():
            raise Refused(
                f"the name was not typed, so {customer.name} stays", "type it as it stands, or say it with --name"
            )
        done = store.erase_customer(by, customer.id)
    finally:
        store.close()
    say(f"Erased: {many(done.records, 'record')}, {many(done.lines, 'line')} of history rewritten.")
    for file in done.files:
        say(f"  {file} removed")
    for file in done.left:
        say(f"  {file} still names them: look at it yourself")
    if done.unsure:
        words = ", ".join(f"“{mark}”" for mark in done.unsure)
        say(f"  {words}: too short or somebody else's too, so not looked for in what was written about others")
    for copy in copies_near(place) if isinstance(place, Path) else ():
        say(f"  {copy} is a copy of this shop and was not touched: erase there too, or delete it")
    say("Not reached either: copies kept elsewhere, lists they came from, exports, printed papers, calendars,")
    say("and what a disk keeps of deleted files.")
