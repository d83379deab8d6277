"""Finding a job by whatever one has: tag, part of a name, digits of a phone, serial, a word of the complaint."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopboard.places.finding import Finder, Hit, hit_of, job_of_record
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
    assert [hit.id for hit in Finder(shop()).find(typed).hits] == jobs


def test_a_hit_says_whether_it_is_open() -> None:
    hits = Finder(shop()).find("kestrel").hits
    assert [(hit.id, hit.open) for hit in hits] == [(7, True), (3, False)]
    assert hit_of(hits[0].key)[:2] == hits[0][:2]


def test_a_customer_without_a_machine_here_is_found_after_open_jobs() -> None:
    state = shop()
    state.customers[5] = Customer(id=5, name="Kestrel Mill", phone="0664 / 555-0199")
    assert [hit[:2] for hit in Finder(state).find("kestrel").hits] == [
        (Table.JOBS, 7),
        (Table.CUSTOMERS, 5),
        (Table.JOBS, 3),
    ]
    assert Finder(state).find("555 0199").hits == (Hit(Table.CUSTOMERS, 5),)


def test_a_part_and_a_serial_without_its_dash_lead_to_their_job() -> None:
    state = shop()
    state.parts[6] = PartLine(id=6, job=7, number="WM-2101", name="wheel motor kit", quantity=1, needed_at=NOW)
    finder = Finder(state)
    assert [hit.id for hit in finder.find("wm-2101").hits] == [7]
    assert [hit.id for hit in finder.find("motor kit").hits] == [7]
    state.machines[1] = Machine(id=1, customer=1, model="h", serial="SN-40123", layout=Layout.IN_LINE)
    state.seq += 1
    assert [hit.id for hit in finder.find("sn40123").hits] == [7]


def test_a_slip_finds_what_is_most_like_it_and_says_so() -> None:
    found = Finder(shop()).find("kestral vinyard")
    assert [hit.id for hit in found.hits] == [7, 3] and found.instead == "kestrel vineyard"
    assert Finder(shop()).find("kestrel").instead == ""


def test_what_changes_is_found_at_once_and_what_is_gone_no_more() -> None:
    state = shop()
    finder = Finder(state)
    while not finder.grow(1):
        pass
    assert [hit.id for hit in finder.find("oil").hits] == [3]
    state.closed[4] = msgspec.structs.replace(state.closed[3], id=4, complaint="oil again")
    state.closed[3] = msgspec.structs.replace(state.closed[3], complaint="erased")
    state.seq += 1
    assert [hit.id for hit in finder.find("oil").hits] == [4]


def test_a_list_has_its_end() -> None:
    state = shop()
    for id in range(1000, 2000):
        state.closed[id] = ClosedJob(
            id=id, customer=1, machine=1, complaint="same", stage=Stage.COLLECTED, arrived=NOW, closed_at=NOW
        )
    assert len(Finder(state).find("kestrel").hits) == 200


WORDS = st.sampled_from(["pump", "hill", "oil", "golf", "0142", "sn", "tarrow"])


@given(st.lists(st.lists(WORDS, min_size=1, max_size=4), max_size=12), st.lists(WORDS, min_size=1, max_size=3))
def test_finding_in_one_text_equals_looking_at_every_job(complaints: list[list[str]], typed: list[str]) -> None:
    state = ShopState(settings=Settings(name="s"), models={})
    for id, said in enumerate(complaints, 1000):
        state.closed[id] = ClosedJob(
            id=id, customer=0, machine=0, complaint=" ".join(said), stage=Stage.COLLECTED, arrived=NOW, closed_at=NOW
        )
    expected = [id for id, job in reversed(state.closed.items()) if all(w in f"t-{id} {job.complaint}" for w in typed)]
    found = Finder(state).find(" ".join(typed))
    assert found.instead or [hit.id for hit in found.hits] == expected


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
