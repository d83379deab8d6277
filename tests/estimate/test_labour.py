"""Covers are counted once, in an order that works."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import chain, combinations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopboard.estimate.labour import access_minutes, closure, labour, reachable


@dataclass(frozen=True)
class Cover:
    off: float
    on: float
    under: tuple[str, ...] = ()


COVERS = {
    "seat": Cover(1, 2),
    "plate": Cover(8, 10, ("seat",)),
    "shield": Cover(4, 4, ("plate",)),
    "wheel": Cover(6, 9),
}


def test_a_cover_brings_those_above_it_and_each_counts_once() -> None:
    assert closure(["shield", "plate"], {k: c.under for k, c in COVERS.items()}) == ("seat", "plate", "shield")
    assert access_minutes(["shield", "plate"], COVERS) == 1 + 2 + 8 + 10 + 4 + 4


def test_what_is_off_already_costs_nothing() -> None:
    assert access_minutes(["shield"], COVERS, {"seat", "plate"}) == 8
    assert access_minutes(["shield"], COVERS, set(COVERS)) == 0


def test_covers_in_a_circle_are_told() -> None:
    with pytest.raises(ValueError, match="a under b under a"):
        closure(["a"], {"a": ["b"], "b": ["a"]})


def test_an_unknown_cover_is_an_error() -> None:
    with pytest.raises(KeyError):
        access_minutes(["hood"], COVERS)


def test_two_operations_behind_one_plate_pay_for_it_once() -> None:
    done = labour([(30, ["plate"]), (5, ["shield"]), (10, [])], COVERS)
    assert (done.own, done.access, done.total) == (45, 29, 74)
    assert done.saved == 21  # the second would have paid for seat and plate again
    assert done.covers == ("seat", "plate", "shield")


def test_what_open_covers_uncover() -> None:
    assert reachable({"seat", "plate"}, ["plate"], COVERS)
    assert not reachable({"plate"}, ["plate"], COVERS)  # the seat still lies on it


@st.composite
def stacks(draw: st.DrawFn) -> dict[str, Cover]:
    """Covers of which each may lie under earlier ones: never a circle."""
    made: dict[str, Cover] = {}
    for number in range(draw(st.integers(1, 7))):
        under = tuple(draw(st.sets(st.sampled_from(sorted(made)), max_size=3))) if made else ()
        made[f"c{number}"] = Cover(draw(st.integers(0, 30)), draw(st.integers(0, 30)), under)
    return made


@given(stacks(), st.data())
def test_the_closure_is_the_smallest_set_that_holds_what_lies_above(
    covers: dict[str, Cover], data: st.DataObject
) -> None:
    needed = data.draw(st.sets(st.sampled_from(sorted(covers))))
    under = {k: c.under for k, c in covers.items()}
    order = closure(needed, under)
    for place, cover in enumerate(order):
        assert set(under[cover]) <= set(order[:place])
    sets = map(set, chain.from_iterable(combinations(covers, n) for n in range(len(covers) + 1)))
    fit = [s for s in sets if needed <= s and all(set(under[c]) <= s for c in s)]
    assert set(order) == min(fit, key=len)


@given(stacks(), st.data())
def test_together_never_costs_more_than_one_by_one(covers: dict[str, Cover], data: st.DataObject) -> None:
    names = st.lists(st.sampled_from(sorted(covers)), max_size=3)
    operations = data.draw(st.lists(st.tuples(st.integers(0, 60), names), max_size=4))
    together = labour(operations, covers)
    one_by_one = sum(labour([operation], covers).total for operation in operations)
    assert together.saved >= 0
    assert together.total == pytest.approx(one_by_one - together.saved)
