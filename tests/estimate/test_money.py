"""Money: random estimates against an independent reckoning, the rounding rule, no float, who pays what."""

from __future__ import annotations

import random
from decimal import ROUND_HALF_UP, Decimal
from fractions import Fraction

import pytest

from shopboard.estimate import (
    Charges,
    Cover,
    Graph,
    MoneyLine,
    MoneyRules,
    PartWanted,
    RoadTest,
    WayOut,
    Work,
    bills,
    if_declined,
    lay_out,
    make_estimate,
    side_by_side,
)
from shopboard.estimate.money import labour_amount, priced_line, split, supplies_amount
from shopboard.records import Payer

D = Decimal


def _cents(amount: Decimal, decimals: int) -> Decimal:
    return amount.quantize(D(1).scaleb(-decimals), ROUND_HALF_UP)


def _random(rng: random.Random) -> tuple[Graph, list[Work], list[PartWanted], Charges, MoneyRules]:
    covers = {f"c{n}": Cover(f"c{n}", rng.randint(0, 80) / 4, rng.randint(0, 80) / 4) for n in range(4)}
    works = [
        Work(f"w{n}", f"w{n}", rng.randint(0, 600) / 4, tuple(rng.sample(list(covers), rng.randint(0, 3))))
        for n in range(rng.randint(0, 4))
    ]
    decimals = rng.choice((0, 2, 2, 2, 3))
    parts = [
        PartWanted(
            f"p{n}",
            f"N{n}",
            rng.randint(1, 12),
            rng.choice((None, D(rng.randint(0, 99_999)).scaleb(-decimals))),
            rng.choice((None, None, D(rng.randint(1, 20_000)).scaleb(-decimals))),
        )
        for n in range(rng.randint(0, 6))
    ]
    charges = Charges(
        labour_rate=D(rng.randint(3000, 19_999)) / 100,
        supplies_percent=D(rng.choice(("0", "4", "7.5"))),
        supplies_most=rng.choice((None, D(15))),
        diagnostic_fee=D(rng.choice(("0", "65.00"))) if decimals >= 2 else D(65),
        fee_credited=rng.random() < 0.5,
        deposit_percent=D(rng.choice((0, 30))),
    )
    rules = MoneyRules("EUR", decimals, D(rng.choice(("0", "7.7", "13", "19", "8.875"))), rng.random() < 0.5)
    return Graph(covers), works, parts, charges, rules


def _independent(
    graph: Graph, works: list[Work], parts: list[PartWanted], charges: Charges, rules: MoneyRules
) -> tuple[Decimal, Decimal, Decimal]:
    """Net, tax and gross reckoned anew in Decimal, from what was put in; nothing of the estimate is used."""
    places, labour = rules.decimals, D(0)
    minutes = [D(str(work.minutes)) for work in works]
    opened = {cover for work in works for cover in work.covers}
    minutes += [D(str(graph.covers[id].off)) + D(str(graph.covers[id].on)) for id in opened]
    for one in minutes:
        labour += _cents(one * charges.labour_rate / 60, places)
    rest = D(0)
    for part in parts:
        rest += _cents(part.quantity * (part.price or D(0)), places)
        rest += _cents(part.quantity * (part.core_charge or D(0)), places)
    supplies = labour * charges.supplies_percent / 100
    rest += _cents(supplies if charges.supplies_most is None else min(supplies, charges.supplies_most), places)
    rest += D(0) if charges.fee_credited else charges.diagnostic_fee
    whole = labour + rest
    if rules.tax_included:
        tax = _cents(whole * rules.tax_percent / (100 + rules.tax_percent), places)
        return whole - tax, tax, whole
    tax = _cents(whole * rules.tax_percent / 100, places)
    return whole, tax, whole + tax


def test_a_thousand_random_estimates_come_to_the_independent_sum() -> None:
    rng, kinds = random.Random(60), set()
    for _ in range(1200):
        case = _random(rng)
        graph, works, parts, charges, rules = case
        made = make_estimate(lay_out(graph, works), parts, charges, rules)
        net, tax, gross = _independent(*case)
        assert sum(line.amount for line in made.lines) == (gross if rules.tax_included else net)
        if made.lines:
            [bill] = made.bills
            assert (bill.net, bill.tax, bill.gross, made.total) == (net, tax, gross, gross)
            assert bill.net + bill.tax == bill.gross
        assert sum((share.amount for share in made.shares), D(0)) == made.labour
        assert made.deposit == _cents(made.total * charges.deposit_percent / 100, rules.decimals)
        assert made.unpriced == tuple(part.name for part in parts if part.price is None)
        for amount in (*(line.amount for line in made.lines), made.total, made.deposit, made.due):
            assert type(amount) is Decimal and -amount.as_tuple().exponent == rules.decimals
        kinds |= {line.kind for line in made.lines}
    assert kinds == {"labour", "access", "part", "core", "supplies", "fee"}


@pytest.mark.parametrize(
    ("amount", "decimals", "to"),
    [("0.125", 2, "0.13"), ("-0.125", 2, "-0.13"), ("0.1249999999", 2, "0.12"), ("2.5", 0, "3"), ("0.0005", 3, "0.001"),
     ("1.005", 2, "1.01"), ("-0.001", 2, "0.00")],
)  # fmt: skip
def test_halves_go_away_from_nought(amount: str, decimals: int, to: str) -> None:
    rounded = MoneyRules(decimals=decimals).rounded(D(amount))
    assert (rounded, str(rounded)) == (D(to), to)


def test_a_third_is_never_a_half_by_accident() -> None:
    """1 minute at 0.29999…/h and the like: the exact fraction is rounded, not a decimal cut off before it."""
    assert MoneyRules().rounded(Fraction(1, 200) - Fraction(1, 10**40)) == 0
    assert MoneyRules().rounded(Fraction(1, 200)) == D("0.01")
    assert labour_amount(0.1, D(3), MoneyRules()) == D("0.01")  # 0.005, though 0.1 is not exact in binary


@pytest.mark.parametrize("money", [0.1, 1.0, True])
def test_a_float_is_never_money(money: object) -> None:
    for use in (
        lambda: MoneyRules().rounded(money),  # type: ignore[arg-type]
        lambda: labour_amount(10, money, MoneyRules()),  # type: ignore[arg-type]
        lambda: priced_line("part", "p", 1, money, MoneyRules()),  # type: ignore[arg-type]
        lambda: MoneyRules(tax_percent=money),  # type: ignore[arg-type]
        lambda: supplies_amount(D(1), money, None, MoneyRules()),  # type: ignore[arg-type]
    ):
        with pytest.raises(TypeError, match="must be a Decimal"):
            use()


def test_no_number_and_negative_tax_are_refused() -> None:
    with pytest.raises(ValueError, match="not a number"):
        MoneyRules().rounded(D("NaN"))
    with pytest.raises(ValueError, match="nought or more"):
        MoneyRules(tax_percent=D(-1))


def test_tax_on_top_and_tax_within() -> None:
    lines = [MoneyLine("part", "a", D("119.00")), MoneyLine("part", "b", D("1.00"), taxed=False)]
    [top] = bills(lines, MoneyRules(tax_percent=D(19)))
    [within] = bills(lines, MoneyRules(tax_percent=D(19), tax_included=True))
    assert (top.net, top.tax, top.gross) == (D("120.00"), D("22.61"), D("142.61"))
    assert (within.net, within.tax, within.gross) == (D("101.00"), D("19.00"), D("120.00"))


def test_each_payer_gets_a_bill_with_its_own_tax() -> None:
    graph = Graph({"floor": Cover("floor", 6, 8), "hood": Cover("hood", 3, 3)})
    works = [Work("seal", "seal", 60, ("floor",)), Work("fins", "fins", 30, ("floor", "hood"))]
    made = make_estimate(
        lay_out(graph, works),
        [PartWanted("seal kit", "S1", 1, D("20.00"))],
        Charges(D(60)),
        MoneyRules(tax_percent=D(10)),
        paid_by={"seal": Payer.WARRANTY, "S1": Payer.WARRANTY},
    )
    gross = {bill.payer: bill.gross for bill in made.bills}
    # warranty: 60 min and the kit; customer: 30 min, the hood (only the fins need it) and the floor both need
    assert gross == {Payer.WARRANTY: D("88.00"), Payer.CUSTOMER: D("55.00")}
    assert made.total == D("143.00") and made.due == D("55.00")


def test_deposit_paid_and_due() -> None:
    plan = lay_out(Graph({}), [Work("w", "w", 60)])
    made = make_estimate(plan, [], Charges(D(100), deposit_percent=D(30), paid=D(40)), MoneyRules(tax_percent=D(20)))
    assert (made.total, made.deposit, made.due) == (D(120), D(36), D(80))


def test_a_core_is_a_line_of_its_own() -> None:
    made = make_estimate(
        lay_out(Graph({}), []), [PartWanted("pump", "P", 2, D("300"), D("50"))], Charges(D(1)), MoneyRules()
    )
    assert [(line.kind, line.amount) for line in made.lines] == [("part", D(600)), ("core", D(100))]


def test_a_no_pays_the_fee_and_the_covers_put_back() -> None:
    bill = if_declined(12, Charges(D(60), diagnostic_fee=D("65.00")), MoneyRules(tax_percent=D(20)))
    assert (bill.net, bill.gross) == (D("77.00"), D("92.40"))


def test_splitting_adds_up_and_is_fair_to_a_unit() -> None:
    rng, rules = random.Random(3), MoneyRules()
    for _ in range(300):
        total = D(rng.randint(0, 99_999)) / 100
        weights = {str(n): Fraction(rng.randint(0, 500), rng.randint(1, 9)) for n in range(rng.randint(1, 6))}
        if not sum(weights.values()):
            continue
        parts = split(total, weights, rules)
        assert sum(parts.values()) == total
        for id, part in parts.items():
            fair = Fraction(total) * weights[id] / sum(weights.values())
            assert abs(Fraction(part) - fair) < Fraction(1, 100)
    assert split(D(1), {}, rules) == {}
    with pytest.raises(ValueError, match="shares"):
        split(D(1), {"a": Fraction(0)}, rules)


def test_ways_out_are_weighed_only_when_all_are_known() -> None:
    rebuild, unit = WayOut("rebuild", D(900), D(2400)), WayOut("exchange unit", D(1400), D(2900))
    scrap = WayOut("scrap", D(0), D(250))
    assert [w.best for w in side_by_side([scrap, rebuild, unit])] == [False, True, False]  # of equals the first
    assert [w.best for w in side_by_side([scrap, WayOut("rebuild", D(900))])] == [False, False]
    assert [w.best for w in side_by_side([WayOut("rebuild", D(900), D(1000)), scrap])] == [False, True]
    assert side_by_side([]) == ()


def test_the_lines_tell_covers_shared_people_and_the_road_test() -> None:
    graph = Graph({"floor": Cover("floor plate", 6, 8), "unit": Cover("unit", 75, 95, ("floor",), 2)})
    todo = [Work("a", "seal", 10, ("unit",)), RoadTest("t", "road test", 15), Work("b", "grease", 5, ("floor",), 2)]
    made = make_estimate(lay_out(graph, todo), [], Charges(D(60)), MoneyRules())
    assert [(line.text, line.amount) for line in made.lines] == [
        ("seal", D(10)),
        ("road test", D(15)),
        ("grease, 2 people", D(10)),
        ("floor plate: off and on, once for 2 works", D(14)),
        ("floor plate: on and off again for the road test", D(14)),
        ("unit: off and on, 2 people", D(340)),
    ]
