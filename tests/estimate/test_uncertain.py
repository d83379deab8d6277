"""Low, expected and high while the cause is not known."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

import pytest

from shopboard.estimate import Cover, Graph, MoneyRules, Possible, Work, cost_range, lay_out
from shopboard.estimate.steps import Todo

D = Decimal
FLOOR = Graph({"floor": Cover("floor", 6, 8), "deck": Cover("deck", 10, 10)})


def _minutes(todo: Sequence[Todo], parts: Decimal) -> Decimal:
    """A price of one a minute, so that sums can be seen."""
    return D(str(lay_out(FLOOR, todo).billed)) + parts


def _possible(name: str, probability: float, minutes: float, covers: tuple[str, ...] = (), parts: int = 0) -> Possible:
    return Possible(name, probability, (Work(name, name, minutes, covers),), D(parts))


def test_the_range_by_hand() -> None:
    link = _possible("link", 0.4, 20)
    belt = _possible("belt", 0.3, 40)
    pump = _possible("pump", 0.2, 240, ("floor",), 300)
    check = Work("look", "look", 5, ("floor",))
    found = cost_range([belt, pump, link], [check], _minutes, MoneyRules())
    # the look's floor plate (14) and 5 min are in every sum; the pump shares it: 39, 59 and 559
    assert [one.amount for one in found.possibles] == [39, 59, 559]
    assert (found.low, found.high) == (39, 559)
    assert found.expected == D("161.22")  # (0.4·39 + 0.3·59 + 0.2·559) / 0.9
    assert (found.holds, found.unknown) == (pytest.approx(0.9), pytest.approx(0.1))
    assert not found.firm and found.without_parts == ()


def test_rare_ends_are_left_out_and_said() -> None:
    found = cost_range(
        [_possible("cheap", 0.05, 1), _possible("usual", 0.85, 100), _possible("dear", 0.08, 900)], [], _minutes,
        MoneyRules(),
    )  # fmt: skip
    assert (found.low, found.high) == (100, 100)
    assert found.holds == pytest.approx(0.85) and found.unknown == pytest.approx(0.02) and not found.firm


def test_a_known_cause_is_firm() -> None:
    found = cost_range([_possible("pump", 1.0, 240, ("floor",))], [], _minutes, MoneyRules())
    assert found.low == found.expected == found.high == 254
    assert found.firm and found.holds == 1 and found.unknown == 0


def test_parts_without_a_price_are_named() -> None:
    found = cost_range([Possible("pump", 1.0, (Work("p", "p", 60),))], [], _minutes, MoneyRules())
    assert found.without_parts == ("pump",) and not found.firm


def test_a_pair_shares_its_covers() -> None:
    works = (Work("a", "a", 10, ("deck",)), Work("b", "b", 10, ("deck",)))
    found = cost_range([Possible("a and b", 1.0, works, D(0))], [], _minutes, MoneyRules())
    assert found.expected == 40


@pytest.mark.parametrize("chances", [(), (0.0,), (0.7, 0.7), (-0.1, 0.5), (float("nan"),)])
def test_probabilities_that_cannot_be_are_refused(chances: tuple[float, ...]) -> None:
    with pytest.raises(ValueError, match="probabilities"):
        cost_range([_possible(str(n), p, 1) for n, p in enumerate(chances)], [], _minutes, MoneyRules())
