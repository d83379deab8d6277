"""The shop as one terminal knows it at one moment: what the rules read and the screens show."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from .base import Moment, Record, Table
from .jobs import Job, Stage
from .machines import Machine, Model
from .parts import PartLine
from .people import Customer
from .settings import Closure, Settings
from .stock import CataloguePart, Return, Stock


class ClosedJob(Record, kw_only=True):
    """Summary of a closed job: enough for lists, comeback warnings and failure figures without its month's file."""

    id: int
    customer: int
    machine: int
    complaint: str
    symptoms: tuple[str, ...] = ()
    causes: tuple[str, ...] = ()
    stage: Stage
    hours: float | None = None
    arrived: Moment
    closed_at: Moment
    minutes: float = 0.0
    promise: Moment | None = None
    comeback_of: int | None = None


def _no_closed(_: int) -> tuple[Job, tuple[PartLine, ...]] | None:
    return None


def _nothing() -> None:
    return None


@dataclass
class ShopState:
    """The records by table and id, as of change `seq`. Only the store changes it; everyone else reads.

    `closed` holds the summaries of closed jobs, `load_closed` brings one whole with its part lines. `catalogue` is
    parts.toml by number. `covers` are the covers of the shop's trouble book by id, as labour needs them; whoever reads
    the book sets them, and without them labour counts no access. A store may leave `closed` out until it is asked for:
    `read_closed` then sets it.
    """

    settings: Settings
    models: Mapping[str, Model]
    seq: int = 0
    customers: dict[int, Customer] = field(default_factory=dict)
    machines: dict[int, Machine] = field(default_factory=dict)
    jobs: dict[int, Job] = field(default_factory=dict)
    parts: dict[int, PartLine] = field(default_factory=dict)
    closed: dict[int, ClosedJob] = field(default_factory=dict)
    closures: dict[int, Closure] = field(default_factory=dict)
    stock: dict[int, Stock] = field(default_factory=dict)
    returns: dict[int, Return] = field(default_factory=dict)
    next_ids: dict[Table, int] = field(default_factory=dict)
    load_closed: Callable[[int], tuple[Job, tuple[PartLine, ...]] | None] = _no_closed
    read_closed: Callable[[], None] = _nothing
    catalogue: Mapping[str, CataloguePart] = field(default_factory=dict)
    covers: Mapping[str, Any] = field(default_factory=dict)

    if not TYPE_CHECKING:  # for a type checker all names are known

        def __getattr__(self, name: str) -> Any:
            """`closed` where it was left out."""
            if name == "closed" and (read := self.__dict__.get("read_closed")) is not None:
                read()
                if name in self.__dict__:
                    return self.__dict__[name]
            raise AttributeError(f"{type(self).__name__} has no attribute {name}")

    def table(self, table: Table) -> Mapping[int, Record]:
        """The records of one table by id."""
        found: Mapping[int, Record] = getattr(self, table.value)
        return found

    def next_id(self, table: Table) -> int:
        """The id a new record of this table gets; never one that was given before."""
        return self.next_ids.get(table, 1)

    def parts_of(self, job: int) -> Iterator[PartLine]:
        """The part lines of an open job, oldest first."""
        return (line for line in self.parts.values() if line.job == job)

    def lies_here(self, line: PartLine) -> bool:
        """Whether all pieces of a job's line lie in the bins: kept for it, or for nobody."""
        lying = sum(entry.quantity for entry in self.stock.values() if entry.number == line.number)
        kept = sum(other.reserved for other in self.parts.values() if other.number == line.number)
        return line.job is not None and line.reserved + max(0, lying - kept) >= line.quantity

    def down(self, bay: str, at: Moment) -> Closure | None:
        """Until when and why a bay is down at a moment, if it is."""
        return next((c for c in self.closures.values() if c.bay == bay and c.start <= at < c.until), None)

    def away(self, person: str, at: Moment) -> Closure | None:
        """Until when and why a person is away at a moment, if they are."""
        return next((c for c in self.closures.values() if c.person == person and c.start <= at < c.until), None)

    def job_in_bay(self, bay: str) -> Job | None:
        """The job whose machine stands in the bay, if any."""
        return next((job for job in self.jobs.values() if job.bay == bay), None)
