"""The book as the shop's jobs make it: read from the store as it is, undone with it, and what the rankings go by."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path
from types import SimpleNamespace
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from aids.boards import shipped
from aids.desk import Desk
from aids.mended import mended
from aids.shops import Clock, make_shop

from shopboard.places import learned_book
from shopboard.places.knowledge import LESSONS, Material
from shopboard.places.learned_book import BookShelf
from shopboard.shop import evidence
from shopboard.shop.intake import Intake, take_in
from shopboard.trouble import Learned

CAUSE = "cable-stretched"
BOOK = shipped()


@pytest.fixture
def desk(tmp_path: Path) -> Iterator[Desk]:
    clock = Clock()
    made = Desk(make_shop(tmp_path / "shop", clock), clock)
    yield made
    made.store.close()


def learned(desk: Desk, layout: str = "in-line", family: str = "") -> Learned:
    """What the shop's jobs teach at this moment, drawn as beside the board."""
    store = desk.store
    closed = {job.id: (job, lines) for job, lines in store.closed_jobs()}
    material = Material(store.state, BOOK, desk.clock(), ZoneInfo("Europe/Berlin"), closed, frozenset(closed))
    return learned_book.lesson(material)[layout, family]


def counts(desk: Desk) -> int:
    """How many jobs on in-line machines teach."""
    return learned(desk).jobs[1]


def test_it_is_among_what_is_worked_out_beside_the_board() -> None:
    assert LESSONS[learned_book.LESSON] == f"{learned_book.__name__}:{learned_book.lesson.__name__}"


def test_a_job_teaches_once_its_comeback_days_are_over(desk: Desk) -> None:
    mended(desk, BOOK, CAUSE, ("pedal-travel", "slack"))
    assert counts(desk) == 0
    desk.clock.pass_(days=91)
    said = learned(desk).of(CAUSE)
    assert (said[""].seen, said[""].of) == (1, 1)
    assert (said["pedal-travel slack"].seen, said["pedal-travel slack"].of) == (1, 1)
    assert said[""].now > said[""].book
    assert learned(desk, family="in-line-1").jobs == (0, 1, 1)
    assert learned(desk, "split").jobs == (1, 0, 0)


@pytest.mark.parametrize("at_rest", [False, True], ids=["in the journal", "at rest"])
def test_undoing_the_closing_takes_the_job_out_again(desk: Desk, at_rest: bool) -> None:
    mended(desk, BOOK, CAUSE)
    mended(desk, BOOK, "pump-worn")
    closing = desk.store.state.seq
    desk.clock.pass_(days=91)
    if at_rest:
        desk.store.checkpoint()
    before = learned(desk)
    undone = desk.store.undo("ana", closing)
    assert learned(desk).jobs == (0, 1, 0) and not learned(desk).of("pump-worn")[""].seen
    if at_rest:
        desk.store.checkpoint()
        assert counts(desk) == 1
    desk.store.undo("ana", undone.seq)
    assert learned(desk).said == before.said


def test_a_comeback_recorded_later_takes_the_job_out_and_undoing_that_puts_it_back(desk: Desk) -> None:
    job = mended(desk, BOOK, CAUSE)
    machine = desk.store.state.closed[job].machine
    desk.clock.pass_(days=30)
    desk.do(take_in, Intake(customer=1, machine=machine, complaint="weak again", hours=510.0), book=BOOK)
    back = desk.store.state.seq
    desk.clock.pass_(days=91)
    assert counts(desk) == 0
    desk.store.undo("ana", back)
    assert counts(desk) == 1


def test_a_comeback_that_proves_to_be_another_trouble_leaves_it_in(desk: Desk) -> None:
    machine = desk.store.state.closed[mended(desk, BOOK, CAUSE)].machine
    desk.clock.pass_(days=30)
    mended(desk, BOOK, "pump-worn", machine=machine, hours=510.0)
    desk.clock.pass_(days=91)
    assert counts(desk) == 2
    mended(desk, BOOK, "oil-low", machine=desk.store.state.closed[mended(desk, BOOK, "oil-low")].machine, hours=500.0)
    desk.clock.pass_(days=91)
    assert counts(desk) == 3  # the first oil did not hold, the second did


def test_it_is_drawn_again_only_when_something_changed_it(desk: Desk) -> None:
    job = mended(desk, BOOK, CAUSE)
    machine = desk.store.state.closed[job].machine
    desk.clock.pass_(days=91)
    closed = {job.id: (job, lines) for job, lines in desk.store.closed_jobs()}
    material = Material(desk.store.state, BOOK, desk.clock(), ZoneInfo("Europe/Berlin"), closed, frozenset(closed))
    first = learned_book.lesson(material)
    material.fresh = frozenset()
    desk.take_in("Lake Golf", "weak", "weak-drive")
    assert learned_book.lesson(material) is first
    material.now += timedelta(days=1)
    assert learned_book.lesson(material) is not first  # comeback days pass
    today = learned_book.lesson(material)
    assert learned_book.lesson(material) is today
    material.fresh = frozenset({job})
    assert learned_book.lesson(material) is not today
    material.fresh = frozenset()
    before = learned_book.lesson(material)
    desk.clock.pass_(days=-80)
    desk.do(take_in, Intake(customer=1, machine=machine, complaint="weak again", hours=510.0), book=BOOK)
    assert before["in-line", ""].jobs == (0, 1, 0)
    assert learned_book.lesson(material)["in-line", ""].jobs == (0, 0, 0)


# -- the shelf --------------------------------------------------------------------------------------------------------


def knowing(books: dict[Any, Learned], factors: dict[str, float] | None = None, seq: int = 1) -> Any:
    """As much of a Knowledge as the shelf asks for."""
    return SimpleNamespace(seq=seq, lesson=lambda name: books, weights_for=lambda hours, renewed: factors or {})


def test_before_anything_is_reckoned_it_is_the_book_itself(desk: Desk) -> None:
    machine = desk.store.state.closed[mended(desk, BOOK, CAUSE)].machine
    shelf, state = BookShelf(BOOK), desk.store.state
    assert shelf.for_machine(state, None, state.machines[machine]) is BOOK
    assert shelf.for_model(state, None, "split") is BOOK
    assert shelf.factors(state, None, state.machines[machine]) == {}


def test_the_family_comes_before_the_layout_and_the_book_is_made_once(desk: Desk) -> None:
    machine = desk.store.state.machines[desk.store.state.closed[mended(desk, BOOK, CAUSE)].machine]
    desk.clock.pass_(days=91)
    books = {("in-line", family): learned(desk, family=family) for family in ("", "in-line-1")}
    shelf, state, known = BookShelf(BOOK), desk.store.state, knowing(books)
    assert shelf.for_machine(state, known, machine) is books["in-line", "in-line-1"].book
    assert shelf.for_model(state, known, "in-line") is books["in-line", ""].book
    assert shelf.for_model(state, known, "in-line", "in-line-1") is books["in-line", "in-line-1"].book
    assert shelf.for_model(state, known, "split", "split-1") is BOOK
    aged = knowing(books, {CAUSE: 3.0}, seq=2)
    once = shelf.for_machine(state, aged, machine)
    assert once is shelf.for_machine(state, aged, machine) and once is not books["in-line", ""].book


def test_age_gives_the_shape_and_leaves_the_level(desk: Desk) -> None:
    """Three times as often at this age: three times the odds against every other cause, no cause likelier in all."""
    machine = desk.store.state.machines[desk.store.state.closed[mended(desk, BOOK, CAUSE)].machine]
    desk.clock.pass_(days=91)
    plain = learned(desk)
    shelf, state = BookShelf(BOOK), desk.store.state
    aged = shelf.for_machine(state, knowing({("in-line", ""): plain}, {CAUSE: 3.0}), machine)
    here = [id for id, cause in BOOK.causes.items() if "in-line" in cause.layouts]
    assert sum(aged.causes[id].weight for id in here) == pytest.approx(
        sum(plain.book.causes[id].weight for id in here), rel=1e-12
    )
    for id in here:
        times = aged.causes[id].weight / plain.book.causes[id].weight
        other = aged.causes["pump-worn"].weight / plain.book.causes["pump-worn"].weight
        assert times / other == pytest.approx(3.0 if id == CAUSE else 1.0)


def test_a_ranking_goes_by_it(desk: Desk) -> None:
    for _ in range(6):
        mended(desk, BOOK, CAUSE, ("pedal-travel", "short"))
    desk.clock.pass_(days=91)
    job = desk.take_in("Lake Golf", "weak", "weak-drive")
    state = desk.store.state
    machine = state.machines[state.jobs[job].machine]
    shelf = BookShelf(BOOK)
    now = shelf.for_machine(state, knowing({("in-line", ""): learned(desk)}), machine)

    def chance(book: Any) -> float:
        return next(c.probability for c in evidence.ranking(state, state.jobs[job], book).causes if c.id == CAUSE)

    assert chance(now) > 2 * chance(BOOK)
    desk.do(evidence.answer, job, "oil-level", "right", book=now)
    stored = {likely.cause: likely.probability for likely in state.jobs[job].likely}
    assert stored[CAUSE] == pytest.approx(chance(now), abs=1e-12)
