"""The parts list of a job, or of all that is not here yet: late lines first."""

from __future__ import annotations

from datetime import date

from shopboard.records import PartLine, PartState, Table, tag
from shopboard.records.codes import code_for

from .blocks import Block, Column, Facts, Heading, Sheet, Words, table
from .desk import Desk

_AWAITED = (PartState.NEEDED, PartState.ORDERED, PartState.PARTLY_RECEIVED, PartState.BACK_ORDERED)
_COLUMNS = (
    Column("part", 5),
    Column("number", 4),
    Column("here", 1.6, right=True),
    Column("state", 3.2),
    Column("from", 3.4),
    Column("code", 2.2),
)


def parts_list(desk: Desk, number: int | None) -> Sheet:
    """Every line of a job's parts, or (None) every line that is still to come, by the job it holds up.

    The code of a line is what its label or the receiving desk can be scanned with.
    """
    if number is None:
        return _all(desk)
    job, lines = desk.job(number)
    blocks: list[Block] = [Facts(desk.facts(job)), Heading("Parts")]
    blocks.append(_table(desk, lines) if lines else Words("no parts on this job"))
    return Sheet(f"Parts {job.tag}", desk.state.settings.name, desk.foot(job), tuple(blocks))


def _all(desk: Desk) -> Sheet:
    today = desk.now.astimezone(desk.zone).date()
    found = (line for line in desk.state.parts.values() if _awaited(desk, line))
    awaited = sorted(found, key=lambda line: _urgency(line, today))
    blocks: list[Block] = []
    for title, lines in (
        ("Late", [line for line in awaited if _late(line, today)]),
        ("To come", [line for line in awaited if line.state is not PartState.NEEDED and not _late(line, today)]),
        ("Needed, not ordered", [line for line in awaited if line.state is PartState.NEEDED]),
    ):
        if lines:
            blocks += [Heading(title), _table(desk, lines, jobs=True)]
    if not blocks:
        blocks.append(Words("nothing is on order and nothing needed"))
    foot = f"printed {desk.time(desk.now)}"
    return Sheet("Parts to come", desk.state.settings.name, foot, tuple(blocks))


def _awaited(desk: Desk, line: PartLine) -> bool:
    """Whether the line is still to come; what was never ordered for a job that is over is not."""
    job = None if line.job is None else desk.state.jobs.get(line.job)
    over = line.job is not None and (job is None or job.stage.closed)
    return line.state in _AWAITED and not (over and line.state is PartState.NEEDED)


def _urgency(line: PartLine, today: date) -> tuple[bool, date, int]:
    return line.expected is None, line.expected or today, line.id


def _late(line: PartLine, today: date) -> bool:
    return line.state is not PartState.NEEDED and line.expected is not None and line.expected < today


def _table(desk: Desk, lines: tuple[PartLine, ...] | list[PartLine], *, jobs: bool = False) -> Block:
    rows = []
    for line in lines:
        whose = (f"{tag(line.job)}: " if line.job else "bin: ") if jobs else ""
        price = f", {line.price} each" if line.price is not None else ""
        core = ", core owed" if line.core else ""
        due = f", expected {desk.day(line.expected)}" if line.expected and line.state in _AWAITED else ""
        rows.append(
            (
                f"{whose}{line.name}{price}{core}",
                line.number,
                f"{line.received} of {line.quantity}",
                f"{line.state}{due}",
                desk.supplier(line.supplier),
                code_for(Table.PARTS, line.id),
            )
        )
    return table(_COLUMNS, *rows)
