"""What every engine promises of undo. Nothing here knows of files: a second engine must pass it unchanged."""

from __future__ import annotations

from datetime import datetime

import msgspec
import pytest
from aids.store_steps import call, change, collect, need, picture, stand, take_in

from shopboard.records import Refused, ShopState, Step, Table


def test_undoing_a_collection_brings_the_job_back_with_its_parts(shop):
    store, other = shop.open(), shop.open()
    store.commit("ana", take_in())
    store.commit("ana", need(1, "S-1"))
    before = picture(store.state)
    store.commit("ana", collect(1))
    store.checkpoint()
    undone = store.undo("ana")
    other.refresh()
    assert (undone.undoes, undone.why, undone.subject) == (3, "undone: T-0001 collected", 1)
    for seen in (store, other, shop.open()):
        assert picture(seen.state) == before | {"seq": 4}
    store.checkpoint()
    assert picture(shop.open().state) == before | {"seq": 4}


def test_undo_takes_back_the_last_of_ones_own_that_still_counts(shop):
    store = shop.open()
    store.commit("ana", take_in())
    store.commit("ana", call(1, "111"))
    store.commit("bo", take_in())
    assert store.undoable("ana").seq == 2
    assert store.undo("ana").undoes == 2
    assert store.state.customers[1].phone == ""
    assert store.undo("ana").undoes == 1
    assert 1 not in store.state.customers and 1 not in store.state.jobs
    assert store.undoable("ana") is None
    with pytest.raises(Refused, match="nothing of yours"):
        store.undo("ana")
    assert store.state.jobs.keys() == {2}


def test_undo_is_refused_naming_the_later_change(shop):
    store = shop.open()
    store.commit("ana", take_in())
    store.commit("ana", call(1, "111"))
    store.commit("bo", call(1, "222"))
    before = picture(store.state)
    with pytest.raises(Refused, match=r"change 2 \(ana: another phone\) .* change 3 \(bo: another phone\)"):
        store.undo("ana", 2)
    assert picture(store.state) == before
    store.undo("bo", 3)
    assert store.state.customers[1].phone == "111"
    store.undo("ana", 2)
    assert store.state.customers[1].phone == ""


def test_an_undone_change_cannot_be_undone_twice_but_its_undoing_can(shop):
    store = shop.open()
    store.commit("ana", take_in())
    store.commit("ana", call(1, "111"))
    undoing = store.undo("ana")
    with pytest.raises(Refused, match="undone already"):
        store.undo("ana", 2)
    store.undo("ana", undoing.seq)
    assert store.state.customers[1].phone == "111"
    assert store.undoable("ana").seq == 2
    store.undo("ana")
    assert store.state.customers[1].phone == ""
    with pytest.raises(Refused, match="no change 77"):
        store.undo("ana", 77)


def test_a_chain_of_undoings_leaves_the_first_change_undone_again_after_an_odd_number(shop):
    store = shop.open()
    store.commit("ana", take_in())
    for seq in (1, 2, 3):
        store.undo("ana", seq)
    assert not store.state.jobs
    assert store.undoable("ana") is None
    with pytest.raises(Refused, match="undone already"):
        store.undo("ana", 1)
    store.undo("ana", 4)
    assert store.state.jobs.keys() == {1}
    assert store.undoable("ana").seq == 1


def test_undo_reaches_behind_a_checkpoint(shop):
    store = shop.open()
    store.commit("ana", take_in())
    store.checkpoint()
    store.commit("ana", call(1, "111"))
    store.checkpoint()
    store.commit("ana", take_in())
    store.checkpoint()
    other = shop.open()
    other.undo("bo", 3)
    other.undo("bo", 2)
    assert other.state.customers[1].phone == "" and other.state.jobs.keys() == {1}


def test_undo_of_a_new_record_is_refused_while_another_needs_it(shop):
    store = shop.open()
    store.commit("ana", take_in())

    def same_machine(state: ShopState, now: datetime) -> Step:
        job = msgspec.structs.replace(state.jobs[1], id=state.next_id(Table.JOBS))
        return Step("came again", (job,), subject=job.id)

    store.commit("bo", same_machine)
    with pytest.raises(Refused, match="T-0002 needs"):
        store.undo("ana")
    store.undo("bo")
    store.commit("bo", need(1, "S-1"))
    with pytest.raises(Refused, match="part line 1 needs"):
        store.undo("ana")


def test_undo_never_puts_two_machines_in_one_bay(shop):
    store = shop.open()
    store.commit("ana", take_in("one"))
    store.commit("ana", take_in("two"))
    store.commit("ana", stand(1, "lift"))
    store.commit("ana", change(1, "out", bay=""))
    store.commit("bo", stand(2, "lift"))
    with pytest.raises(Refused, match="T-0002 stands in lift"):
        store.undo("ana")
    store.undo("bo")
    store.undo("ana")
    assert store.state.job_in_bay("lift").id == 1
