"""The bays: one machine in each, fit for its work, and no bay kept by a machine that only waits."""

from __future__ import annotations

import pytest
from aids.quick_shop import BOOK, START, QuickShop

from shopboard import shop
from shopboard.records import Bay, Stage


def needs_clean_bench(quick: QuickShop, job: int) -> None:
    quick.do(shop.evidence.find, job, "piston-wear", correction="rebuild-pump", book=BOOK)


def why_not(quick: QuickShop, job: int) -> dict[str, str]:
    return {bay.id: why for bay, why in shop.bays.fitting(quick.state, quick.job(job))}


def test_a_machine_goes_in_with_who_works_on_it() -> None:
    quick = QuickShop()
    quick.to(Stage.READY)
    step = quick.do(shop.bays.put, 1, "1", "bo")
    assert (quick.job().bay, quick.job().bay_since, quick.job().person) == ("1", START, "bo")
    assert quick.job().stage is Stage.READY
    assert step.why == "T-0001 goes into bay 1, Bo on it."
    later = QuickShop()
    later.to(Stage.READY)
    later.do(shop.bays.put, 1, "1")
    assert later.job().person == "ana", "whoever diagnosed it keeps it"


def test_one_machine_in_a_bay() -> None:
    quick = QuickShop()
    quick.to(Stage.REPAIR, bay="1")
    quick.to(Stage.READY)
    told = quick.refuses(shop.bays.put, 2, "1", why="bay 1 holds T-0001 (in repair)")
    assert told.would_do == "swap the two, or leave T-0002 in the queue until bay 1 is free"
    assert quick.state.job_in_bay("1") == quick.job(1)


def test_a_bay_that_lacks_something_names_it_and_what_would_do() -> None:
    quick = QuickShop()
    quick.to(Stage.READY)
    needs_clean_bench(quick, 1)
    told = quick.refuses(shop.bays.put, 1, "3", why="yard has no clean bench, which “rebuild the pump” needs")
    assert told.would_do == "bay 2 would do"
    quick.do(shop.bays.put, 1, "2")
    quick.to(Stage.READY)
    needs_clean_bench(quick, 2)
    told = quick.refuses(shop.bays.put, 2, "1", why="bay 1 has no clean bench")
    assert told.would_do == "leave T-0002 in the queue until a bay that fits is free"


def test_work_done_needs_nothing_any_more() -> None:
    quick = QuickShop()
    quick.to(Stage.REPAIR)
    needs_clean_bench(quick, 1)
    assert "clean bench" in why_not(quick, 1)["1"]
    quick.do(shop.stages.work_done, 1, "rebuild-pump")
    assert why_not(quick, 1) == {"1": "", "2": "T-0001 stands in bay 2 already", "3": ""}


def test_fitting_tells_every_bay() -> None:
    quick = QuickShop()
    quick.to(Stage.REPAIR, bay="2")
    quick.to(Stage.READY)
    assert why_not(quick, 2) == {"1": "", "2": "bay 2 holds T-0001 (in repair)", "3": ""}
    needs_clean_bench(quick, 2)
    assert why_not(quick, 2)["3"] == "yard has no clean bench, which “rebuild the pump” needs"


@pytest.mark.parametrize("bay", ["", "9", "bay 1"])
def test_an_unknown_bay(bay: str) -> None:
    quick = QuickShop()
    quick.to(Stage.READY)
    quick.refuses(shop.bays.put, 1, bay, why="take 1, 2 or 3")
    quick.refuses(shop.bays.swap, 1, bay, why="take 1, 2 or 3")


def test_a_machine_moves_from_bay_to_bay() -> None:
    quick = QuickShop()
    quick.to(Stage.REPAIR, bay="2")
    quick.do(shop.bays.put, 1, "1")
    assert quick.job().bay == "1" and quick.state.job_in_bay("2") is None
    quick.refuses(shop.bays.put, 1, "1", why="stands in bay 1 already")


@pytest.mark.parametrize("stage", [Stage.APPROVAL, Stage.COLLECT])
def test_a_machine_that_only_waits_gets_no_bay(stage: Stage) -> None:
    quick = QuickShop()
    quick.to(stage)
    quick.refuses(shop.bays.put, 1, "1", why=f"{stage}: a bay would stand idle")
    quick.refuses(shop.bays.swap, 1, "1", why=f"{stage}: a bay would stand idle")


# -- out --------------------------------------------------------------------------------------------------------------


def test_a_machine_in_repair_keeps_its_bay_until_it_waits() -> None:
    quick = QuickShop()
    quick.to(Stage.REPAIR)
    quick.refuses(shop.bays.leave, 1, why="finish it, or let it wait for parts first")
    quick.do(shop.parts.need, 1, "S-1", "seal", 1)
    quick.do(shop.stages.wait_for_parts, 1)
    step = quick.do(shop.bays.leave, 1)
    assert (quick.job().bay, quick.job().bay_since) == ("", None)
    assert step.why == "T-0001 (waiting for parts) leaves bay 2."
    quick.refuses(shop.bays.leave, 1, why="is in no bay")


def test_a_declined_machine_may_leave_its_bay() -> None:
    quick = QuickShop()
    quick.to(Stage.DIAGNOSED)
    quick.do(shop.bays.put, 1, "1")
    quick.do(shop.approval.decline, 1, "Mrs Hill", "phone", "too dear")
    quick.do(shop.bays.leave, 1)
    assert quick.state.job_in_bay("1") is None


# -- swap -------------------------------------------------------------------------------------------------------------


def waiting_in_bay_2(quick: QuickShop) -> int:
    job = quick.to(Stage.REPAIR, bay="2")
    quick.do(shop.parts.need, job, "S-1", "seal", 1)
    quick.do(shop.stages.wait_for_parts, job)
    return job


def test_a_machine_that_waits_makes_room() -> None:
    quick = QuickShop()
    waits = waiting_in_bay_2(quick)
    ready = quick.to(Stage.READY)
    needs_clean_bench(quick, ready)
    step = quick.do(shop.bays.swap, ready, "2")
    assert (quick.job(ready).bay, quick.job(waits).bay) == ("2", "")
    assert step.why == "T-0002 takes bay 2; T-0001 (waiting for parts) goes to the yard."
    assert step.subject == ready and len(step.puts) == 2


def test_two_machines_in_repair_change_places_if_both_fit() -> None:
    quick = QuickShop()
    one, two = quick.to(Stage.REPAIR, bay="1"), quick.to(Stage.REPAIR, bay="2")
    quick.do(shop.bays.swap, one, "2")
    assert (quick.job(one).bay, quick.job(two).bay) == ("2", "1")
    needs_clean_bench(quick, one)
    quick.refuses(shop.bays.swap, one, "1", why="bay 1 has no clean bench")
    quick.refuses(shop.bays.swap, two, "2", why="T-0001 is in repair, and repair is in a bay only")


def test_a_machine_in_repair_makes_no_room_for_one_from_the_yard() -> None:
    quick = QuickShop()
    quick.to(Stage.REPAIR, bay="2")
    ready = quick.to(Stage.READY)
    quick.refuses(shop.bays.swap, ready, "2", why="T-0001 is in repair")


def test_there_must_be_somebody_to_swap_with() -> None:
    quick = QuickShop()
    quick.to(Stage.REPAIR, bay="2")
    quick.to(Stage.READY)
    quick.refuses(shop.bays.swap, 2, "1", why="nothing stands in bay 1: put it there")
    quick.refuses(shop.bays.swap, 1, "2", why="T-0001 stands in bay 2 already")


def test_a_shop_without_bays_says_so() -> None:
    quick = QuickShop(bays=())
    quick.to(Stage.READY)
    quick.refuses(shop.bays.put, 1, "1", why="add bays to shop.toml")
    (move,) = [m for m in shop.moves.moves(quick.state, quick.job(), START) if m.name == "bays.put"]
    assert "this shop has no bays" in move.why_not


def test_a_bay_taken_out_of_the_settings_is_no_bay() -> None:
    quick = QuickShop()
    quick.to(Stage.READY)
    quick.do(shop.bays.put, 1, "1")
    quick.state.settings = QuickShop(bays=(Bay(id="2", name="bay 2"),)).state.settings
    quick.refuses(shop.stages.start_repair, 1, why="in no bay")
    quick.do(shop.bays.leave, 1)
