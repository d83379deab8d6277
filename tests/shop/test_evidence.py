"""Symptoms, answers, readings and findings: what they do to the ranking, and what is refused."""

from __future__ import annotations

import math
from collections.abc import Callable
from decimal import Decimal
from typing import Any

import msgspec
import pytest
from aids.quick_shop import BOOK, MODELS, START, QuickShop
from aids.small_book import small_book
from hypothesis import given
from hypothesis import strategies as st

from shopboard import shop
from shopboard.records import Likely, Stage, Step
from shopboard.shop.intake import Intake, NewCustomer, NewMachine
from shopboard.trouble import Evidence, NextCheck, rank

OUTCOMES = [
    (check.id, outcome) for check in BOOK.checks.values() for outcome in (*check.outcomes, "unsure", "not tested")
]


def arrived(**given: Any) -> QuickShop:
    quick = QuickShop()
    quick.take_in(**given)
    return quick


def test_the_ranking_kept_with_the_job_is_the_ranking() -> None:
    quick = arrived(symptoms=("weak-drive",))
    quick.do(shop.evidence.answer, 1, "hot-or-cold", "hot", book=BOOK)
    quick.do(shop.evidence.answer, 1, "oil-level", "unsure", book=BOOK)
    expected = rank(BOOK, "in-line", Evidence(symptoms=("weak-drive",), answers=(("hot-or-cold", "hot"),)))
    *causes, none = quick.job().likely
    assert len(causes) == 6
    assert [(c.cause, c.probability) for c in causes] == [(c.id, c.probability) for c in expected.causes[:6]]
    assert none == Likely(cause="none", name="none of these", probability=expected.none_of_these)
    assert shop.evidence.ranking(quick.state, quick.job(), BOOK).causes == expected.causes


def test_the_layout_of_the_machine_decides_what_can_be_wrong() -> None:
    quick = arrived(machine=NewMachine(model="duo-z"), symptoms=("weak-drive",))
    assert "front-joint" not in [c.cause for c in quick.job().likely]
    assert [c.id for c in shop.evidence.ranking(quick.state, quick.job(), BOOK).causes] == [
        c.id for c in rank(BOOK, "split", Evidence(symptoms=("weak-drive",))).causes
    ]


@given(first=st.sampled_from(OUTCOMES), second=st.sampled_from(OUTCOMES))
def test_withdrawing_an_answer_restores_the_ranking(first: tuple[str, str], second: tuple[str, str]) -> None:
    quick = arrived(symptoms=("weak-drive",))
    quick.do(shop.evidence.answer, 1, *first, book=BOOK)
    before = quick.job()
    if second[0] != first[0]:
        quick.do(shop.evidence.answer, 1, *second, book=BOOK)
        quick.do(shop.evidence.withdraw, 1, second[0], book=BOOK)
        assert quick.job() == before
    else:
        quick.do(shop.evidence.answer, 1, *second, book=BOOK)
        quick.do(shop.evidence.answer, 1, *first, book=BOOK)
        assert quick.job().likely == before.likely


def test_a_new_answer_replaces_the_old_and_the_journal_tells_both() -> None:
    quick = arrived()
    quick.do(shop.evidence.answer, 1, "hot-or-cold", "hot", book=BOOK)
    quick.later(hours=1)
    quick.do(shop.evidence.answer, 1, "oil-level", "low", book=BOOK)
    step = quick.do(shop.evidence.answer, 1, "hot-or-cold", "same", book=BOOK, note="drove it myself", by="bo")
    assert [(a.check, a.outcome) for a in quick.job().answers] == [("oil-level", "low"), ("hot-or-cold", "same")]
    last = quick.job().answers[-1]
    assert (last.by, last.at, last.note) == ("bo", quick.now, "drove it myself")
    assert step.why == "T-0001, worse hot or cold?: same hot and cold (before: hot) – drove it myself."


def test_ticking_sets_all_symptoms() -> None:
    quick = arrived(symptoms=("weak-drive",))
    quick.do(shop.evidence.tick, 1, ("creeps", "shakes"), book=BOOK)
    assert quick.job().symptoms == ("creeps", "shakes")
    quick.refuses(shop.evidence.tick, 1, ("creeps", "shakes"), book=BOOK, why="exactly these symptoms already")
    step = quick.do(shop.evidence.tick, 1, (), book=BOOK)
    assert quick.job().symptoms == () and quick.job().likely == () and "none ticked" in step.why


# -- readings ---------------------------------------------------------------------------------------------------------


def test_a_reading_above_the_models_limit_speaks_for_wear() -> None:
    quick = arrived(symptoms=("weak-drive",))
    before = {c.cause: c.probability for c in quick.job().likely}
    step = quick.do(shop.evidence.read, 1, "case_drain_flow", 7.5, "L/min", 0.2, book=BOOK, note="hot")
    after = {c.cause: c.probability for c in quick.job().likely}
    assert after["piston-wear"] > 3 * before["piston-wear"]
    assert step.why == "T-0001, measured: case_drain_flow 7.5 ± 0.2 L/min – hot."


def test_a_reading_means_the_same_in_any_unit() -> None:
    """7.5 L/min is 1.98129 US gallons a minute (1 US gallon = 3.785411784 L exactly)."""
    metric, us = arrived(symptoms=("weak-drive",)), arrived(symptoms=("weak-drive",))
    metric.do(shop.evidence.read, 1, "case_drain_flow", 7.5, "L/min", 0.3, book=BOOK)
    us.do(shop.evidence.read, 1, "case_drain_flow", 7.5 / 3.785411784, "gpm", 0.3 / 3.785411784, book=BOOK)
    for one, other in zip(metric.job().likely, us.job().likely, strict=True):
        assert one.cause == other.cause and math.isclose(one.probability, other.probability, rel_tol=1e-9)


def test_a_reading_without_a_limit_is_noted_not_judged() -> None:
    quick = arrived(machine=NewMachine(model="duo-z"), symptoms=("weak-drive",))
    before = quick.job().likely
    quick.do(shop.evidence.read, 1, "case_drain_flow", 7.5, "L/min", book=BOOK)
    quick.do(shop.evidence.read, 1, "tyre_pressure", 1.4, "bar", book=BOOK)
    assert quick.job().likely == before and len(quick.job().readings) == 2


# -- findings ---------------------------------------------------------------------------------------------------------


def test_a_finding_with_a_correction_of_the_book_brings_its_work() -> None:
    quick = arrived()
    quick.do(shop.evidence.find, 1, "piston-wear", correction="rebuild-pump", book=BOOK)
    work = quick.job().operations[0]
    assert (work.id, work.name, work.minutes, work.skill) == ("rebuild-pump", "rebuild the pump", 240.0, "hydrostat")
    assert (work.covers, work.needs, work.done) == (("floor-plate",), ("clean bench",), False)
    assert "pump pistons and bores worn; to do: rebuild the pump" in quick.steps[-1].why


def test_covers_of_the_work_are_those_of_the_layout() -> None:
    quick = arrived(machine=NewMachine(model="duo-z"))
    quick.do(shop.evidence.find, 1, "piston-wear", correction="rebuild-pump", book=BOOK)
    assert quick.job().operations[0].covers == ("deck",)


def test_two_causes_with_one_correction_make_one_operation() -> None:
    quick = arrived()
    for cause in ("shaft-bent", "spline-worn"):
        quick.do(shop.evidence.find, 1, cause, correction="renew-shaft", book=BOOK)
    assert [o.id for o in quick.job().operations] == ["renew-shaft"]
    quick.do(shop.evidence.unfind, 1, "shaft-bent")
    assert [o.id for o in quick.job().operations] == ["renew-shaft"], "the other finding still needs it"
    quick.do(shop.evidence.unfind, 1, "spline-worn")
    assert quick.job().operations == () and quick.job().findings == ()


def test_finding_a_cause_again_replaces_its_undone_work() -> None:
    quick = arrived()
    quick.do(shop.evidence.find, 1, "piston-wear", correction="rebuild-pump", book=BOOK)
    quick.do(shop.evidence.find, 1, "piston-wear", "only the seals", correction="renew-charge-pump", book=BOOK)
    assert [o.id for o in quick.job().operations] == ["renew-charge-pump"]
    assert [(f.cause, f.text) for f in quick.job().findings] == [("piston-wear", "only the seals")]


def test_a_correction_in_words_is_kept_as_words() -> None:
    quick = arrived()
    quick.do(shop.evidence.find, 1, "other", "mouse nest in the fan", "cleaned it out", book=BOOK)
    assert quick.job().operations == () and quick.job().findings[0].correction == "cleaned it out"


def test_work_done_stays_when_its_finding_goes() -> None:
    quick = QuickShop()
    job = quick.to(Stage.REPAIR)
    quick.do(shop.evidence.find, job, "low-oil", correction="top-up", book=BOOK)
    quick.do(shop.stages.work_done, job, "top-up")
    quick.do(shop.evidence.unfind, job, "low-oil")
    assert [(o.id, o.done) for o in quick.job().operations] == [("top-up", True)]


def test_confirming_in_repair_says_the_work_is_done() -> None:
    quick = QuickShop()
    job = quick.to(Stage.DIAGNOSED)
    quick.do(shop.evidence.find, job, "low-oil", correction="top-up", book=BOOK)
    quick.do(shop.evidence.confirm, job, "low-oil")
    assert not quick.job().operations[0].done, "proved by a test, not yet done"
    other = QuickShop()
    job = other.to(Stage.REPAIR)
    other.do(shop.evidence.find, job, "low-oil", correction="top-up", book=BOOK)
    other.do(shop.evidence.confirm, job, "low-oil")
    assert other.job().operations[0].done and other.job().findings[0].confirmed
    other.refuses(shop.evidence.confirm, job, "low-oil", why="confirmed on T-0001 already")


def test_a_confirmed_cause_is_told_in_words() -> None:
    quick = arrived(symptoms=("weak-drive",))
    for cause, text in (("low-oil", ""), ("low-oil", "a litre low"), ("front-joint", "")):
        quick.do(shop.evidence.find, 1, cause, text, book=BOOK)
        quick.do(shop.evidence.confirm, 1, cause)
    assert [step.why for step in quick.steps if "confirmed" in step.why] == [
        "T-0001: low oil confirmed as the cause.",
        "T-0001: a litre low confirmed as the cause.",
        "T-0001: front joint confirmed as the cause.",
    ]


# -- next checks ------------------------------------------------------------------------------------------------------


LOOKED = (("hot-or-cold", "hot"), ("oil-level", "right"), ("bypass-lever", "home"), ("pedal-travel", "full"))


def offered(quick: QuickShop) -> dict[str, NextCheck]:
    return {check.check: check for check in shop.evidence.checks(quick.state, quick.job(), BOOK)}


def test_covers_off_make_a_check_cheaper() -> None:
    quick = arrived(symptoms=("weak-drive",), answers=LOOKED)
    before = offered(quick)["case-drain"].minutes
    quick.do(shop.stages.cover_off, 1, "floor-plate")
    assert offered(quick)["case-drain"].minutes == before - 18, "8 min off and 10 on are saved"


def test_what_the_unit_lacks_is_not_offered() -> None:
    quick = arrived(symptoms=("weak-drive",), answers=LOOKED)
    assert "charge-pressure" not in offered(quick), "this model has no charge pump"
    whole = arrived(symptoms=("weak-drive",), answers=LOOKED)
    whole.state.models = {"kestrel-20": msgspec.structs.replace(MODELS["kestrel-20"], lacks=())}
    assert "charge-pressure" in offered(whole)


def test_instruments_the_shop_does_not_own_are_not_offered() -> None:
    owned = QuickShop(instruments=("flow meter",))
    owned.take_in(symptoms=("weak-drive",), answers=LOOKED)
    bare = QuickShop(instruments=("dial gauge",))
    bare.take_in(symptoms=("weak-drive",), answers=LOOKED)
    assert "case-drain" in offered(owned) and "case-drain" not in offered(bare)


def test_a_check_not_tested_is_not_offered_again() -> None:
    quick = arrived(symptoms=("weak-drive",))
    first = next(iter(offered(quick)))
    quick.do(shop.evidence.answer, 1, first, "not tested", book=BOOK)
    assert first not in offered(quick)


# -- refusals ---------------------------------------------------------------------------------------------------------

REFUSED: list[tuple[Callable[..., Step], tuple[Any, ...], dict[str, Any], str]] = [
    (shop.evidence.tick, (1, ("sings",)), {"book": BOOK}, "no symptom sings"),
    (shop.evidence.answer, (1, "smell", "bad"), {"book": BOOK}, "no check smell"),
    (shop.evidence.answer, (1, "oil-level", "blue"), {"book": BOOK}, "right, low, unsure and not tested"),
    (shop.evidence.answer, (9, "oil-level", "low"), {"book": BOOK}, "no T-0009 here"),
    (shop.evidence.withdraw, (1, "oil-level"), {"book": BOOK}, "no answer to “oil level”"),
    (shop.evidence.read, (1, "", 1.0, "bar", 0.0), {"book": BOOK}, "quantity is blank"),
    (shop.evidence.read, (1, "charge", 1.0, " ", 0.0), {"book": BOOK}, "unit is blank"),
    (shop.evidence.read, (1, "charge", math.nan, "bar", 0.0), {"book": BOOK}, "reading is not a number"),
    (shop.evidence.read, (1, "charge", math.inf, "bar", 0.0), {"book": BOOK}, "reading is not a number"),
    (shop.evidence.read, (1, "charge", True, "bar", 0.0), {"book": BOOK}, "reading is not a number"),
    (shop.evidence.read, (1, "charge", 1.0, "bar", -0.1), {"book": BOOK}, "cannot be -0.1"),
    (shop.evidence.read, (1, "case_drain_flow", 1.0, "bar", 0.0), {"book": BOOK}, "bar"),
    (shop.evidence.read, (1, "case_drain_flow", 1e154, "L/min", 0.0), {"book": BOOK}, "1e+154 L/min cannot be"),
    (shop.evidence.read, (1, "case_drain_flow", 1.0, "L/min", 1e154), {"book": BOOK}, "cannot be"),
    (shop.evidence.remark, (1, " \n"), {}, "remark is blank"),
    (shop.evidence.remark, (9, "hello"), {}, "no T-0009 here"),
    (shop.evidence.find, (1, "gremlins"), {"book": BOOK}, "no cause gremlins"),
    (shop.evidence.find, (1, "other", " "), {"book": BOOK}, "cause is blank"),
    (shop.evidence.confirm, (1, "low-oil"), {}, "low-oil is not found on T-0001"),
    (shop.evidence.unfind, (1, "low-oil"), {}, "low-oil is not found on T-0001"),
]


@pytest.mark.parametrize(("rule", "given_", "named", "why"), REFUSED)
def test_refused(rule: Callable[..., Step], given_: tuple[Any, ...], named: dict[str, Any], why: str) -> None:
    quick = arrived()
    before = quick.job()
    quick.refuses(rule, *given_, why=why, **named)
    assert quick.job() == before


def test_a_closed_job_takes_remarks_only() -> None:
    quick = QuickShop()
    job = quick.to(Stage.REPAIR)
    quick.do(shop.evidence.find, job, "other", "stone in the belt", book=BOOK)
    quick.do(shop.stages.finish_repair, job)
    quick.do(shop.stages.road_test, job, True, True, True)
    quick.do(shop.closing.collect, job, Decimal(0), Decimal(0))
    only = "T-0001 is collected and takes remarks only"
    quick.refuses(shop.evidence.answer, job, "oil-level", "low", book=BOOK, why=only)
    quick.refuses(shop.evidence.find, job, "low-oil", book=BOOK, why=only)
    quick.refuses(shop.stages.spend, job, 5, why=only)
    quick.refuses(shop.approval.decline, job, "a", "b", "c", why=only)
    quick.do(shop.evidence.remark, job, "customer rang: all well", by="dee")
    note = quick.filed[job][0].notes[-1]
    assert (note.text, note.by, note.at) == ("customer rang: all well", "dee", START)


OURS = """
[symptom.sings]
name = "sings"
layouts = ["in-line", "split"]
otherwise = "rarely"
[check.smell]
name = "smell of the oil"
layouts = ["in-line", "split"]
how = "Smell it."
where = "yard"
minutes = 1
[check.smell.outcomes]
fresh = { name = "fresh", normal = true }
burnt = { name = "burnt", otherwise = "rarely" }
[cause.low-oil]
shows = { sings = "often" }
answers.smell = { burnt = "usually" }
"""


def test_what_the_book_has_lost_since_does_not_break_the_ranking() -> None:
    quick = QuickShop()
    larger = small_book({"ours.toml": OURS})
    given_ = Intake(
        customer=NewCustomer(name="Hill Vineyard"),
        machine=NewMachine(model="kestrel-20"),
        complaint="slow, and it sings",
        symptoms=("weak-drive", "sings"),
        answers=(("smell", "burnt"),),
    )
    quick.do(shop.intake.take_in, given_, book=larger)
    quick.do(shop.evidence.answer, 1, "hot-or-cold", "hot", book=BOOK)
    expected = rank(BOOK, "in-line", Evidence(symptoms=("weak-drive",), answers=(("hot-or-cold", "hot"),)))
    assert quick.job().likely[0].probability == expected.causes[0].probability
    quick.do(shop.evidence.withdraw, 1, "smell", book=BOOK)
    assert [a.check for a in quick.job().answers] == ["hot-or-cold"]
