"""The counter: who, which machine, what it does, and everything the counter must be told instead of a tag."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal
from typing import Any

import pytest
from aids.quick_shop import BOOK, START, QuickShop

from shopboard import shop
from shopboard.records import Customer, Job, Layout, Machine, Payer, Stage
from shopboard.shop.intake import Intake, NewCustomer, NewMachine

KESTREL = NewMachine(model="kestrel-20", serial="SN 40-A")


def intake(**given: Any) -> Intake:
    usual: dict[str, Any] = {
        "customer": NewCustomer(name="Hill Vineyard", phone="0664 100"),
        "machine": KESTREL,
        "complaint": "slow uphill",
        "hours": 500.0,
    }
    return Intake(**{**usual, **given})


def closed_once(machine_hours: float = 500.0) -> tuple[QuickShop, int]:
    """A shop where machine 1 was collected an hour ago; the number of that job."""
    quick = QuickShop()
    job = quick.to(Stage.REPAIR)
    quick.do(shop.evidence.find, job, "other", "stone in the belt", book=BOOK)
    quick.do(shop.stages.finish_repair, job)
    quick.do(shop.stages.road_test, job, True, True, True)
    quick.do(shop.closing.collect, job, Decimal(100), Decimal(100))
    quick.later(hours=1)
    return quick, job


def test_a_new_customer_and_machine_are_kept_with_the_job() -> None:
    quick = QuickShop()
    step = quick.do(
        shop.intake.take_in,
        intake(
            symptoms=("weak-drive", "weak-drive"),
            answers=(("hot-or-cold", "hot"),),
            condition="left fender bent",
            keys="one key",
            attachments="mower deck",
            payer=Payer.WARRANTY,
            order_number="PO 7",
            spend_before_call=Decimal(150),
            promise=START + timedelta(days=3),
            machine_down=True,
        ),
        book=BOOK,
        by="cy",
    )
    assert [type(record) for record in step.puts] == [Customer, Machine, Job]
    assert step.subject == 1
    assert step.why == "T-0001 taken in: Kestrel 20 SN 40-A of Hill Vineyard, 500 h: slow uphill."
    job, machine = quick.job(), quick.state.machines[1]
    assert (job.stage, job.since, job.arrived, job.hours) == (Stage.ARRIVED, START, START, 500.0)
    assert (job.condition, job.keys, job.attachments) == ("left fender bent", "one key", "mower deck")
    assert (job.payer, job.order_number, job.spend_before_call) == (Payer.WARRANTY, "PO 7", Decimal(150))
    assert job.machine_down and job.promise == START + timedelta(days=3)
    assert job.symptoms == ("weak-drive",)
    assert [(a.check, a.outcome, a.by) for a in job.answers] == [("hot-or-cold", "hot", "cy")]
    assert job.likely[0].cause == "piston-wear" and job.likely[-1].cause == "none"
    assert (machine.layout, machine.meter(), machine.first_seen) == (Layout.IN_LINE, 500.0, START)
    assert job.comeback is None


def test_without_evidence_nothing_is_called_likely() -> None:
    assert QuickShop().take_in().likely == ()


def test_the_usual_diagnostic_fee_is_the_shops() -> None:
    quick = QuickShop(diagnostic_fee=Decimal("45.00"))
    assert quick.take_in().diagnostic_fee == Decimal("45.00")
    assert quick.take_in(diagnostic_fee=Decimal(0)).diagnostic_fee == Decimal(0)


REFUSED: list[tuple[dict[str, Any], str]] = [
    ({"complaint": ""}, "complaint is blank"),
    ({"complaint": " \t\u200b\u202e"}, "complaint is blank"),
    ({"customer": NewCustomer(name=" ")}, "customer's name is blank"),
    ({"customer": 9}, "no customer number 9"),
    ({"machine": 9}, "no machine number 9"),
    ({"machine": NewMachine(model="")}, "no model (blank)"),
    ({"machine": NewMachine(model="ghost")}, "no model ghost"),
    ({"symptoms": ("sings",)}, "no symptom sings"),
    ({"answers": (("smell", "bad"),)}, "no check smell"),
    ({"answers": (("hot-or-cold", "green"),)}, "cannot come out as green"),
    ({"hours": -1.0}, "cannot be -1"),
    ({"hours": float("nan")}, "not a number"),
    ({"hours": float("inf")}, "not a number"),
    ({"hours": 60_000.5}, "cannot be 60000.5"),
    ({"hours": None, "new_meter": True}, "not read"),
    ({"diagnostic_fee": Decimal(-1)}, "diagnostic fee is negative"),
    ({"spend_before_call": Decimal("9.999")}, "finer than the shop's money"),
    ({"spend_before_call": Decimal("NaN")}, "not a sum of money"),
    ({"promise": START}, "promise is in the past"),
    ({"comeback_of": 7}, "T-0007 is no closed job of this machine"),
]


@pytest.mark.parametrize(("given", "why"), REFUSED)
def test_refused(given: dict[str, Any], why: str) -> None:
    quick = QuickShop()
    quick.refuses(shop.intake.take_in, intake(**given), book=BOOK, why=why)
    assert not quick.state.jobs and not quick.state.customers and not quick.state.machines


def test_boundaries_that_pass() -> None:
    for given in ({"hours": 0.0}, {"hours": 60_000.0}, {"hours": None}, {"promise": START + timedelta(seconds=1)}):
        quick = QuickShop()
        quick.do(shop.intake.take_in, intake(**given), book=BOOK)
        assert quick.job().hours == given.get("hours", 500.0)


# -- who --------------------------------------------------------------------------------------------------------------


def test_the_same_name_and_phone_is_the_same_customer() -> None:
    quick = QuickShop()
    quick.take_in(customer=NewCustomer(name="Hill Vineyard", phone="0664 100"))
    again = NewCustomer(name=" hill  VINEYARD", phone="(0664)-100", address="Hill 1")
    job = quick.take_in(customer=again)
    assert job.customer == 1 and len(quick.state.customers) == 1
    assert quick.state.customers[1] == Customer(id=1, name="Hill Vineyard", phone="0664 100", address="Hill 1")


def test_the_same_name_with_another_phone_is_another_customer() -> None:
    quick = QuickShop()
    quick.take_in(customer=NewCustomer(name="A. Berg", phone="1"))
    assert quick.take_in(customer=NewCustomer(name="A. Berg", phone="2")).customer == 2


def test_the_same_name_without_a_phone_is_asked_about() -> None:
    quick = QuickShop()
    quick.take_in(customer=NewCustomer(name="A. Berg", phone="1"))
    told = quick.refuses(
        shop.intake.take_in, intake(customer=NewCustomer(name="a.berg")), book=BOOK, why="known already"
    )
    assert "customer 1" in told.why and "phone" in told.would_do


# -- which machine ----------------------------------------------------------------------------------------------------


def test_a_machine_that_is_here_is_refused_with_its_tag() -> None:
    quick = QuickShop()
    quick.take_in()
    quick.refuses(shop.intake.take_in, intake(customer=1, machine=1), book=BOOK, why="here already as T-0001 (arrived)")


def test_a_declined_machine_is_here_until_it_leaves() -> None:
    quick = QuickShop()
    job = quick.to(Stage.APPROVAL)
    quick.do(shop.approval.decline, job, "Mr Hill", "phone", "too dear")
    again = intake(customer=1, machine=1)
    quick.refuses(shop.intake.take_in, again, book=BOOK, why="T-0001 (declined): let it leave first")
    quick.do(shop.closing.machine_left, job)
    quick.do(shop.intake.take_in, again, book=BOOK)
    assert quick.job(2).comeback is None, "a declined job was no repair"


def test_a_known_serial_names_its_owner_and_tag() -> None:
    quick = QuickShop()
    quick.take_in(machine=KESTREL)
    same = intake(
        customer=NewCustomer(name="Other", phone="5"), machine=NewMachine(model="kestrel-20", serial="sn40-a ")
    )
    told = quick.refuses(shop.intake.take_in, same, book=BOOK, why="Hill Vineyard's machine")
    assert "T-0001" in told.why


def test_a_serial_counts_only_within_its_model_and_none_is_no_serial() -> None:
    quick = QuickShop()
    quick.take_in(machine=KESTREL)
    quick.take_in(machine=NewMachine(model="duo-z", serial=KESTREL.serial))
    quick.take_in(machine=NewMachine(model="kestrel-20"))
    quick.take_in(machine=NewMachine(model="kestrel-20"))
    assert len(quick.state.machines) == 4


def test_another_owners_machine_asks_whether_it_changed_hands() -> None:
    quick, _ = closed_once()
    buyer = intake(customer=NewCustomer(name="Golf Club", phone="7"), machine=1)
    quick.refuses(shop.intake.take_in, buyer, book=BOOK, why="belongs to Hill Vineyard: has it changed hands?")
    quick.do(
        shop.intake.take_in,
        intake(customer=NewCustomer(name="Golf Club", phone="7"), machine=1, new_owner=True),
        book=BOOK,
    )
    assert quick.state.machines[1].customer == quick.job(2).customer == 2


# -- comebacks --------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("days", "comes_back"), [(0, True), (89, True), (90, True), (90.001, False), (400, False)])
def test_a_comeback_is_tied_to_the_job_before(days: float, comes_back: bool) -> None:
    quick, before = closed_once()
    quick.now = quick.state.closed[before].closed_at + timedelta(days=days)
    recent = shop.intake.recent_job(quick.state, 1, quick.now)
    assert (recent is not None) == comes_back
    job = quick.take_in(machine=1)
    assert (job.comeback is not None) == comes_back
    if job.comeback:
        assert (job.comeback.of, job.comeback.same) == (before, None)
        assert "back from T-0001" in quick.steps[-1].why


def test_the_counter_may_tie_it_to_an_older_job_of_that_machine_only() -> None:
    quick, before = closed_once()
    quick.later(days=400)
    assert quick.take_in().comeback is None
    quick.refuses(
        shop.intake.take_in,
        intake(machine=NewMachine(model="duo-z"), comeback_of=before),
        book=BOOK,
        why="no closed job of this machine",
    )
    job = quick.take_in(machine=1, comeback_of=before)
    assert job.comeback is not None and job.comeback.of == before


def test_a_comeback_learns_whether_it_was_the_same_trouble() -> None:
    quick = QuickShop()
    for cause in ("bypass-open", "bypass-open", "low-oil"):
        job = quick.to(Stage.REPAIR, machine=1 if quick.state.machines else KESTREL)
        quick.do(shop.evidence.find, job, cause, book=BOOK)
        quick.do(shop.evidence.confirm, job, cause)
        quick.do(shop.stages.finish_repair, job)
        quick.do(shop.stages.road_test, job, True, True, True)
        quick.do(shop.closing.collect, job, Decimal(10), Decimal(10))
        quick.later(days=2)
    told = [quick.filed[id][0].comeback for id in (1, 2, 3)]
    assert told[0] is None
    assert [(c.of, c.same) for c in told[1:] if c] == [(1, True), (2, False)]


# -- the hour meter ---------------------------------------------------------------------------------------------------


def again(hours: float | None, new_meter: bool = False) -> Intake:
    return intake(customer=1, machine=1, hours=hours, new_meter=new_meter)


def test_a_lower_reading_asks_whether_the_meter_was_replaced() -> None:
    quick, _ = closed_once()
    quick.later(days=30)
    told = quick.refuses(shop.intake.take_in, again(499.9), book=BOOK, why="meter replaced?")
    assert "499.9 h" in told.why and "500 h" in told.why
    quick.do(shop.intake.take_in, again(12, new_meter=True), book=BOOK)
    machine = quick.state.machines[1]
    assert machine.readings[-1].new_meter and machine.meter() == 12.0 and machine.age() == 512.0


def test_an_equal_reading_passes_and_an_unread_meter_adds_none() -> None:
    quick, _ = closed_once()
    quick.do(shop.intake.take_in, again(500), book=BOOK)
    assert len(quick.state.machines[1].readings) == 2
    other, _ = closed_once()
    other.do(shop.intake.take_in, again(None), book=BOOK)
    assert len(other.state.machines[1].readings) == 1 and other.job(2).hours is None


@pytest.mark.parametrize(
    ("hours", "new_meter", "passes"),
    [(549.0, False, True), (549.1, False, False), (49.0, True, True), (49.1, True, False)],
)
def test_the_calendar_bounds_the_hours(hours: float, new_meter: bool, passes: bool) -> None:
    """48 h after the last reading at most 48 h more can be on the meter, and one of slack."""
    quick, _ = closed_once()
    quick.now = quick.state.machines[1].readings[-1].at + timedelta(hours=48)
    if passes:
        quick.do(shop.intake.take_in, again(hours, new_meter), book=BOOK)
    else:
        quick.refuses(shop.intake.take_in, again(hours, new_meter), book=BOOK, why="only 48 h have passed")


def test_a_clock_that_went_back_allows_no_more_hours() -> None:
    quick, _ = closed_once()
    quick.now = quick.state.machines[1].readings[-1].at - timedelta(days=2)
    quick.refuses(shop.intake.take_in, again(502), book=BOOK, why="only 0 h have passed")
