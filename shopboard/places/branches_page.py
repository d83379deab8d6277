"""The owner's minute over all branches: late and at risk, parts another branch has, what fails early anywhere."""

from __future__ import annotations

import contextlib
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

import msgspec

from shopboard import memory
from shopboard.records import ClosedJob, Job, Machine, Model, PartState, ShopState, Stage, tag
from shopboard.shop import stock
from shopboard.store import Address, ShopUnusable, read_book
from shopboard.trouble import Book

from . import floor_lines
from .floor_lines import Floor
from .job_words import machine_words, spare_words
from .lines import BLANK, Line, cell, line, wrapped
from .office_lines import late_because

#: Branches' own numbers start over in each: pooled, they are kept apart by this much.
_APART = 10_000_000
#: A line of parts that is still to come.
_WANTED = frozenset({PartState.NEEDED, PartState.ORDERED, PartState.BACK_ORDERED, PartState.PARTLY_RECEIVED})
_MOST_EARLY = 12


@dataclass(frozen=True)
class BranchLook:
    """One branch at one moment: its floor, what is late and what has no day to spare; `why_not` where it could not be
    read."""

    name: str
    floor: Floor | None
    late: tuple[Job, ...] = ()
    at_risk: tuple[Job, ...] = ()
    why_not: str = ""


@dataclass(frozen=True)
class Elsewhere:
    """`missing` pieces of part `number` that job `job` of a branch waits for, and which branches have how many free."""

    branch: str
    job: int
    number: str
    name: str
    missing: int
    at: tuple[tuple[str, int], ...]


@dataclass(frozen=True)
class BranchesLook:
    """All branches of a database at one moment."""

    at: datetime
    branches: tuple[BranchLook, ...]
    elsewhere: tuple[Elsewhere, ...]
    early: tuple[memory.Early, ...]


def look(address: Address, now: datetime) -> BranchesLook:
    """Every branch the login may see. Raises ShopUnusable where there is none; a branch that cannot be read is told
    of and left out."""
    from shopboard.store.chain_files import each_branch

    looks, states = [], {}
    book: Book | None = None
    for one, store in each_branch(address):
        if isinstance(store, ShopUnusable):
            looks.append(BranchLook(one.branch, None, why_not=str(store)))
            continue
        with contextlib.closing(store):
            try:
                book = read_book(one)
            except ShopUnusable as error:
                looks.append(BranchLook(one.branch, None, why_not=str(error)))
                continue
            states[one.branch] = store.state
            looks.append(_look(one.branch, floor_lines.look(store.state, book, now, _zone(store.state))))
    return BranchesLook(now, tuple(looks), tuple(_elsewhere(states)), _early(states, book) if book else ())


def _zone(state: ShopState) -> ZoneInfo:
    return ZoneInfo(state.settings.zone)


def _look(name: str, floor: Floor) -> BranchLook:
    late = floor_lines.late_jobs(floor)
    known = {job.id for job in late}
    tight = [
        job
        for job in floor.jobs
        if job.id not in known
        and not job.stage.closed
        and job.stage is not Stage.COLLECT
        and job.promise is not None
        and (floor.ahead[job.id].spare == 0 or floor.ahead[job.id].parts_unknown)
    ]
    return BranchLook(name, floor, tuple(late), tuple(sorted(tight, key=lambda job: (str(job.promise), job.id))))


def _elsewhere(states: dict[str, ShopState]) -> Iterator[Elsewhere]:
    """Lines of parts a branch waits for, that lie free in the bins of another."""
    for name, state in states.items():
        for wanted in state.parts.values():
            if wanted.job is None or wanted.state not in _WANTED or not wanted.missing or wanted.reserved:
                continue
            at = tuple(
                (other, free)
                for other, there in states.items()
                if other != name and (free := stock.free(there, wanted.number))
            )
            if at:
                yield Elsewhere(name, wanted.job, wanted.number, wanted.name, wanted.missing, at)


def _early(states: dict[str, ShopState], book: Book) -> tuple[memory.Early, ...]:
    """What fails early, judged on the closed jobs of all branches together. A model counts as one where branches call
    it by the same id."""
    machines: list[Machine] = []
    closed: list[ClosedJob] = []
    models: dict[str, Model] = {}
    for number, state in enumerate(states.values()):
        apart = number * _APART
        models |= state.models
        machines += [msgspec.structs.replace(one, id=one.id + apart) for one in state.machines.values()]
        closed += [
            msgspec.structs.replace(job, id=job.id + apart, machine=job.machine + apart)
            for job in state.closed.values()
        ]
    names = {id: cause.name for id, cause in book.causes.items()} | {id: model.name for id, model in models.items()}
    layouts = {id: cause.layouts for id, cause in book.causes.items()}
    return memory.record(memory.histories(machines, closed), layouts, names).flagged(most=_MOST_EARLY)


# -- words ----------------------------------------------------------------------------------------------------------


def branches_lines(found: BranchesLook, width: int) -> list[Line]:
    """One row a branch, then late and tight jobs, parts that lie elsewhere, and what fails early."""
    rows = [_row(("branch", "open", "late", "at risk", "to call"), width, "strong")]
    for one in found.branches:
        if one.floor is None:
            rows.append(line(None, cell(one.name, 20), (cell(one.why_not, max(10, width - 20)), "late")))
        else:
            calls = len(floor_lines.calls_to_make(one.floor))
            counts = (len(list(one.floor.jobs)), len(one.late), len(one.at_risk), calls)
            rows.append(_row((one.name, *map(str, counts)), width, ""))
    rows += [BLANK, line(None, ("late, or cannot be on time", "strong")), *_jobs(found, width, late=True)]
    rows += [BLANK, line(None, ("at risk: no day to spare, or a part without a date", "strong"))]
    rows += [*_jobs(found, width, late=False), BLANK, line(None, ("parts that lie free in another branch", "strong"))]
    for part in found.elsewhere:
        where = ", ".join(f"{many} at {name}" for name, many in part.at)
        words = f"waits for {part.missing} × {part.name} ({part.number}): {where}"
        rows.append(line(None, cell(part.branch, 16), cell(tag(part.job), 8), cell(words, max(10, width - 24))))
    rows += [] if found.elsewhere else [line(None, ("none", "soft"))]
    rows += [BLANK, line(None, ("failing early, all branches taken together", "strong"))]
    for early in found.early:
        rows += wrapped(f"{early.word}: {early.model}: {early.said}", width)
    return rows if found.early else [*rows, line(None, ("nothing that could not be chance", "soft"))]


def builder(address: Address, now: datetime) -> Callable[[int], list[Line]]:
    """The page over all branches, drawn at any width. Raises ValueError, in one line, where they cannot be seen."""
    try:
        found = look(address, now)
    except ShopUnusable as error:
        raise ValueError(str(error)) from None
    return lambda width: branches_lines(found, width)


def _row(words: tuple[str, ...], width: int, role: str) -> Line:
    first, *counts = words
    text = cell(first, max(16, min(40, width - 10 * len(counts)))) + "".join(cell(word, 10, ">") for word in counts)
    return line(None, (text, "strong" if role == "strong" else ""))


def _jobs(found: BranchesLook, width: int, *, late: bool) -> list[Line]:
    rows = []
    for one in found.branches:
        for job in (one.late if late else one.at_risk) if one.floor else ():
            assert one.floor is not None
            words, role = spare_words(one.floor.ahead[job.id])
            rows.append(
                line(
                    None,
                    cell(one.name, 16),
                    cell(job.tag, 8),
                    cell(machine_words(one.floor.state, job), 28) + " ",
                    late_because(one.floor, job).cell(max(8, width - 63)) + " ",
                    (cell(words, 9, ">"), role),
                )
            )
    return rows or [line(None, ("none", "soft"))]


def branches_data(found: BranchesLook) -> dict[str, Any]:
    """What `branches --json` prints. Moments are ISO 8601 in UTC.

    - `at`: the moment of the look
    - `branches`: one for each branch, with `branch` (its name), `shop` (what it calls itself, null where it cannot be
      read), `seq` (its last change), `open`, `late`, `at_risk` (lists of tags) and `why_not` ("" where it was read)
    - `elsewhere`: one for each line of parts that lies free in another branch, with `branch`, `job` (tag), `number`,
      `name`, `missing` and `at` (a list of `branch` and `free`)
    - `early`: what fails early over all branches, with `component`, `model`, `word`, `failures`, `expected`,
      `machines` and `said`
    """
    return {
        "at": found.at,
        "branches": [
            {
                "branch": one.name,
                "shop": one.floor.state.settings.name if one.floor else None,
                "seq": one.floor.state.seq if one.floor else None,
                "open": [job.tag for job in one.floor.jobs] if one.floor else [],
                "late": [job.tag for job in one.late],
                "at_risk": [job.tag for job in one.at_risk],
                "why_not": one.why_not,
            }
            for one in found.branches
        ],
        "elsewhere": [
            {
                "branch": part.branch,
                "job": tag(part.job),
                "number": part.number,
                "name": part.name,
                "missing": part.missing,
                "at": [{"branch": name, "free": many} for name, many in part.at],
            }
            for part in found.elsewhere
        ],
        "early": [
            {
                "component": one.component,
                "model": one.model,
                "word": one.word,
                "failures": one.failures,
                "expected": one.expected,
                "machines": one.machines,
                "said": one.said,
            }
            for one in found.early
        ],
    }
