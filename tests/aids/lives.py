"""Machines and closed jobs in a line each, for what is learnt from them."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

from shopboard.records import ClosedJob, HourReading, Layout, Machine, Stage

DAY = datetime(2026, 1, 1, tzinfo=UTC)


def day(number: float) -> datetime:
    """So many days after the first."""
    return DAY + timedelta(days=number)


def machine(id: int, *readings: tuple[float, float] | tuple[float, float, bool], used: bool = False) -> Machine:
    """A machine read on these days at these hours; a third True marks a new meter."""
    seen = tuple(HourReading(at=day(d), hours=h, new_meter=bool(rest)) for d, h, *rest in readings)
    return Machine(id=id, customer=1, model="m", layout=Layout.SPLIT, readings=seen, first_seen_used=used)


def job(id: int, of: int, on: float, cause: str, hours: float | None = None, **more: object) -> ClosedJob:
    """A closed job of machine `of`, arrived on a day."""
    given = {"customer": 1, "complaint": "", "stage": Stage.COLLECTED, "arrived": day(on), "closed_at": day(on + 1)}
    return ClosedJob(id=id, machine=of, causes=(cause,) if cause else (), hours=hours, **(given | more))
