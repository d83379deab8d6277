"""The estimate of a job on record, and the range of sums while its cause is not known."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from decimal import Decimal
from typing import Protocol

from shopboard.records import Job, Operation, PartLine, PartState, Settings

from .covers import Graph
from .money import MoneyRules
from .sheet import Charges, Estimate, PartWanted, make_estimate
from .steps import Plan, RoadTest, Todo, Work, lay_out
from .uncertain import CostRange, Possible, cost_range

#: An operation with this id is a road test between works: every cover goes on for it.
ROAD_TEST = "road-test"


class RankedCause(Protocol):
    """A likely cause, as far as its price needs it."""

    @property
    def id(self) -> str:
        """Its id in the trouble book."""

    @property
    def name(self) -> str:
        """What people call it."""

    @property
    def probability(self) -> float:
        """How likely it is (0 to 1)."""


class RankedPair(Protocol):
    """Two causes at once."""

    @property
    def ids(self) -> tuple[str, str]:
        """Their ids."""

    @property
    def name(self) -> str:
        """What people call them."""

    @property
    def probability(self) -> float:
        """How likely both are (0 to 1)."""


class CheckAhead(Protocol):
    """A check to be made before the cause is known; `minutes` are its own on one layout."""

    @property
    def id(self) -> str:
        """Its id in the trouble book."""

    @property
    def name(self) -> str:
        """What people call it."""

    def minutes_on(self, layout: str) -> float:
        """Minutes of its own work, covers not counted."""

    def covers_on(self, layout: str) -> tuple[str, ...]:
        """Covers that must be off for it."""


def rules_of(settings: Settings) -> MoneyRules:
    """How this shop reckons money."""
    return MoneyRules(settings.currency, settings.decimals, settings.tax_percent, settings.prices_with_tax)


def charges_of(settings: Settings, job: Job, *, paid: Decimal = Decimal(0)) -> Charges:
    """What this shop charges on a job; the diagnostic fee is the one agreed at its intake."""
    return Charges(
        labour_rate=settings.labour_rate,
        supplies_percent=settings.supplies_percent,
        supplies_most=settings.supplies_most,
        diagnostic_fee=job.diagnostic_fee,
        fee_credited=settings.fee_credited,
        deposit_percent=settings.deposit_percent,
        paid=paid,
    )


def todo_of(operations: Iterable[Operation], graph: Graph) -> tuple[Todo, ...]:
    """Operations as work to lay out, in their order; covers the machine does not have are left out. An operation that
    stands there twice is done twice, and gets an id of its own."""
    found: list[Todo] = []
    known = graph.covers.keys() | graph.ways.keys()
    for operation in operations:
        count = sum(one.id.partition("#")[0] == operation.id for one in found)
        id = f"{operation.id}#{count + 1}" if count else operation.id
        if operation.id == ROAD_TEST:
            found.append(RoadTest(id, operation.name, operation.minutes))
        else:
            covers = tuple(cover for cover in operation.covers if cover in known)
            found.append(Work(id, operation.name, operation.minutes, covers))
    return tuple(found)


def job_plan(job: Job, graph: Graph) -> Plan:
    """The whole work of a job, done or not, each cover once off and on. A cover that came off while the cause was
    looked for counts with the work that needs it; one that nothing needs is only put back."""
    todo = todo_of(job.operations, graph)
    needed = set(lay_out(graph, todo).covers)
    stray = [cover for cover in job.covers_off if cover in graph.covers and cover not in needed]
    return lay_out(graph, todo, already_off=stray)


def parts_of(lines: Iterable[PartLine]) -> tuple[PartWanted, ...]:
    """The parts a job pays for: every line that did not go back."""
    return tuple(
        PartWanted(line.name, line.number, line.quantity, line.price, line.core_charge if line.core else None)
        for line in lines
        if line.state is not PartState.RETURNED
    )


def job_estimate(
    settings: Settings, job: Job, lines: Iterable[PartLine], graph: Graph, *, paid: Decimal = Decimal(0)
) -> Estimate:
    """The estimate of a job from its operations and part lines."""
    charges = charges_of(settings, job, paid=paid)
    return make_estimate(job_plan(job, graph), parts_of(lines), charges, rules_of(settings), payer=job.payer)


def job_range(
    settings: Settings,
    job: Job,
    graph: Graph,
    layout: str,
    *,
    causes: Sequence[RankedCause],
    pairs: Sequence[RankedPair],
    corrections: Mapping[str, CheckAhead],
    checks: Sequence[CheckAhead],
    parts: Mapping[str, Decimal] | None = None,
) -> CostRange:
    """The range of sums for a job whose cause is not known, tax with it.

    `corrections` gives for a cause's id what is usually done about it, `checks` the checks that come first, `parts`
    what a cause's parts cost where that is known. Work already on the job is part of every sum. Raises ValueError where
    no cause has a correction.
    """
    rules, charges = rules_of(settings), charges_of(settings, job)
    known = parts or {}

    def possible(name: str, ids: Sequence[str], probability: float) -> Possible:
        work = {corrections[id].id: _work(corrections[id], layout, graph) for id in ids}
        sums = [known[id] for id in ids if id in known]
        whole = sum(sums, Decimal(0)) if len(sums) == len(ids) else None
        return Possible(name, probability, tuple(work.values()), whole)

    def price(todo: Sequence[Todo], spent: Decimal) -> Decimal:
        wanted = [PartWanted("parts", price=spent)] if spent else []
        return make_estimate(lay_out(graph, todo), wanted, charges, rules, payer=job.payer).total

    singles = [possible(one.name, (one.id,), one.probability) for one in causes if one.id in corrections]
    doubles = [possible(two.name, two.ids, two.probability) for two in pairs if set(two.ids) <= corrections.keys()]
    first = [*todo_of(job.operations, graph)]
    first += [_work(check, layout, graph) for check in checks if check.id not in {one.id for one in first}]
    return cost_range([*singles, *doubles], first, price, rules)


def _work(entry: CheckAhead, layout: str, graph: Graph) -> Work:
    covers = tuple(cover for cover in entry.covers_on(layout) if cover in graph.covers or cover in graph.ways)
    return Work(entry.id, entry.name, entry.minutes_on(layout), covers)
