"""The best set of extras, by trying and by cut, and how the offers are told."""

from __future__ import annotations

import random
from fractions import Fraction
from itertools import chain, combinations

import pytest

from shopboard.estimate.covers import Cover, Graph
from shopboard.estimate.open_covers import Extra, best_set, by_cut, by_trying, used_up, while_open
from shopboard.estimate.steps import Work, lay_out, marginal


def _case(rng: random.Random, most: int) -> tuple[list[Fraction], list[list[str]], dict[str, Fraction]]:
    covers = {f"c{n}": Fraction(rng.randint(0, 30)) for n in range(rng.randint(1, 7))}
    count = rng.randint(1, most)
    needs = [rng.sample(list(covers), rng.randint(0, min(3, len(covers)))) for _ in range(count)]
    return [Fraction(rng.randint(-10, 25), rng.choice((1, 2, 3))) for _ in range(count)], needs, covers


def _value(chosen: set[int], worth: list[Fraction], needs: list[list[str]], cost: dict[str, Fraction]) -> Fraction:
    covers = set(chain.from_iterable(needs[n] for n in chosen))
    return sum((worth[n] for n in chosen), Fraction(0)) - sum((cost[c] for c in covers), Fraction(0))


def test_the_cut_finds_what_trying_finds() -> None:
    rng, together = random.Random(1), 0
    for _ in range(400):
        worth, needs, cost = _case(rng, 8)
        best = by_trying(worth, needs, cost)
        assert by_cut(worth, needs, cost) == best
        alone = {n for n in range(len(worth)) if _value({n}, worth, needs, cost) > 0}
        together += not best <= alone
    assert together > 10  # sets in which extras carry each other did occur


def test_no_set_is_better_and_none_as_good_is_smaller() -> None:
    rng = random.Random(2)
    for _ in range(60):
        worth, needs, cost = _case(rng, 6)
        best = best_set(worth, needs, cost)
        value = _value(best, worth, needs, cost)
        every = chain.from_iterable(combinations(range(len(worth)), n) for n in range(len(worth) + 1))
        values = {one: _value(set(one), worth, needs, cost) for one in every}
        assert value == max(values.values())
        assert len(best) == min(len(one) for one, found in values.items() if found == value)


def test_many_extras_go_by_the_cut() -> None:
    """Twenty extras in ten pairs, each pair behind one cover that neither pays for alone, half of them too dear."""
    worth, needs, cost = [Fraction(6)] * 20, [[f"c{n // 2}"] for n in range(20)], {}
    for n in range(10):
        cost[f"c{n}"] = Fraction(10 if n % 2 else 13)
    assert best_set(worth, needs, cost) == {n for n in range(20) if n // 2 % 2}


FLOOR = Graph(
    {
        "floor": Cover("floor plate", 6, 8),
        "shield": Cover("shaft shield", 5, 6, ("floor",)),
        "hood": Cover("hood", 3, 3),
    }
)
FRONT = Extra(Work("front", "front joint: grease", 3, ("floor",)), 0.9, hidden_grease=True)
REAR = Extra(Work("rear", "rear joint: grease", 4, ("shield",)), 0.6, hidden_grease=True)
SPLINE = Extra(Work("spline", "spline: grease", 4, ("shield",)), 0.6, hidden_grease=True)
FINS = Extra(Work("fins", "fins: clean", 10, ("hood",)), 2.0)


def test_two_extras_carry_a_cover_that_neither_does_alone() -> None:
    """Worth of each behind the shield: 0.6 of the 29 minutes alone less 4 = 13.4 > 11; made dearer, it takes two."""
    dear = Graph({**FLOOR.covers, "shield": Cover("shaft shield", 12, 13, ("floor",))})
    one = while_open(dear, [REAR], ["floor"])  # 0.6 · 43 − 4 = 21.8 < 25
    both = while_open(dear, [REAR, SPLINE], ["floor"])  # 43.6 > 25
    assert one.bundle == () and one.adds == 0
    assert [offer.extra for offer in both.bundle] == [REAR, SPLINE]
    assert both.adds == 4 + 4 + 25 and both.alone == 2 * 43


def test_minutes_added_and_saved_are_those_of_the_labour() -> None:
    job = Work("job", "job", 60, ("floor",))
    found = while_open(FLOOR, [FRONT, REAR, FINS], lay_out(FLOOR, [job]).covers)
    for offer in found.offers:
        assert offer.adds == marginal(FLOOR, offer.extra.work, [job])
        assert offer.alone == lay_out(FLOOR, [offer.extra.work]).billed
        assert offer.saves == offer.alone - offer.adds
    front = next(offer for offer in found.offers if offer.extra is FRONT)
    assert (front.adds, front.alone, front.saves, front.further_covers) == (3, 17, 14, ())


def test_hidden_grease_comes_first_by_risk() -> None:
    found = while_open(FLOOR, [FINS, REAR, FRONT], ["floor"])
    # risk: 0.6 · 25 = 15 minutes of covers before 0.9 · 14 = 12.6; the fins are no grease point
    assert [offer.extra for offer in found.offers] == [REAR, FRONT, FINS]
    assert [offer.risk for offer in found.offers] == pytest.approx([15, 12.6, 12])


def test_what_is_long_from_due_is_not_worth_doing_again() -> None:
    new = Extra(Work("front", "front joint: grease", 3, ("floor",)), 0.1)
    assert while_open(FLOOR, [new], ["floor"]).bundle == ()
    assert while_open(FLOOR, [FRONT], ["floor"]).bundle != ()


def test_an_overdue_point_counts_no_more_than_due() -> None:
    fins = while_open(FLOOR, [FINS], []).offers[0]
    assert (fins.adds, fins.in_bundle) == (16, False)  # due, but with no cover shared nothing is saved


def test_the_way_in_is_the_cheapest_with_the_jobs_covers_off() -> None:
    graph = Graph({"deck": Cover("deck", 5, 5), "floor": Cover("floor", 6, 8)}, {"rod": (("deck",), ("floor",))})
    found = while_open(graph, [Extra(Work("rod", "rod", 2, ("rod",)), 1.0)], ["floor"]).offers[0]
    assert (found.adds, found.alone) == (2, 12)


def test_shares_of_an_interval() -> None:
    assert used_up(50, 50) == 1.0
    assert used_up(10, 50, months_since=24, months=12) == 2.0
    for bad in ((10, 0), (-1, 50)):
        with pytest.raises(ValueError, match="interval"):
            used_up(*bad)
    with pytest.raises(ValueError, match="used share"):
        while_open(FLOOR, [Extra(FINS.work, float("nan"))], [])
    with pytest.raises(KeyError):
        while_open(FLOOR, [Extra(Work("x", "x", 1, ("deck",)), 1.0)], [])
