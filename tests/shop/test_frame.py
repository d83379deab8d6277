"""The frame of every rule: signatures, the clock, text that no file could hold, and text that means to act."""

from __future__ import annotations

from datetime import UTC, timedelta, timezone

import pytest
from aids.quick_shop import BOOK, START, QuickShop

from shopboard import shop
from shopboard.records import Stage, decode, encode
from shopboard.records.jobs import Job
from shopboard.shop.intake import Intake, NewCustomer, NewMachine

HOSTILE = [
    "[left]clunk[/b]",
    "[/b]",
    "\x1b[31mred\x1b[0m \x07\x00",
    "x" * 10_000,
    "\u202eright to left\u202c שלום",
    "宽 e\u0301 👩‍🔧",
    "{0} %s ${HOME} `rm` \\n",
    "line\nbreak\r\nand\ttab",
    " edges kept ",
]


@pytest.mark.parametrize("text", HOSTILE)
def test_text_is_kept_and_told_as_typed(text: str) -> None:
    quick = QuickShop()
    machine = NewMachine(model="kestrel-20", serial=text, note=text, value=text)
    given = Intake(
        customer=NewCustomer(name=text, phone=text, note=text),
        machine=machine,
        complaint=text,
        condition=text,
        keys=text,
    )
    step = quick.do(shop.intake.take_in, given, book=BOOK)
    assert text in step.why
    job, customer = quick.job(), quick.state.customers[1]
    assert (job.complaint, job.condition, job.keys, customer.name) == (text, text, text, text)
    for rule, words in (
        (shop.evidence.remark, (text,)),
        (shop.stages.spend, (5, text)),
        (shop.stages.cover_off, (text,)),
        (shop.evidence.find, ("other", text, text)),
        (shop.parts.need, (text, text, 1)),
    ):
        named = {"book": BOOK} if rule is shop.evidence.find else {}
        assert text in quick.do(rule, 1, *words, **named).why
    assert decode(encode(quick.job()), Job) == quick.job()


def test_half_a_character_is_refused() -> None:
    quick = QuickShop()
    quick.take_in()
    quick.refuses(shop.evidence.remark, 1, "bad \ud800 text", why="half a character")


@pytest.mark.parametrize(("by", "why"), [("", "nobody signed"), ("  ", "nobody signed"), ("zed", "signs as zed")])
def test_every_step_is_signed_by_somebody_who_works_here(by: str, why: str) -> None:
    quick = QuickShop()
    quick.take_in()
    quick.refuses(shop.evidence.remark, 1, "hello", by=by, why=why)


def test_a_shop_that_has_named_nobody_takes_any_signature() -> None:
    quick = QuickShop(people=())
    quick.take_in()
    quick.do(shop.evidence.remark, 1, "hello", by="anybody")
    quick.refuses(shop.evidence.remark, 1, "hello", by="", why="nobody signed")


def test_times_are_kept_in_utc() -> None:
    quick = QuickShop()
    quick.now = START.astimezone(timezone(timedelta(hours=5)))
    job = quick.take_in()
    assert job.arrived == START and job.arrived.tzinfo is UTC


def test_a_time_without_a_zone_is_a_mistake_of_the_program() -> None:
    quick = QuickShop()
    quick.take_in()
    with pytest.raises(ValueError, match="zone"):
        shop.stages.diagnose(quick.state, START.replace(tzinfo=None), "ana", 1)


def test_a_rule_changes_nothing_by_itself() -> None:
    quick = QuickShop()
    quick.to(Stage.READY)
    before = (dict(quick.state.jobs), dict(quick.state.parts), dict(quick.state.machines), dict(quick.state.next_ids))
    shop.bays.put(quick.state, START, "ana", 1, "1")
    shop.parts.need(quick.state, START, "ana", 1, "S-1", "seal", 1)
    assert before == (quick.state.jobs, quick.state.parts, quick.state.machines, quick.state.next_ids)


def test_the_machine_missing_from_the_records_is_told() -> None:
    quick = QuickShop()
    quick.take_in()
    quick.state.machines.clear()
    quick.refuses(shop.evidence.tick, 1, ("weak-drive",), book=BOOK, why="machine of T-0001 is not in the records")
