"""The estimate of a job on record."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime
from decimal import Decimal

import pytest
from aids.shipped_book import shipped_book

from shopboard.estimate import graph_of, job_estimate, job_plan, job_range
from shopboard.records import Job, Operation, PartLine, PartState, Payer, Settings
from shopboard.trouble import Evidence, rank

D = Decimal
NOW = datetime(2026, 11, 24, 9, 0, tzinfo=UTC)
SHOP = Settings(name="Test", currency="CAD", tax_percent=D(13), labour_rate=D(112))
GRAPH = graph_of(shipped_book().covers, "in-line")


def _job(*operations: Operation, **fields: object) -> Job:
    return Job(id=1, customer=1, machine=1, arrived=NOW, complaint="slow", since=NOW, operations=operations, **fields)


def _operation(id: str, minutes: float, *covers: str) -> Operation:
    return Operation(id=id, name=id, minutes=minutes, covers=covers)


def _part(id: int, price: str | None, quantity: int = 1, **fields: object) -> PartLine:
    return PartLine(
        id=id, job=1, number=f"N{id}", name=f"part {id}", quantity=quantity, needed_at=NOW,
        price=None if price is None else D(price), **fields,
    )  # fmt: skip


def test_operations_and_parts_of_a_job() -> None:
    job = _job(_operation("set-neutral", 40, "floor-plate"), diagnostic_fee=D("65.00"))
    made = job_estimate(
        SHOP, job, [_part(1, "19.90", 2), _part(2, None), _part(3, "9", state=PartState.RETURNED)], GRAPH
    )
    assert [(line.text, line.amount) for line in made.lines] == [
        ("set-neutral", D("74.67")),
        ("floor plate: off and on", D("26.13")),
        ("part 1 (N1)", D("39.80")),
    ]
    assert made.unpriced == ("part 2",)
    assert made.total == D("158.88")  # 140.60 and 13 % of it, 18.278


def test_a_core_is_charged_where_one_is_owed() -> None:
    owed = _part(1, "300", core=True, core_charge=D(50))
    back = _part(2, "300", core=False, core_charge=D(50))
    assert [line.kind for line in job_estimate(SHOP, _job(), [owed, back], GRAPH).lines] == ["part", "core", "part"]


def test_the_sum_stays_when_the_repair_takes_the_covers_off() -> None:
    work = _operation("set-neutral", 40, "floor-plate")
    before, amid = _job(work), _job(work, covers_off=("floor-plate",))
    assert job_estimate(SHOP, before, [], GRAPH).total == job_estimate(SHOP, amid, [], GRAPH).total


def test_a_cover_off_that_no_work_needs_is_only_put_back() -> None:
    plan = job_plan(_job(_operation("set-neutral", 40, "floor-plate"), covers_off=("hood",)), GRAPH)
    assert plan.billed == 54 + 3


def test_a_road_test_between_works_and_the_same_work_twice() -> None:
    twice = _operation("set-neutral", 40, "floor-plate")
    plan = job_plan(_job(twice, _operation("road-test", 15), twice), GRAPH)
    assert plan.billed == 54 + 15 + 54


def test_covers_the_machine_has_not_are_left_out() -> None:
    assert job_plan(_job(_operation("x", 10, "seat-plate", "no such cover")), GRAPH).billed == 10


def test_warranty_pays_where_the_job_says_so() -> None:
    [bill] = job_estimate(SHOP, _job(_operation("x", 60), payer=Payer.WARRANTY), [], GRAPH).bills
    assert (bill.payer, bill.net) == (Payer.WARRANTY, D(112))


@dataclass(frozen=True)
class Ranked:
    id: str
    name: str
    probability: float


@dataclass(frozen=True)
class Pair:
    ids: tuple[str, str]
    name: str
    probability: float


@dataclass(frozen=True)
class Action:
    id: str
    name: str
    own: float
    needs: tuple[str, ...] = ()

    def minutes_on(self, layout: str) -> float:
        return self.own

    def covers_on(self, layout: str) -> tuple[str, ...]:
        return self.needs


def test_the_range_of_a_job_by_hand() -> None:
    """Tax 13 %, 112 an hour. Look 10 min under the floor, 14 min; the link 20 more there, the pump 100 and parts."""
    found = job_range(
        SHOP,
        _job(),
        GRAPH,
        "in-line",
        causes=[Ranked("link", "link", 0.5), Ranked("pump", "pump", 0.3), Ranked("odd", "no correction", 0.05)],
        pairs=[Pair(("link", "pump"), "both", 0.1)],
        corrections={"link": Action("c1", "set", 20, ("floor-plate",)), "pump": Action("c2", "rebuild", 100)},
        checks=[Action("look", "look", 10, ("floor-plate",))],
        parts={"link": D(0), "pump": D("200.00")},
    )
    # lines: look 18.67, floor 26.13, link 37.33, pump 186.67
    assert [(one.possible.name, one.amount) for one in found.possibles] == [
        ("link", D("92.81")),  # 82.13 · 1.13
        ("pump", D("487.56")),  # 431.47 · 1.13
        ("both", D("529.74")),  # 468.80 · 1.13
    ]
    assert (found.low, found.high) == (D("92.81"), D("529.74"))
    assert found.unknown == pytest.approx(0.1)


def test_the_range_over_the_shipped_book() -> None:
    """Every probability of the ranking is in the range or said to be unknown."""
    book = shipped_book()
    ranking = rank(book, "in-line", Evidence(symptoms=("weak-when-hot",)))
    usual = {id: book.corrections[cause.correction[0]] for id, cause in book.causes.items()}
    found = job_range(
        SHOP, _job(), GRAPH, "in-line", causes=ranking.causes, pairs=ranking.pairs, corrections=usual, checks=[]
    )
    priced = sum(one.possible.probability for one in found.possibles)
    assert priced + found.unknown == pytest.approx(1)
    assert priced == pytest.approx(
        sum(one.probability for one in ranking.causes) + sum(one.probability for one in ranking.pairs)
    )
    assert found.low < found.expected < found.high and 0.5 < found.holds < 1
