"""Looking a branch over: its own files, every row of the journal, the state at rest against it, and the records."""

from __future__ import annotations

from collections.abc import Iterator

from shopboard.records import FieldError, Settings, ShopState, Table, tag
from shopboard.store.address import Address
from shopboard.store.protocol import ShopUnusable
from shopboard.store.replay import Unfiled, Whole, apply
from shopboard.store.shop_files import read_book, read_models, read_settings
from shopboard.store.verify_records import Known, record_faults
from shopboard.store.verifying import Fault
from shopboard.store.verifying import verify as verify_folder

from . import rest
from .branch import all_rows
from .connection import Link, asked
from .texts import laid_out, ready

_RESTORE = "restore the database from its backup"
_AGAIN = "the owner may delete the branch's rows of shopboard.rest and shopboard.closed_job: they are made again"


def verify_branch(address: Address) -> tuple[Fault, ...]:
    """Every fault found in the branch; changes nothing. Raises ShopUnusable only where there is no shop at all."""
    folder = laid_out(address)
    faults = list(verify_folder(folder))
    sound = not faults
    try:
        settings, models = read_settings(folder), read_models(folder)
        book = read_book(folder) if sound else None
    except ShopUnusable:
        settings, models, book, sound = Settings(name=""), {}, None, False
    state = ShopState(settings=settings, models=models)

    def look(link: Link) -> list[Fault]:
        branch = ready(link, address)
        with link.transaction():
            link.execute("set transaction isolation level repeatable read, read only")
            return list(_data_faults(link, branch.id, state))

    found = asked(address, look)
    faults += found
    if not found:
        known = Known(settings=sound, models=sound, book=book)
        faults += [Fault(*fault) for fault in record_faults(state, known)]
    return tuple(faults)


def _data_faults(link: Link, branch: int, state: ShopState) -> Iterator[Fault]:
    """The journal's rows, replayed into `state`; then the state at rest against that."""
    replayed = Unfiled()
    try:
        at_rest = rest.read(link, branch)
    except ShopUnusable as error:
        yield Fault("shopboard.rest", error.why, _AGAIN)
        at_rest = rest.AtRest()
    try:
        for row in all_rows(link, branch):
            apply(state, replayed, [row.change()])
            if row.seq == at_rest.open.about.seq:
                yield from _rest_faults(link, branch, at_rest, state, replayed.jobs)
    except ShopUnusable as error:
        yield Fault("shopboard.change", error.why, _RESTORE)
        return
    except FieldError as error:
        yield Fault("shopboard.change", f"holds a record that cannot be read ({error})", _RESTORE)
        return
    if at_rest.open.about.seq > state.seq:
        yield Fault("shopboard.rest", f"holds change {at_rest.open.about.seq}, which the journal does not", _AGAIN)
    missing = _not_beside(link, branch)
    if missing:
        yield Fault(
            "shopboard.touched", f"{missing} changes are not listed there: their jobs' story lacks them", _RESTORE
        )


def _rest_faults(
    link: Link, branch: int, found: rest.AtRest, state: ShopState, wholes: dict[int, Whole]
) -> Iterator[Fault]:
    for table in Table:
        if getattr(found.open, table.value) != state.table(table):
            yield Fault(f"shopboard.rest: {table}", "is not what the journal says", _AGAIN)
    if found.closed != state.closed:
        yield Fault("shopboard.rest: closed jobs", "are not what the journal says", _AGAIN)
    kept = set()
    for whole in rest.each_whole(link, branch):
        kept.add(whole[0].id)
        if whole[0].id in state.closed and wholes.get(whole[0].id) != whole:
            yield Fault(f"shopboard.closed_job: {tag(whole[0].id)}", "is not what the journal says", _AGAIN)
    for id in sorted(state.closed.keys() - kept):
        yield Fault(f"shopboard.closed_job: {tag(id)}", "is missing", _AGAIN)


def _not_beside(link: Link, branch: int) -> int:
    found = link.execute(
        "select count(*) from shopboard.change c where c.branch = %s and c.subject is not null and not exists ("
        " select from shopboard.touched t where t.branch = c.branch and t.kind = 'about' and t.record = c.subject"
        " and t.seq = c.seq)",
        (branch,),
    ).fetchone()
    return int(found[0]) if found else 0
