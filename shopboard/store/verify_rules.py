"""Rules of the shop that must hold in what is kept, whoever wrote it: safe to collect, asked and answered, stock."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

from shopboard.records import ShopState, Stage, tag

#: Where, why, how to mend.
Found = tuple[str, str, str]


def rule_faults(state: ShopState, *, settings: bool) -> Iterator[Found]:
    """Each rule of the shop that its records break; `settings` says whether shop.toml could be read."""
    yield from _stages(state)
    yield from _parts(state)
    yield from _bins(state)
    yield from _returns(state, settings)


def _stages(state: ShopState) -> Iterator[Found]:
    for job in state.jobs.values():
        test = job.road_test
        if job.stage is Stage.COLLECT and not (test and test.passed and test.interlocks_proved and test.brake_proved):
            mend = "record its road test, with interlocks and brake proved, before it leaves"
            yield job.tag, "is ready to collect without a passed road test", mend
        if job.stage is Stage.APPROVAL and (job.approval is None or job.approval.given is not None):
            yield job.tag, "waits for approval, but nothing is asked", "ask for approval again with the estimate"
        if job.stage is Stage.DECLINED and job.closed_at is None:
            yield job.tag, "is declined, but nobody noted when", "undo the change that did it and decline it again"


def _parts(state: ShopState) -> Iterator[Found]:
    for line in state.parts.values():
        if line.received > line.quantity:
            why = f"has {line.received} received of {line.quantity} ordered"
            yield f"part line {line.id}", why, "undo the last receiving of it"


def _bins(state: ShopState) -> Iterator[Found]:
    lying = Counter[str]()
    places: dict[tuple[str, str], int] = {}
    for entry in state.stock.values():
        lying[entry.number] += entry.quantity
        other = places.setdefault((entry.number, entry.bin), entry.id)
        if other != entry.id:
            why = f"is {entry.number} in bin “{entry.bin}”, which entry {other} is too"
            yield f"stock entry {entry.id}", why, "count that bin again, and set the other entry to 0"
    kept = Counter[str]()
    for line in state.parts.values():
        kept[line.number] += line.reserved
    for number, pieces in kept.items():
        if pieces > lying[number]:
            why = f"has {pieces} kept for jobs, but {lying[number]} lie in the bins"
            yield f"part {number}", why, "count the bins, then give up what cannot be kept"


def _returns(state: ShopState, settings: bool) -> Iterator[Found]:
    known = state.jobs.keys() | state.closed.keys()
    for one in state.returns.values():
        if one.job is not None and one.job not in known:
            mend = "undo the change that did it"
            yield f"return {one.id}", f"comes from {tag(one.job)}, which is not there", mend
        if settings and one.supplier and state.settings.supplier(one.supplier) is None:
            mend = "add the supplier to shop.toml"
            yield f"return {one.id}", f'goes to "{one.supplier}", whom shop.toml does not know', mend
