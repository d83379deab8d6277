"""Ways to a cover and what it needs, as the trouble book writes them: read, checked, and taken by a job's labour."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest

from shopboard.estimate import graph_of, job_plan
from shopboard.records import Job, Layout, Machine, Operation
from shopboard.shop.evidence import operation_of
from shopboard.trouble import Book, BookErrors, load_book

REST = """
[symptom.slow]
name = "slow"
otherwise = "rarely"
[check.look]
name = "look"
how = "Look."
where = "yard"
minutes = 1
[check.look.outcomes]
right = { name = "right", normal = true }
wrong = { name = "wrong", otherwise = "rarely" }
[cause.worn]
name = "rod worn"
weight = "common"
correction = ["renew-rod", "grease-deck"]
shows = { slow = "usually" }
answers.look = { wrong = "often" }
[correction.renew-rod]
name = "renew the rod"
minutes = 20
covers = ["rod-guard"]
needs = ["lift"]
[correction.grease-deck]
name = "grease under the deck"
minutes = 5
covers = ["deck"]
[cover.deck]
name = "deck"
off = 10
on = 15
needs = ["hoist"]
[cover.floor]
name = "floor"
off = 6
on = 8
"""
GUARD = '[cover.rod-guard]\nname = "rod guard"\noff = 1\non = 1\nways = [["floor"], ["deck"]]\n'


@pytest.fixture(scope="module")
def book() -> Book:
    return load_book({"one.toml": REST + GUARD})


def job(*operations: tuple[str, float, tuple[str, ...]]) -> Job:
    now = datetime(2026, 1, 5, 9, tzinfo=UTC)
    work = tuple(Operation(id=id, name=id, minutes=minutes, covers=covers) for id, minutes, covers in operations)
    return Job(id=1, customer=1, machine=1, arrived=now, since=now, complaint="x", operations=work)


def test_labour_takes_the_way_that_is_cheapest_for_the_whole_job(book: Book) -> None:
    """Alone by the floor: 20 + 2 + 14 = 36. With the deck off anyhow (5 + 25) the guard costs 2 more: 20 + 2 + 30."""
    graph = graph_of(book.covers, "in-line")
    rod = ("renew-rod", 20.0, ("rod-guard",))
    assert job_plan(job(rod), graph).billed == 36 and job_plan(job(rod), graph).covers == ("floor", "rod-guard")
    both = job_plan(job(rod, ("grease-deck", 5.0, ("deck",))), graph)
    assert both.billed == 52 and both.covers == ("deck", "rod-guard")


def test_the_bay_must_offer_what_the_covers_need_by_their_usual_way(book: Book) -> None:
    machine = Machine(id=1, customer=1, model="m", layout=Layout.IN_LINE)
    rod, deck = (operation_of(id, machine, book) for id in ("renew-rod", "grease-deck"))
    assert rod is not None and rod.needs == ("lift",)
    assert deck is not None and deck.needs == ("hoist",)


@pytest.mark.parametrize(
    ("guard", "why"),
    [
        (GUARD.replace('["deck"]', '["dek"]'), "ways names cover dek, which the book does not have"),
        (GUARD.replace('[["floor"], ["deck"]]', '["floor"]'), "ways must be a list of lists"),
        (GUARD.replace('["deck"]', "[]"), "ways must be a list of lists"),
        (GUARD.replace('["deck"]', '["rod-guard"]'), "in a circle: rod-guard under rod-guard"),
        (
            GUARD
            + 'layouts = ["split"]\n'
            + '[cover.x]\nname = "x"\noff = 1\non = 1\nlayouts = ["gear"]\nunder = ["rod-guard"]\n',
            "lies under rod-guard, which is not on gear",
        ),
    ],
)
def test_wrong_ways_are_told(guard: str, why: str) -> None:
    with pytest.raises(BookErrors) as told:
        load_book({"one.toml": REST + guard})
    assert any(why in error.why for error in told.value.errors), [error.why for error in told.value.errors]


def test_the_shipped_covers_have_one_way_each() -> None:
    from aids.shipped_book import shipped_book

    assert all(not cover.ways for cover in shipped_book().covers.values())
