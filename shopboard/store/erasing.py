"""Erasing a customer from everything the shop's folder holds: records at rest, the whole history, drafts.

The order makes it safe to be cut short anywhere and to be done again: what tells the customer is noted in a file of its
own before anything goes, and that file goes last. Each other file is replaced at once; between two of them the shop is
whole, only not yet free of the words.
"""

from __future__ import annotations

import contextlib
import gzip
import re
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

import msgspec

from shopboard.records import FORMAT, Change, Customer, Job, Put, Record, Refused, ShopState, Step, Table
from shopboard.shop import forget

from . import disk, recovery
from .journal import BadLine, change_in, damaged, line_of, number_in
from .replay import Whole, put, record_of
from .tiny_files import AtomicStorage, MonthFile, month_path, months, read_tiny

#: Stands in the shop's folder from the first step to the last.
PLAN = recovery.ERASING


class Erasing(msgspec.Struct, frozen=True):
    """Whom to erase: their number, who asked for it to be done, the marks that tell them, those of them that are too
    short or shared to be looked for in other people's words, and their jobs."""

    customer: int
    by: str
    marks: tuple[str, ...]
    unsure: tuple[str, ...]
    jobs: tuple[int, ...]


class Erased(msgspec.Struct, frozen=True):
    """What was done: how many records and lines of history were rewritten, which spare files removed; and what a person
    must still look at: files in which something is `left`, and marks too short or shared to be looked for."""

    records: int
    lines: int
    files: tuple[str, ...]
    left: tuple[str, ...]
    unsure: tuple[str, ...]


def unfinished(shop: Path) -> int | None:
    """The number of the customer whose erasing was cut short, None if none was."""
    plan = _kept_plan(shop)
    return plan.customer if plan else None


def _kept_plan(shop: Path) -> Erasing | None:
    try:
        return msgspec.json.decode((shop / PLAN).read_bytes(), type=Erasing)
    except FileNotFoundError:
        return None
    except (msgspec.DecodeError, UnicodeDecodeError):
        return None  # cut short while it was written, before anything else was touched


# -- whom and what ----------------------------------------------------------------------------------------------------


def plan(shop: Path, state: ShopState, by: str, customer: int) -> Erasing:
    """What to erase, from the history and from an erasing cut short; kept on the disk. Raises Refused, OSError."""
    forget.may_forget(state, by, customer)
    before = _kept_plan(shop)
    if before is not None and before.customer != customer:
        raise Refused(f"the erasing of customer {before.customer} was cut short", "finish that one first")
    versions, jobs = _seen(shop / "journal", customer)
    versions.append(state.customers[customer])
    jobs |= {job.id for job in state.closed.values() if job.customer == customer}
    marks = dict.fromkeys([*(before.marks if before else ()), *forget.marks_of(versions)])
    others = [other for other in state.customers.values() if other.id != customer]
    sure, unsure = forget.sure_marks(marks, others)
    jobs |= set(before.jobs if before else ())
    made = Erasing(customer, by, (*sure, *unsure), unsure, tuple(sorted(jobs)))
    disk.replace_file(shop / PLAN, msgspec.json.encode(made))
    disk.reached("erasing planned")
    return made


def _seen(journal: Path, customer: int) -> tuple[list[Customer], set[int]]:
    """Every version of the customer in the history, and all jobs that ever were theirs."""
    mark = re.compile(rb'"customer":%d\b|\["put","customers",%d,' % (customer, customer))
    versions: list[Customer] = []
    jobs: set[int] = set()
    for _, _, lines in _all_lines(journal):
        for line in lines:
            for op in change_in(line).ops if mark.search(line) else ():
                if not isinstance(op, Put):
                    continue
                if op.table is Table.CUSTOMERS and op.id == customer:
                    versions.append(msgspec.convert(op.data, Customer))
                elif op.table is Table.JOBS and op.data.get("customer") == customer:
                    jobs.add(op.id)
    return versions, jobs


def step(state: ShopState, plan: Erasing, db: Path, unfiled: Mapping[int, Whole]) -> Step:
    """The step that puts the records as they stay in place of what they are; none of it if all are so already."""
    eraser = Eraser(plan)
    records: list[Record] = [record for table in Table for record in state.table(table).values()]
    for id in sorted(_closed(state, eraser, db, unfiled) | (set(plan.jobs) & state.closed.keys())):
        whole = state.load_closed(id)
        records += [whole[0], *whole[1]] if whole else []
    puts = [new for record in records if (new := eraser.record(record)) != record]
    return Step(f"customer {plan.customer} {forget.GONE}: words gone, figures kept.", tuple(puts))


def _closed(state: ShopState, eraser: Eraser, db: Path, unfiled: Mapping[int, Whole]) -> set[int]:
    """The closed jobs that hold words to be taken out, also in what was written about somebody else's machine."""
    found: set[int] = set()
    for job, lines in unfiled.values():
        found |= {job.id} if any(eraser.record(one) != one for one in (job, *lines)) else set()
    for month in months(db):
        path = month_path(db, month)
        if eraser.in_bytes(path.read_bytes()):
            file = read_tiny(path, MonthFile)
            found |= {job.id for job in file.jobs.values() if eraser.record(job) != job}
            found |= {line.job for line in file.parts.values() if line.job and eraser.record(line) != line}
    return found & state.closed.keys()


class Eraser:
    """Takes the customer out of records, changes and text."""

    def __init__(self, plan: Erasing) -> None:
        self._plan = plan
        self._jobs = frozenset(plan.jobs)
        self.find = forget.finder(plan.marks)
        sure = [mark for mark in plan.marks if mark not in plan.unsure]
        self.find_others = forget.finder(sure)
        # Within JSON some letters are written as codes
        self._raw = forget.finder([*plan.marks, *(msgspec.json.encode(mark).decode()[1:-1] for mark in plan.marks)])
        numbers = "|".join(map(str, plan.jobs)) or "0"
        self._mark = re.compile(
            rf'"customer":{plan.customer}\b|\["put","customers",{plan.customer},|"(?:subject|job)":(?:{numbers})\b'.encode()
        )

    def in_bytes(self, data: bytes) -> bool:
        """Whether JSON bytes may speak of the customer."""
        if self._mark.search(data):
            return True
        return bool(self._raw and self._raw.search(data.decode("utf-8", "replace")))

    def owns(self, record: Record) -> bool:
        """Whether the record is the customer, or about them."""
        if isinstance(record, Customer):
            return record.id == self._plan.customer
        if getattr(record, "customer", None) == self._plan.customer:
            return True
        return getattr(record, "job", None) in self._jobs or (isinstance(record, Job) and record.id in self._jobs)

    def record(self, record: Any) -> Any:
        """The record as it stays."""
        if self.owns(record):
            return forget.scrubbed(forget.forgotten(record), self.find, own=True)
        return forget.scrubbed(record, self.find_others)

    def change(self, change: Change) -> Change:
        """A change of the history as it stays: same number, time, person and figures."""
        ops: list[Any] = []
        owned = 0
        for op in change.ops:
            record = record_of(op, change.format)
            if record is None:
                ops.append(op)
                continue
            owned += self.owns(record)
            new = self.record(record)
            ops.append(op if new == record and change.format == FORMAT else put(new))
        why = self._why(change, owned)
        return msgspec.structs.replace(change, ops=tuple(ops), why=why, format=FORMAT)

    def _why(self, change: Change, owned: int) -> str:
        """The sentence: gone where the change is about the customer, else only what tells them."""
        if change.subject in self._jobs or owned == len(change.ops) > 0:
            return change.why if forget.GONE in change.why else forget.words_of(change.subject)
        find = self.find if owned else self.find_others
        return find.sub("…", change.why) if find else change.why


# -- the files --------------------------------------------------------------------------------------------------------


def _all_lines(journal: Path) -> Iterator[tuple[Path, bool, list[bytes]]]:
    """Every file of the journal with its whole lines, packed or not; also a packed one that a plain one still hides."""
    for path in sorted(journal.iterdir()):
        if re.fullmatch(r"\d{12}\.jsonl(\.gz)?", path.name):
            packed = path.name.endswith(".gz")
            data = path.read_bytes()
            lines = (gzip.decompress(data) if packed else data).split(b"\n")
            yield path, packed, lines[:-1]


def rewrite_history(journal: Path, plan: Erasing) -> int:
    """Rewrite every line that speaks of the customer (under the lock); how many. Raises ShopUnusable, OSError."""
    eraser, many = Eraser(plan), 0
    for path, packed, lines in _all_lines(journal):
        new = [_rewritten(path, line, eraser) if eraser.in_bytes(line) else line for line in lines]
        changed = sum(one is not other and one != other for one, other in zip(new, lines, strict=True))
        if changed:
            many += changed
            data = b"".join(b"%s\n" % line for line in new)
            disk.replace_file(path, gzip.compress(data, 6, mtime=0) if packed else data)
            disk.reached("history rewritten")
    return many


def _rewritten(path: Path, line: bytes, eraser: Eraser) -> bytes:
    try:
        number_in(line)
        return line_of(eraser.change(change_in(line)))[:-1]
    except BadLine as bad:
        raise damaged(path, f"holds a line that {bad}") from None


def tidy(shop: Path, plan: Erasing) -> tuple[str, ...]:
    """Remove what no record needs: drafts and unfinished lines that may hold their words. Which. Raises OSError."""
    gone: list[str] = []
    raw = Eraser(plan)
    recovery.sweep(shop)
    for spare in shop.glob(f".{PLAN}.*.tmp"):
        spare.unlink()
    for path in sorted([*(shop / "journal").glob("torn-*.bin"), *(shop / "drafts").glob("*")]):
        # A line that was cut off may end in the middle of a name
        if path.name.startswith("torn-") or raw.in_bytes(path.read_bytes()):
            path.unlink()
            disk.sync_folder(path.parent)
            gone.append(f"{path.parent.name}/{path.name}")
    disk.reached("spares removed")
    return tuple(gone)


def again_in_months(db: Path, plan: Erasing) -> None:
    """Closed jobs that a move cut short left in a second month's file too. Raises OSError."""
    eraser = Eraser(plan)
    for month in months(db):
        path = month_path(db, month)
        if not eraser.in_bytes(path.read_bytes()):
            continue
        file = read_tiny(path, MonthFile)
        tables: dict[str, dict[int, Any]] = {
            name: {id: eraser.record(record) for id, record in getattr(file, name).items()}
            for name in file.__struct_fields__
            if name != "meta"
        }
        if any(tables[name] != getattr(file, name) for name in tables):
            AtomicStorage(path).write_signed(tables, file.about)
            disk.reached("month rewritten")


def done(shop: Path) -> None:
    """The last step: nothing tells the customer any more, this file's going included. Raises OSError."""
    with contextlib.suppress(FileNotFoundError):
        (shop / PLAN).unlink()
    disk.sync_folder(shop)
    disk.reached("erasing done")


def left_over(shop: Path, plan: Erasing) -> tuple[str, ...]:
    """Files of the shop in which a mark still stands, for a person to look at: its own texts, lists kept there."""
    eraser = Eraser(plan)
    found = []
    for path in sorted(path for path in shop.rglob("*") if path.is_file() and path.name != PLAN):
        data = path.read_bytes()
        text = (gzip.decompress(data) if path.suffix == ".gz" else data).decode("utf-8", "replace")
        if eraser.find_others and eraser.find_others.search(text):
            found.append(path.relative_to(shop).as_posix())
    return tuple(found)
