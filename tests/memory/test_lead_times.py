"""Lead times: open orders counted, dates that hold as often as they say, and suppliers that get slower."""

from __future__ import annotations

from datetime import timedelta
from statistics import NormalDist

import numpy as np
import pytest
from aids.lives import DAY, day

from shopboard.memory import Order, lead_times, orders_of, slower
from shopboard.memory.lead_times import LEAST_RECEIVED, Wait, Waits, log_rank
from shopboard.records import PartLine, PartState


def _waits(*days: float, open_for: tuple[float, ...] = ()) -> Waits:
    return Waits(group="g", waits=tuple(Wait(d, True) for d in days) + tuple(Wait(d, False) for d in open_for))


def test_the_next_order_is_one_among_those_before() -> None:
    """Of n orders the next is as likely to fall anywhere among them: the 4th of 4 is in by then 4 times in 5."""
    assert _waits(1, 2, 3, 4).days_for(0.8).value == 4
    assert _waits(1, 2, 3, 4).in_by(2) == pytest.approx(2 / 5)
    assert _waits(1, 2, 3).days_for(0.8).value is None, "3 of 3 are only 3 in 4"
    assert _waits(1, 2, 3).days_for(0.8).low == 3
    assert _waits(1, 2, 3).days_for(0.8).said == "cannot be told (3 parts in, 0 open): not before 3 days"


def test_open_orders_count_as_at_least_so_long() -> None:
    closed_only, with_open = _waits(*range(1, 11)), _waits(*range(1, 11), open_for=(9, 9, 9, 9, 9))
    assert closed_only.days_for(0.5).value == pytest.approx(5.5)
    assert with_open.days_for(0.5).value == pytest.approx(8)


def test_an_order_already_waited_for_is_held_against_those_that_took_as_long() -> None:
    waits = _waits(*range(1, 21))
    assert waits.in_by(15, waited=10) == pytest.approx(5 / 11)
    assert waits.in_by(10, waited=10) == 0.0
    assert waits.in_by(10.5, waited=10) == pytest.approx(0.5 / 11)
    assert waits.days_for(0.5, waited=10).value == pytest.approx(15.5)
    assert waits.in_by(25, waited=10) == pytest.approx(10 / 11)
    assert waits.days_for(0.5, waited=20).value is None


def test_nothing_known_is_a_sentence() -> None:
    figure = lead_times([], DAY).of("north", "seal").days_for(0.8)
    assert figure.value is None and figure.said == "cannot be told (no part in, 0 open): not before 0 days"


def _order(supplier: str, lead_class: str, on: float, took: float | None) -> Order:
    return Order(supplier, lead_class, day(on), None if took is None else day(on + took))


def test_a_thin_group_leans_on_the_next_wider_one() -> None:
    orders = [_order("north", "seal", 0, 5)] * (LEAST_RECEIVED - 1)
    orders += [_order("north", "pump", 0, 9)] + [_order("south", "seal", 0, 2)] * LEAST_RECEIVED
    known = lead_times(orders, day(100))
    assert known.of("south", "seal").group == "seal from south"
    assert known.of("north", "seal").group == "all parts from north"
    assert known.of("east", "seal").group == "seal from all suppliers"
    assert known.of("east", "belt").group == "all orders"


def test_orders_are_read_from_part_lines() -> None:
    def line(id: int, ordered: float | None, received: float | None) -> PartLine:
        return PartLine(
            id=id,
            job=1,
            number="n",
            name="n",
            quantity=1,
            state=PartState.ORDERED,
            supplier="north",
            needed_at=DAY,
            ordered_at=None if ordered is None else day(ordered),
            received_at=None if received is None else day(received),
        )

    found = orders_of([line(1, None, None), line(2, 1, 4), line(3, 2, None), line(4, 5, 1)])
    assert [(order.ordered, order.received) for order in found] == [(day(1), day(4)), (day(2), None)]
    known = lead_times(found, day(10) + timedelta(hours=20)).orders["north", ""]
    assert known == (Wait(3, True), Wait(pytest.approx(8 + 20 / 24), False))


@pytest.mark.parametrize(("share", "size"), [(0.5, 12), (0.8, 12), (0.8, 30), (0.9, 40)])
def test_so_many_parts_are_in_by_the_day_said(share: float, size: int) -> None:
    """Orders over two months, open ones counted as such; then one more: in by the day said, within 3 per cent."""
    rng = np.random.default_rng(size)
    held, said = 0, 0
    for _ in range(2500):
        ordered = np.sort(rng.random(size)) * 60
        took = rng.lognormal(np.log(8), 0.6, size)
        orders = [
            Order("n", "", day(o), day(o + t) if o + t <= 60 else None) for o, t in zip(ordered, took, strict=True)
        ]
        figure = lead_times(orders, day(60)).of("n", "").days_for(share)
        if figure.value is not None:
            said += 1
            held += rng.lognormal(np.log(8), 0.6) <= figure.value
    assert said > 2000
    assert abs(held / said - share) <= 0.03


def test_an_open_order_is_in_by_the_day_said_too() -> None:
    """Orders open for 8 days already: the day for them holds as often as it says."""
    rng = np.random.default_rng(5)
    held, said = 0, 0
    for _ in range(2500):
        waits = _waits(*rng.lognormal(np.log(8), 0.6, 40))
        figure = waits.days_for(0.8, waited=8)
        fresh = 0.0
        while fresh <= 8:
            fresh = float(rng.lognormal(np.log(8), 0.6))
        if figure.value is not None:
            said += 1
            held += fresh <= figure.value
    assert abs(held / said - 0.8) <= 0.03


def test_a_supplier_that_gets_slower_is_said() -> None:
    orders = [_order("north", "", d, 4 + d % 3) for d in range(0, 200, 8)]
    orders += [_order("north", "", d, 9 + d % 3) for d in range(300, 400, 8)]
    orders += [_order("south", "", d, 4 + d % 3) for d in range(0, 400, 8)]
    (found,) = slower(orders, day(410))
    assert found.supplier == "north"
    assert found.said == "north is getting slower: 80 % of the parts were in after 6 days, of late after 11 days"


def test_no_supplier_is_called_slower_by_chance_often() -> None:
    """Thirty shops of four steady suppliers: at a rate of a tenth, ten or more would come once in 1,500."""
    flagged = 0
    for seed in range(30):
        rng = np.random.default_rng(seed)
        days = [(s, float(d)) for s in range(4) for d in range(0, 400, 9)]
        orders = [_order(f"s{s}", "", d, float(rng.lognormal(np.log(6), 0.5))) for s, d in days]
        flagged += bool(slower([o for o in orders if o.received and o.received < day(400)], day(400)))
    assert flagged <= 9


def test_log_rank_by_hand() -> None:
    """Four parts, old at 1 and 2 days, new at 3 and 4: O - E and variance counted out day by day."""
    less = 2 / 4 + 2 / 3 + (1 - 1) + (1 - 1)
    variance = 0.5 * 0.5 + (2 / 3) * (1 / 3)
    expected = 1 - NormalDist().cdf(less / variance**0.5)
    old, new = [Wait(1, True), Wait(2, True)], [Wait(3, True), Wait(4, True)]
    assert log_rank(old, new) == pytest.approx(expected)
    assert log_rank(new, old) == pytest.approx(1 - expected)
    assert log_rank([], []) == 1.0
