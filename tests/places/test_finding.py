"""Finding a job by whatever one has: tag, part of a name, digits of a phone, serial, a word of the complaint."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from shopboard.places.finding import find, job_of_record
from shopboard.records import (
    ClosedJob,
    Customer,
    Job,
    Layout,
    Machine,
    Model,
    PartLine,
    Settings,
    ShopState,
    Stage,
    Table,
)

NOW = datetime(2026, 11, 24, 10, tzinfo=UTC)


def shop() -> ShopState:
    customers = {
        1: Customer(id=1, name="Kestrel Vineyard", phone="0664 / 555-0142"),
        2: Customer(id=2, name="Lake Golf", phone="555 99"),
    }
    machines = {
        n: Machine(id=n, customer=1 + (n == 3), model="h", serial=f"SN-40{n}", layout=Layout.IN_LINE) for n in (1, 2, 3)
    }
    jobs = {
        7: Job(id=7, customer=1, machine=1, arrived=NOW, since=NOW, complaint="slow up the hill"),
        12: Job(id=12, customer=2, machine=3, arrived=NOW, since=NOW, complaint="clunks at 7 miles"),
    }
    closed = {
        3: ClosedJob(
            id=3, customer=1, machine=2, complaint="oil on the floor", stage=Stage.COLLECTED,
            arrived=NOW - timedelta(days=40), closed_at=NOW - timedelta(days=30),
        )
    }  # fmt: skip
    parts = {5: PartLine(id=5, job=12, number="n", name="seal", quantity=1, needed_at=NOW)}
    return ShopState(
        settings=Settings(name="s"),
        models={"h": Model(id="h", name="Heron 22", layout=Layout.IN_LINE)},
        customers=customers,
        machines=machines,
        jobs=jobs,
        closed=closed,
        parts=parts,
    )


@pytest.mark.parametrize(
    ("typed", "jobs"),
    [
        ("", [12, 7]),
        ("   ", [12, 7]),
        ("kestrel", [7, 3]),
        ("VINE kes", [7, 3]),
        ("golf clunk", [12]),
        ("golf hill", []),
        ("5550142", [7, 3]),
        ("0664555", [7, 3]),
        ("sn-403", [12]),
        ("heron", [12, 7, 3]),
        ("oil floor", [3]),
        ("T-0012", [12]),
        ("t 3", [3, 12]),  # the tag itself first, then serial 403
        ("3", [3, 12]),
        ("12", [12]),
        ("[", []),
        ("nothing like it", []),
    ],
)
def test_every_word_typed_must_occur_open_jobs_first_newest_first(typed: str, jobs: list[int]) -> None:
    assert [hit.job for hit in find(shop(), typed)] == jobs


def test_a_hit_says_whether_it_is_open_and_whose_it_is() -> None:
    hits = find(shop(), "kestrel")
    assert [hit.open for hit in hits] == [True, False]
    assert "Kestrel Vineyard" in hits[0].words and "SN-401" in hits[0].words and "slow up the hill" in hits[0].words


def test_a_list_has_its_end() -> None:
    state = shop()
    for id in range(1000, 2000):
        state.closed[id] = ClosedJob(
            id=id, customer=1, machine=1, complaint="same", stage=Stage.COLLECTED, arrived=NOW, closed_at=NOW
        )
    assert len(find(state, "kestrel")) == 200


@pytest.mark.parametrize(
    ("table", "number", "job"),
    [
        (Table.PARTS, 5, 12),
        (Table.PARTS, 6, None),
        (Table.MACHINES, 1, 7),
        (Table.MACHINES, 2, None),  # it is not here
        (Table.CUSTOMERS, 2, 12),
        (Table.CUSTOMERS, 9, None),
    ],
)
def test_a_scanned_record_leads_to_its_open_job(table: Table, number: int, job: int | None) -> None:
    assert job_of_record(shop(), table, number) == job


def test_a_customer_with_two_jobs_is_not_guessed_at() -> None:
    state = shop()
    state.jobs[13] = Job(id=13, customer=1, machine=2, arrived=NOW, since=NOW, complaint="c")
    assert job_of_record(state, Table.CUSTOMERS, 1) is None
