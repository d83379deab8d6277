"""The next check: what it costs, what it saves, what is never offered, and when to repair instead."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from aids.random_book import random_book
from aids.small_book import TEXTS, small_book

from shopboard.trouble import Evidence, NextCheck, advise, load_book, next_checks, rank
from shopboard.trouble.decision import decide
from shopboard.trouble.lookahead import Lookahead
from shopboard.trouble.network import network
from shopboard.trouble.next_check import outcome_chances
from shopboard.trouble.work import work

BOOK = small_book()
WEAK = Evidence(("weak-drive",))
HOT = Evidence(("weak-drive",), (("hot-or-cold", "hot"), ("oil-level", "right")))


def _offered(evidence: Evidence, layout: str = "in-line", **how: object) -> dict[str, NextCheck]:
    return {check.check: check for check in next_checks(BOOK, layout, evidence, limit=99, **how)}  # type: ignore[arg-type]


THREE = """
[symptom.s]
name = "s"
otherwise = "almost never"
""" + "".join(
    f"""
[cause.k{n}]
name = "k{n}"
weight = "rare"
correction = ["r{n}"]
shows = {{ s = "usually" }}
[correction.r{n}]
name = "r{n}"
minutes = {minutes}
"""
    for n, minutes in ((1, 10), (2, 4), (3, 1))
)


def test_repairs_go_by_probability_over_cost() -> None:
    """p .5 .3 .2 and c 10 4 1: best 3-2-1 costs 9.2, worst 1-2-3 costs 12.2 (rule of Kadane & Simon; constructed)."""
    p, c = {1: 0.5, 2: 0.3, 3: 0.2}, {1: 10.0, 2: 4.0, 3: 1.0}
    orders = {
        order: sum(c[k] * (1 - sum(p[j] for j in order[:n])) for n, k in enumerate(order))
        for order in itertools.permutations(p)
    }
    assert orders[3, 2, 1] == pytest.approx(9.2) == min(orders.values())
    assert orders[1, 2, 3] == pytest.approx(12.2) == max(orders.values())
    net = network(load_book({"three.toml": THREE}), "gear")
    chance = np.array([0.0, 0.5, 0.3, 0.2, 0.0, 0.0, 0.0])
    look = Lookahead(net, work(net), chance, {}, work(net).flags(()), None)
    assert look.repair_cost(chance[look.ids][None], look.off[None])[0] == pytest.approx(9.2)
    made = decide(look)
    assert net.causes[int(look.repairs[made.repairs.argmin()])] == "k3"
    assert made.best == pytest.approx(9.2)


def test_minutes_count_covers_not_yet_off_and_the_way() -> None:
    assert _offered(HOT)["charge-pressure"].minutes == 15 + 18
    assert _offered(HOT)["charge-pressure"].covers == ("floor-plate",)
    off = _offered(HOT, covers_off={"floor-plate"})["charge-pressure"]
    assert (off.minutes, off.covers) == (15, ())
    assert _offered(HOT, at="bay")["charge-pressure"].minutes == 15 + 18
    assert _offered(HOT, at="yard")["charge-pressure"].minutes == 15 + 18 + 10
    assert off.saves_minutes > _offered(HOT)["charge-pressure"].saves_minutes


@pytest.mark.parametrize(("layout", "minutes"), [("in-line", 2), ("split", 4)])
def test_minutes_are_those_of_the_layout(layout: str, minutes: float) -> None:
    costs = work(network(BOOK, layout))
    assert costs.check_costs(costs.flags(()), None)[costs.checks.index("bypass-lever")] == minutes


def test_the_customer_is_asked_while_here() -> None:
    assert next_checks(BOOK, "in-line", WEAK, at="counter")[0].where == "counter"
    assert _offered(WEAK, at="counter")["hot-or-cold"].minutes == 1
    assert _offered(WEAK, at="bay")["hot-or-cold"].minutes == 9  # a call


def test_what_the_unit_lacks_or_the_shop_does_not_own_is_never_offered() -> None:
    assert "case-drain" in _offered(HOT, covers_off={"floor-plate"})
    assert "case-drain" not in _offered(HOT, covers_off={"floor-plate"}, lacks=("case drain",))
    assert "case-drain" not in _offered(HOT, covers_off={"floor-plate"}, instruments=("pressure gauge",))
    assert "charge-pressure" in _offered(HOT, instruments=("pressure gauge",))
    assert "charge-pressure" not in _offered(HOT, lacks=("test port",))
    assert "case-drain" not in _offered(HOT, "split")
    with pytest.raises(ValueError, match="roof"):
        _offered(HOT, at="roof")


def test_what_was_answered_is_not_asked_again() -> None:
    told = Evidence(("weak-drive",), (("oil-level", "unsure"), ("pedal-travel", "full")))
    assert not {"oil-level", "pedal-travel"} & set(_offered(told))


def test_a_symptom_said_is_not_asked_in_other_words() -> None:
    addition = '[check.hot-or-cold.outcomes]\nhot = { name = "hot", otherwise = "seldom", same_as = "creeps" }\n'
    made = small_book({"ours.toml": addition})
    both = Evidence(("weak-drive", "creeps"))
    assert "hot-or-cold" in {c.check for c in next_checks(made, "in-line", WEAK, limit=99)}
    assert "hot-or-cold" not in {c.check for c in next_checks(made, "in-line", both, limit=99)}


def test_cautions_are_texts_and_the_best_comes_first() -> None:
    offered = next_checks(BOOK, "in-line", HOT, limit=99)
    assert [c.saves_minutes for c in offered] == sorted((c.saves_minutes for c in offered), reverse=True)
    assert all(c.saves_minutes > 0 for c in offered)
    gauge = next(c for c in offered if c.check == "charge-pressure")
    assert gauge.cautions == (BOOK.cautions["oil-injection"].text,)
    assert gauge.tool == "pressure gauge" and gauge.how and gauge.why == f"saves about {gauge.saves_minutes:.0f} min"


def test_says_when_repairing_now_is_the_better_bet() -> None:
    sure = Evidence(("weak-drive",), (("oil-level", "right"), ("bypass-lever", "open"), ("hot-or-cold", "same")))
    advice = advise(BOOK, "in-line", sure)
    assert advice.repair_now and advice.repair is not None
    assert (advice.repair.cause, advice.repair.correction) == ("bypass-open", "shut-bypass")
    assert advice.why.startswith("repair now: shut the bypass")
    assert 0.5 < advice.repair.probability < 1
    first = advise(BOOK, "in-line", HOT)
    assert not first.repair_now and first.why.startswith(f"check first: {first.checks[0].name}")


def test_says_when_nothing_in_the_book_is_worth_its_time() -> None:
    dear = TEXTS["work.toml"].replace("minutes = 75", "minutes = 9999").replace("minutes = 60", "minutes = 9999")
    book = load_book({**TEXTS, "work.toml": dear})
    seen = Evidence((), (("joint-play", "none"), ("shaft-runout", "true")))
    advice = advise(book, "gear", seen)
    assert advice.repair is None and advice.repair_now and "hand it" in advice.why


def test_chances_of_outcomes_are_those_of_the_ranking() -> None:
    """What will be seen, averaged, is what is believed: Σ P(outcome)·P(cause | outcome) = P(cause)."""
    for check in ("hot-or-cold", "charge-pressure", "pedal-travel"):
        chances = outcome_chances(BOOK, "in-line", WEAK, check)
        assert sum(chances.values()) == pytest.approx(1)
        mean = 0.0
        for outcome, chance in chances.items():
            after = rank(BOOK, "in-line", Evidence(WEAK.symptoms, ((check, outcome),)))
            mean += chance * next(c.probability for c in after.causes if c.id == "piston-wear")
        before = next(c.probability for c in rank(BOOK, "in-line", WEAK).causes if c.id == "piston-wear")
        assert mean == pytest.approx(before, abs=1e-12)


def test_a_check_behind_the_same_cold_oil_tells_less_the_second_time() -> None:
    first = outcome_chances(BOOK, "in-line", WEAK, "case-drain")["high"]
    seen = Evidence(WEAK.symptoms, (("charge-pressure", "right"),))
    wear = {c.id: c.probability for c in rank(BOOK, "in-line", seen).causes}["piston-wear"]
    assert outcome_chances(BOOK, "in-line", seen, "case-drain")["high"] < first * wear / 0.14


@pytest.mark.parametrize("seed", range(6))
def test_a_check_never_beats_knowing_and_looking_deeper_never_costs(seed: int) -> None:
    """Values of one and two steps are both costs of plans that exist: two steps can only find a cheaper one."""
    rng = np.random.default_rng(seed)
    book = random_book(rng, causes=12, checks=10, symptoms=2, covers=4)
    net = network(book, "in-line")
    chance = net.prior() * net.symptoms["s0"]
    tables = dict(net.checks)
    look = Lookahead(net, work(net), chance / chance.sum(), tables, work(net).flags(()), None)
    shallow, deep = decide(look, deep=False), decide(look)
    assert np.all(deep.checks <= shallow.checks + 1e-9)
    assert np.all(deep.repairs <= shallow.repairs + 1e-9)
    knowing = look.chance @ np.where(np.arange(len(look.ids)) > 0, look.needs @ look.minutes, look.handed_on)
    assert deep.best >= knowing - 1e-9
    assert deep.best <= deep.repairs_alone + 1e-9
