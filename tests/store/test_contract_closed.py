"""All closed jobs whole at once: what every engine promises. Nothing here knows of files."""

from __future__ import annotations

from datetime import timedelta

from aids.store_steps import START, change, collect, fit, need, remark, take_in

from shopboard.records import Stage


def _whole(store):
    found = list(store.closed_jobs())
    by_id = {job.id: (job, lines) for job, lines in found}
    assert len(by_id) == len(found), "a job came twice"
    return by_id


def _agrees(store):
    """The same jobs, each the same, as when they are asked for one by one."""
    found = _whole(store)
    assert found == {id: store.state.load_closed(id) for id in store.state.closed}
    return found


def test_a_shop_that_closed_nothing_has_none(shop):
    store = shop.open()
    assert _agrees(store) == {}
    store.commit("ana", take_in())
    assert _agrees(store) == {}


def test_closed_jobs_come_whole_with_their_lines_before_and_after_they_are_put_at_rest(shop):
    store, other = shop.open(), shop.open()
    for word in ("one", "two", "three"):
        store.commit("ana", take_in(word))
    store.commit("ana", need(1, "S-1"))
    store.commit("ana", need(2, "S-2"))
    store.commit("ana", fit(1))
    store.commit("ana", collect(1))
    before = _agrees(store)
    assert before.keys() == {1} and [line.number for line in before[1][1]] == ["S-1"]
    store.checkpoint()
    assert _agrees(store) == before
    store.commit("ana", collect(2))
    assert _agrees(store).keys() == {1, 2}
    # another terminal answers for what it has seen, and no more
    assert _agrees(other) == {}
    other.refresh()
    for seen in (other, shop.open()):
        assert _agrees(seen) == _whole(store)


def test_over_many_months_each_comes_once_also_after_it_was_closed_again(shop):
    day = [START]
    store = shop.open(lambda: day[0])
    for number in range(5):
        day[0] = START + timedelta(days=33 * number)
        store.commit("ana", take_in(str(number)))
        store.commit("ana", collect(number + 1))
        store.checkpoint()
    assert _agrees(store).keys() == {1, 2, 3, 4, 5}
    store.undo("ana")
    assert _agrees(store).keys() == {1, 2, 3, 4}
    store.checkpoint()
    day[0] = START + timedelta(days=400)
    store.commit("ana", collect(5))
    assert _agrees(store)[5][0].closed_at == day[0]
    store.checkpoint()
    assert _agrees(shop.open())[5][0].closed_at == day[0]


def test_a_note_on_a_job_long_closed_is_there_at_once(shop):
    store = shop.open()
    store.commit("ana", take_in())
    store.commit("ana", collect(1))
    store.checkpoint()
    store.commit("ana", remark(1, "rang: runs well"))
    assert [note.text for note in _agrees(store)[1][0].notes] == ["rang: runs well"]


def test_a_declined_job_is_among_them_once_the_machine_has_left(shop):
    store = shop.open()
    store.commit("ana", take_in())
    store.commit("ana", change(1, "declined", stage=Stage.DECLINED, closed_at=START))
    assert _agrees(store) == {}
    store.commit("ana", change(1, "left", left=START))
    assert _agrees(store)[1][0].stage is Stage.DECLINED


def test_what_is_committed_meanwhile_neither_waits_nor_shows(shop):
    store = shop.open()
    for word in ("one", "two", "three"):
        store.commit("ana", take_in(word))
    store.commit("ana", collect(1))
    store.checkpoint()
    store.commit("ana", collect(2))
    walk = store.closed_jobs()
    first = next(walk)
    store.commit("ana", collect(3))
    store.checkpoint()
    assert {job.id for job, _ in (first, *walk)} == {1, 2}
    assert _agrees(store).keys() == {1, 2, 3}
