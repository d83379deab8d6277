"""Typical operations of the trouble book against step lists written by hand, to the minute and the cent.

Rate 112.00 an hour, as in the sample shop. Each line of labour is rounded by itself: 40 min are 74.67, 14 are 26.13.
"""

from __future__ import annotations

from decimal import Decimal

import pytest
from aids.shipped_book import shipped_book

from shopboard.estimate import Charges, Cover, MoneyRules, Plan, RoadTest, Work, graph_of, lay_out, make_estimate

ROD = {"control rod": (("floor-plate",), ("mow-deck",))}
OIL = {"oil": Cover("drive oil drained", 15, 20)}
TEST = RoadTest("test", "road test", 15)
ROD_WORK = Work("rod", "set the control rod", 30, ("control rod",))


def _book(correction: str, layout: str, *more: str) -> Work:
    entry = shipped_book().corrections[correction]
    return Work(entry.id, entry.name, entry.minutes_on(layout), (*entry.covers_on(layout), *more))


def _plan(layout: str, *todo: Work | RoadTest) -> Plan:
    return lay_out(graph_of(shipped_book().covers, layout, ways=ROD if layout == "in-line" else {}, changes=OIL), todo)


BY_HAND = {
    "set neutral, in-line": (
        _plan("in-line", _book("set-neutral", "in-line")),
        "off floor-plate 6, work set-neutral 40, on floor-plate 8",
        (54, 54, "100.80"),
    ),
    "front joint, in-line: three covers deep": (
        _plan("in-line", _book("renew-front-joint", "in-line")),
        "off floor-plate 6, off shaft-shield 5, off drive-shaft 20, work renew-front-joint 60,"
        " on drive-shaft 25, on shaft-shield 6, on floor-plate 8",
        (130, 130, "242.66"),
    ),
    "pump, in-line: two people lift the unit, billed twice, one clock": (
        _plan("in-line", _book("rebuild-pump", "in-line")),
        "off floor-plate 6, off shaft-shield 5, off drive-shaft 20, off hydrostat-out 75, work rebuild-pump 280,"
        " on hydrostat-out 95, on drive-shaft 25, on shaft-shield 6, on floor-plate 8",
        (520, 690, "1288.00"),
    ),
    "belt, split": (
        _plan("split", _book("renew-belt", "split")),
        "off belt-guard 4, off pump-belt 7, work renew-belt 25, on pump-belt 10, on belt-guard 5",
        (51, 51, "95.20"),
    ),
    "pump, split: beneath two covers side by side": (
        _plan("split", _book("rebuild-pump", "split")),
        "off seat-plate 1, off belt-guard 4, off pump-belt 7, off pump-out 40, work rebuild-pump 190,"
        " on pump-out 50, on pump-belt 10, on belt-guard 5, on seat-plate 1",
        (308, 308, "574.93"),
    ),
    "exchange unit, transaxle": (
        _plan("transaxle", _book("exchange-hydrostat", "transaxle")),
        "off mow-deck 10, off traction-belt 10, off wheel 8, off transaxle-out 40, work exchange-hydrostat 115,"
        " on transaxle-out 50, on wheel 10, on traction-belt 15, on mow-deck 15",
        (273, 363, "677.61"),
    ),
    "collar, gear": (
        _plan("gear", _book("renew-collar", "gear")),
        "off seat-pan 12, off gear-cover 15, work renew-collar 140, on gear-cover 25, on seat-pan 16",
        (208, 208, "388.27"),
    ),
    "neutral and input seal together: the floor once": (
        _plan("in-line", _book("set-neutral", "in-line"), _book("renew-input-seal", "in-line")),
        "off floor-plate 6, off shaft-shield 5, off drive-shaft 20, work set-neutral 40, work renew-input-seal 55,"
        " on drive-shaft 25, on shaft-shield 6, on floor-plate 8",
        (165, 165, "308.00"),
    ),
    "control rod, two ways: from above is shorter": (
        _plan("in-line", ROD_WORK),
        "off floor-plate 6, work rod 30, on floor-plate 8",
        (44, 44, "82.13"),
    ),
    "control rod with the deck down anyway: from below": (
        _plan("in-line", ROD_WORK, _book("free-attachment", "in-line")),
        "off mow-deck 10, work rod 30, work free-attachment 65, on mow-deck 15",
        (120, 120, "224.00"),
    ),
    "yokes, a road test with everything on, then the angles": (
        _plan("in-line", _book("phase-yokes", "in-line"), TEST, _book("set-angles", "in-line")),
        "off floor-plate 6, off shaft-shield 5, off drive-shaft 20, work phase-yokes 35,"
        " on drive-shaft 25, on shaft-shield 6, on floor-plate 8, test test 15,"
        " off floor-plate 6, off shaft-shield 5, off hood 3, work set-angles 110,"
        " on hood 3, on shaft-shield 6, on floor-plate 8",
        (261, 261, "487.18"),
    ),
    "screen with the oil drained: draining is a step like a cover": (
        _plan("in-line", _book("clean-screen", "in-line", "oil")),
        "off floor-plate 6, off oil 15, work clean-screen 70, on oil 20, on floor-plate 8",
        (119, 119, "222.13"),
    ),
}


@pytest.mark.parametrize("name", BY_HAND)
def test_the_steps_minutes_and_cents_are_those_written_by_hand(name: str) -> None:
    plan, steps, (clock, billed, labour) = BY_HAND[name]
    assert ", ".join(f"{step.kind} {step.id} {step.minutes:g}" for step in plan.steps) == steps
    made = make_estimate(plan, [], Charges(Decimal(112)), MoneyRules("CAD", 2, Decimal(13)))
    assert (plan.clock, plan.billed, made.labour) == (clock, billed, Decimal(labour))
