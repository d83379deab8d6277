"""What a closed job teaches: only a cause a repair proved, once nothing came back in the shop's comeback days."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from aids.quick_shop import BOOK, QuickShop

from shopboard import shop
from shopboard.records import Stage
from shopboard.shop.lessons import family_of, results
from shopboard.trouble import ClosedResult, learn


def _repaired(quick: QuickShop, cause: str = "low-oil", text: str = "", **given: Any) -> int:
    """A machine mended and collected; its job's number."""
    id = quick.to(Stage.REPAIR, **given)
    quick.do(shop.evidence.find, id, cause, text, "top-up" if cause == "low-oil" else "", book=BOOK)
    for operation in quick.job(id).operations:
        quick.do(shop.stages.work_done, id, operation.id)
    quick.do(shop.stages.finish_repair, id)
    quick.do(shop.stages.road_test, id, True, True, True)
    quick.do(shop.evidence.confirm, id, cause)
    quick.do(shop.closing.collect, id, Decimal(50), Decimal(50), by="cy")
    return id


def _taught(quick: QuickShop) -> list[ClosedResult]:
    return list(
        results(quick.state, (job for job, _ in quick.filed.values() if job.id in quick.state.closed), quick.now)
    )


def test_a_confirmed_cause_counts_once_the_comeback_days_are_over() -> None:
    quick = QuickShop()
    _repaired(quick, symptoms=("weak-drive",), answers=(("hot-or-cold", "same"),))
    assert _taught(quick) == []
    quick.later(days=90)
    assert _taught(quick) == []  # it may still come back today
    quick.later(minutes=1)
    (taught,) = _taught(quick)
    assert taught == ClosedResult("in-line", ("low-oil",), ("weak-drive",), (("hot-or-cold", "same"),), "kestrel-20")
    assert learn(BOOK, [taught], "in-line").jobs == (0, 1, 0)


def test_the_family_is_the_models_or_the_model_itself() -> None:
    quick = QuickShop()
    quick.take_in()
    machine = quick.state.machines[1]
    assert family_of(quick.state, machine) == "kestrel-20"
    from msgspec.structs import replace

    quick.state.models = {"kestrel-20": replace(quick.state.models["kestrel-20"], family="kestrel")}
    assert family_of(quick.state, machine) == "kestrel"
    quick.state.models = {}
    assert family_of(quick.state, machine) == "kestrel-20"


def test_what_came_back_with_the_same_trouble_never_counts() -> None:
    quick = QuickShop()
    first = _repaired(quick)
    quick.later(days=20)
    again = _repaired(quick, machine=1, customer=1, hours=510.0)
    assert quick.filed[again][0].comeback.same is True
    quick.later(days=400)
    assert len(_taught(quick)) == 1  # the second mending held
    assert quick.filed[first][0].comeback is None


def test_a_comeback_with_another_trouble_takes_nothing_back() -> None:
    quick = QuickShop()
    _repaired(quick)
    quick.later(days=20)
    second = quick.to(Stage.REPAIR, machine=1, customer=1, hours=510.0)
    quick.later(days=200)
    assert _taught(quick) == []  # not known yet whether it is the same
    quick.do(shop.evidence.find, second, "front-joint", book=BOOK)
    quick.do(shop.evidence.confirm, second, "front-joint")
    quick.do(shop.stages.finish_repair, second)
    quick.do(shop.stages.road_test, second, True, True, True)
    quick.do(shop.closing.collect, second, Decimal(50), Decimal(50), by="cy")
    assert quick.filed[second][0].comeback.same is False
    assert [taught.causes for taught in _taught(quick)] == [("low-oil",)]


def test_a_visit_after_the_comeback_days_takes_nothing_back() -> None:
    quick = QuickShop()
    _repaired(quick)
    quick.later(days=91)
    assert quick.take_in(machine=1, customer=1, hours=520.0).comeback is None
    assert len(_taught(quick)) == 1


def test_declined_and_unproved_jobs_teach_nothing() -> None:
    quick = QuickShop()
    id = quick.to(Stage.APPROVAL)
    quick.do(shop.evidence.find, id, "low-oil", book=BOOK)
    quick.do(shop.evidence.confirm, id, "low-oil")
    quick.do(shop.approval.decline, id, "Mrs Hill", "phone", "too dear")
    quick.do(shop.closing.machine_left, id)
    other = quick.to(Stage.REPAIR)
    quick.do(shop.evidence.find, other, "other", "a wasps' nest in the cooler", book=BOOK)
    quick.do(shop.stages.finish_repair, other)
    quick.do(shop.stages.road_test, other, True, True, True)
    quick.do(shop.closing.collect, other, Decimal(50), Decimal(50), by="cy")
    quick.later(days=200)
    assert _taught(quick) == []


def test_what_is_measured_after_the_cause_was_found_is_the_proof_not_a_sign() -> None:
    quick = QuickShop()
    id = quick.to(Stage.REPAIR, answers=(("hot-or-cold", "hot"),))
    quick.later(hours=1)
    quick.do(shop.evidence.find, id, "low-oil", book=BOOK)
    quick.later(hours=2)
    quick.do(shop.evidence.answer, id, "oil-level", "right", book=BOOK)
    quick.do(shop.stages.finish_repair, id)
    quick.do(shop.stages.road_test, id, True, True, True)
    quick.do(shop.evidence.confirm, id, "low-oil")
    quick.do(shop.closing.collect, id, Decimal(50), Decimal(50), by="cy")
    quick.later(days=200)
    (taught,) = _taught(quick)
    assert taught.answers == (("hot-or-cold", "hot"),)


def test_the_shops_own_comeback_days_decide() -> None:
    quick = QuickShop(comeback_days=10)
    _repaired(quick)
    quick.later(days=11)
    assert len(_taught(quick)) == 1
