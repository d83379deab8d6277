"""What is worth doing while it is open: what is offered, what adding it does, and the ways out of a repair."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

import msgspec
import pytest
from aids.quick_shop import BOOK, MODELS, START, QuickShop

from shopboard import shop
from shopboard.records import CataloguePart, ClosedJob, HourReading, ServicePoint, Stage

D = Decimal
#: Behind the floor plate (8 off, 10 on): a joint due every 50 h and one every 2000 h. In the open: a filter.
POINTS = (
    ServicePoint(id="grease-joint", name="joint: grease", normal_hours=50, severe_hours=25, covers=("floor-plate",)),
    ServicePoint(id="seldom", name="seldom", normal_hours=20_000, severe_hours=20_000, covers=("floor-plate",)),
    ServicePoint(id="filter", name="filter", normal_hours=50, severe_hours=50),
)


def opened() -> QuickShop:
    """A job with the charge pump to renew, which needs the floor plate off."""
    quick = QuickShop()
    quick.state.models = {**MODELS, "kestrel-20": msgspec.structs.replace(MODELS["kestrel-20"], service_points=POINTS)}
    quick.state.covers = BOOK.covers
    quick.to(Stage.DIAGNOSED)
    quick.do(shop.evidence.find, 1, "charge-pump-worn", correction="renew-charge-pump", book=BOOK)
    assert quick.job().operations[0].covers == ("floor-plate",)
    return quick


def look(quick: QuickShop) -> shop.while_open.Open:
    return shop.while_open.open_now(quick.state, quick.job(), BOOK, quick.now)


def test_what_the_covers_bring_nearer_and_is_due_is_offered() -> None:
    found = look(opened())
    due = [offer for offer in found.found.offers if offer.extra.used]
    assert found.covers == ("floor-plate",) and [o.extra.work.id for o in due] == ["grease-joint"]
    assert (due[0].adds, due[0].alone, due[0].saves, due[0].extra.hidden_grease) == (5, 23, 18, True)
    assert found.found.offers[0] is due[0], "hidden grease stands first"


def test_a_job_that_opens_nothing_offers_nothing() -> None:
    quick = opened()
    quick.do(shop.evidence.unfind, 1, "charge-pump-worn")
    assert look(quick).covers == () and look(quick).found.offers == ()


def test_what_was_done_lately_is_not_offered_before_it_falls_due() -> None:
    """Done at 500 h; at 1 h a week it is due after 50 weeks, long after the next visit; at 10 h a week before it."""
    for hours, offered in ((501.0, False), (510.0, True)):
        quick = opened()
        quick.do(shop.while_open.add, 1, ("grease-joint",), book=BOOK)
        done = msgspec.structs.replace(quick.job(), operations=tuple(
            msgspec.structs.replace(o, done=True) for o in quick.job().operations), stage=Stage.COLLECTED,
            closed_at=quick.now, left=quick.now)  # fmt: skip
        quick.state.jobs[1] = done
        quick._file(done)
        quick.later(weeks=1)
        machine = quick.state.machines[1]
        quick.state.machines[1] = msgspec.structs.replace(
            machine, readings=(*machine.readings, HourReading(at=quick.now, hours=hours))
        )
        quick.to(Stage.DIAGNOSED, machine=1, hours=hours)
        quick.do(shop.evidence.find, 2, "charge-pump-worn", correction="renew-charge-pump", book=BOOK)
        found = shop.while_open.open_now(quick.state, quick.job(2), BOOK, quick.now)
        assert any(o.extra.work.id == "grease-joint" for o in found.found.offers) is offered, hours


def test_adding_one_adds_its_minutes_and_no_cover() -> None:
    """5 min at 60.00 an hour are 5.00, with 20 % tax 6.00: the plate is off anyhow."""
    quick = opened()
    before = shop.approval.known_cost(quick.state, quick.job())
    step = quick.do(shop.while_open.add, 1, ("grease-joint",), book=BOOK)
    assert step.why == "T-0001, while it is open: joint: grease; adds 6.00 EUR."
    assert shop.approval.known_cost(quick.state, quick.job()) - before == D("6.00")
    quick.do(shop.while_open.drop, 1, "grease-joint")
    assert shop.approval.known_cost(quick.state, quick.job()) == before


def test_adding_past_the_yes_says_so() -> None:
    """A yes to 118.00 and 10 % overrun let 129.80 pass: the estimate of 129.60 does, with 6.00 more it does not."""
    quick = opened()
    quick.do(shop.approval.ask, 1, D(118))
    quick.said_yes(1)
    step = quick.do(shop.while_open.add, 1, ("grease-joint",), book=BOOK)
    assert step.why.endswith("T-0001 comes to 135.60 EUR and the yes was for 118.00 EUR: ask for a new yes.")


@pytest.mark.parametrize(
    ("ids", "why"),
    [
        ((), "nothing is picked"),
        (("renew-charge-pump",), "on T-0001 already"),
        (("tea",), "tea is nothing one could do"),
    ],
)
def test_what_cannot_be_added(ids: tuple[str, ...], why: str) -> None:
    opened().refuses(shop.while_open.add, 1, ids, book=BOOK, why=why)


def test_what_cannot_be_dropped() -> None:
    quick = opened()
    quick.refuses(shop.while_open.drop, 1, "renew-charge-pump", why="cures what was found")
    quick.refuses(shop.while_open.drop, 1, "tea", why="not on T-0001")


# -- ways out ---------------------------------------------------------------------------------------------------------


def test_every_correction_stands_beside_leaving_it() -> None:
    """Renewing the pump is 90 min and the plate 18 at 60.00 an hour: 108.00, with 20 % tax 129.60. Leaving it costs
    nothing here; the machine is worth 2400 mended and 300 as it stands."""
    quick = opened()
    assert shop.ways_out.ways_out(quick.state, quick.job(), BOOK) == ()
    quick.do(shop.terms.worth, 1, D(2400), D(300))
    ways = shop.ways_out.ways_out(quick.state, quick.job(), BOOK)
    told = [(w.way.cost, w.left, w.best) for w in ways]
    assert told[0] == (D("129.60"), D("2270.40"), True) and told[-1] == (D("0.00"), D("300.00"), False)


def test_parts_without_a_price_are_said() -> None:
    quick = opened()
    quick.state.catalogue = {"P": CataloguePart(number="P", name="charge pump kit", price=D(200))}
    quick.do(shop.terms.worth, 1, D(2400))
    quick.do(shop.parts.need, 1, "Q", "odd clip", 1)
    way = shop.ways_out.ways_out(quick.state, quick.job(), BOOK)[0].way
    assert way.note == "without odd clip"


def test_the_next_visit_is_expected_by_the_machines_own() -> None:
    quick = opened()
    assert shop.while_open._next_visit(quick.state, quick.state.machines[1]) == shop.while_open.NEXT_VISIT
    for number, days in ((11, 0), (12, 100), (13, 300)):
        quick.state.closed[number] = _closed(number, days)
    assert shop.while_open._next_visit(quick.state, quick.state.machines[1]) == 150


def _closed(number: int, days: int) -> ClosedJob:
    at = START + timedelta(days=days)
    return ClosedJob(id=number, customer=1, machine=1, complaint="x", stage=Stage.COLLECTED, arrived=at, closed_at=at)
