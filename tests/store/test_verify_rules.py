"""verify on rules of the shop: what is kept must be safe, asked and counted, whoever wrote it; and on PINs."""

from __future__ import annotations

import os

import msgspec
import pytest
from aids.store_steps import START, need, take_in

from shopboard.records import Approval, Return, ReturnKind, RoadTest, Stage, Step, Stock
from shopboard.store import open_shop, verify
from shopboard.store.pins import Pins

MODELS = '[[model]]\nid = "field-20"\nname = "Field 20"\nlayout = "in-line"\n'


@pytest.fixture
def shop(folder):
    (folder / "models.toml").write_text(MODELS)
    store = open_shop(folder)
    store.commit("ana", take_in("one"))
    store.commit("ana", need(1, "S-1"))
    store.close()
    assert verify(folder) == ()
    return folder


def _keep(shop, *puts):
    store = open_shop(shop)
    store.commit("ana", lambda state, now: Step("by hand", puts))
    store.close()


def _job(shop, **fields):
    return msgspec.structs.replace(open_shop(shop).state.jobs[1], **fields)


def _line(shop, **fields):
    return msgspec.structs.replace(open_shop(shop).state.parts[1], **fields)


def _one(shop):
    (fault,) = verify(shop)
    assert fault.mend and "\n" not in f"{fault.where}{fault.why}{fault.mend}"
    return f"{fault.where} {fault.why}"


PASSED = RoadTest(passed=True, interlocks_proved=True, brake_proved=True, at=START, by="bo")


@pytest.mark.parametrize(
    "test", [None, *(msgspec.structs.replace(PASSED, **{f: False}) for f in ("passed", "brake_proved"))]
)
def test_a_machine_ready_to_collect_untested(shop, test):
    _keep(shop, _job(shop, stage=Stage.COLLECT, road_test=test))
    assert _one(shop) == "T-0001 is ready to collect without a passed road test"
    _keep(shop, _job(shop, stage=Stage.COLLECT, road_test=PASSED))
    assert verify(shop) == ()


def test_a_job_that_waits_for_an_answer_nobody_asked_for(shop):
    _keep(shop, _job(shop, stage=Stage.APPROVAL))
    assert _one(shop) == "T-0001 waits for approval, but nothing is asked"
    asked = Approval(asked=100, asked_at=START, asked_by="ana")
    _keep(shop, _job(shop, stage=Stage.APPROVAL, approval=asked))
    assert verify(shop) == ()


def test_a_declined_job_without_its_day(shop):
    _keep(shop, _job(shop, stage=Stage.DECLINED))
    assert _one(shop) == "T-0001 is declined, but nobody noted when"


def test_more_received_than_ordered(shop):
    _keep(shop, _line(shop, received=5))
    assert _one(shop) == "part line 1 has 5 received of 1 ordered"


def test_more_kept_than_lies_in_the_bins(shop):
    _keep(shop, _line(shop, reserved=1))
    assert _one(shop) == "part S-1 has 1 kept for jobs, but 0 lie in the bins"
    _keep(shop, Stock(id=1, number="S-1", name="kit", bin="A", quantity=1))
    assert verify(shop) == ()


def test_one_bin_counted_twice(shop):
    _keep(shop, *(Stock(id=id, number="S-1", name="kit", bin="A", quantity=1) for id in (1, 2)))
    assert _one(shop) == "stock entry 2 is S-1 in bin “A”, which entry 1 is too"


def test_a_return_from_nowhere(shop):
    sent = Return(id=1, kind=ReturnKind.CORE, line=1, job=77, number="S-1", name="pump", since=START)
    _keep(shop, sent)
    assert _one(shop) == "return 1 comes from T-0077, which is not there"
    _keep(shop, msgspec.structs.replace(sent, job=1, supplier="far"))
    assert _one(shop) == 'return 1 goes to "far", whom shop.toml does not know'


def test_pins_of_strangers_open_to_others_or_broken(shop):
    Pins(shop).set("me", "4711")
    assert verify(shop) == ()
    Pins(shop).set("gone", "4711")
    assert _one(shop) == 'pins.toml holds a PIN of "gone", whom shop.toml does not know'
    Pins(shop).clear("gone")
    if os.name == "posix":
        (shop / "pins.toml").chmod(0o644)
        assert _one(shop) == "pins.toml can be read by other users of this machine"
        (shop / "pins.toml").chmod(0o600)
    (shop / "pins.toml").write_text("x")
    (shop / "pins.toml").chmod(0o600)
    assert "cannot be read" in _one(shop)
