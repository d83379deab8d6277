"""What every engine promises. Nothing here knows of files: a second engine must pass it unchanged."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta, timezone

import msgspec
import pytest
from aids.store_steps import (
    START,
    change,
    collect,
    count_up,
    fit,
    need,
    picture,
    remark,
    stand,
    take_in,
    ticking,
)

from shopboard.records import Refused, ShopState, Spell, Stage, Step, Table
from shopboard.store import CommitFailed


def test_a_commit_is_numbered_signed_dated_and_seen(shop):
    here = datetime(2026, 3, 30, 10, 15, tzinfo=timezone(timedelta(hours=2)))
    store = shop.open(lambda: here)
    first = store.commit("ana", take_in("no drive"))
    assert (first.seq, first.by, first.why, first.subject) == (1, "ana", "took in T-0001", 1)
    assert first.at == here and first.at.tzinfo == UTC
    assert store.state.seq == 1
    assert store.state.jobs[1].complaint == store.state.customers[1].name == "no drive"
    assert store.state.jobs[1].arrived == here


def test_another_terminal_sees_it_and_each_sees_only_what_is_new_to_it(shop):
    a, b = shop.open(), shop.open()
    made = [a.commit("ana", take_in("one")), a.commit("ana", take_in("two"))]
    assert b.refresh() == tuple(made)
    assert picture(b.state) == picture(a.state)
    assert b.refresh() == () and a.refresh() == ()
    third = b.commit("bo", take_in("three"))
    assert b.refresh() == ()
    assert a.refresh() == (third,)


def test_what_a_commit_took_in_from_others_is_still_told_by_the_next_refresh(shop):
    a, b = shop.open(), shop.open()
    first = a.commit("ana", take_in("one"))
    b.commit("bo", take_in("two"))
    assert b.state.jobs.keys() == {1, 2}
    assert b.refresh() == (first,)


def test_the_state_stays_the_same_object(shop):
    store, other = shop.open(), shop.open()
    state = store.state
    other.commit("bo", take_in())
    other.checkpoint()
    other.commit("bo", take_in())
    store.refresh()
    store.checkpoint()
    assert store.state is state and state.seq == 2


def test_a_refusal_passes_through_and_changes_nothing(shop):
    store = shop.open()
    store.commit("ana", take_in())
    before = picture(store.state)
    with pytest.raises(Refused, match="job 7 is not open"):
        store.commit("ana", collect(7))
    assert picture(store.state) == before == picture(shop.open().state)
    assert store.commit("ana", take_in()).seq == 2


def test_rules_see_the_freshest_records_so_no_update_is_lost(shop):
    a, b = shop.open(), shop.open()
    a.commit("ana", take_in())
    for _ in range(5):
        a.commit("ana", count_up(1))
        b.commit("bo", count_up(1))
    assert b.state.customers[1].note == "10"


def test_a_step_allowed_to_one_person_is_not_signed_by_another(shop):
    store = shop.open()
    with pytest.raises(Refused, match="allowed to bo, not to dee"):
        store.commit("dee", lambda state, now: Step("a trick", by="bo"))
    assert store.state.seq == 0


def test_a_precondition_that_changed_meanwhile_refuses(shop):
    a, b = shop.open(), shop.open()
    a.commit("ana", take_in("one"))
    a.commit("ana", take_in("two"))
    b.refresh()
    a.commit("ana", stand(1, "lift"))
    assert b.state.job_in_bay("lift") is None
    with pytest.raises(Refused, match="T-0001 stands in lift"):
        b.commit("bo", stand(2, "lift"))


@pytest.mark.parametrize("minutes", [-1.0, float("nan"), float("inf")])
def test_what_could_not_be_read_back_is_not_kept(shop, minutes):
    store = shop.open()
    store.commit("ana", take_in())
    spell = Spell(by="ana", at=START, minutes=minutes)
    before = picture(store.state)
    with pytest.raises(CommitFailed, match="cannot be read back"):
        store.commit("ana", change(1, "spent", spent=(spell,)))
    assert picture(store.state) == before == picture(shop.open().state)


def test_half_a_character_is_not_kept(shop):
    store = shop.open()
    with pytest.raises(CommitFailed, match="half a character"):
        store.commit("ana", take_in("\ud83d"))
    assert store.state.seq == 0


@pytest.mark.parametrize(
    "text",
    ["[left]", "[/b]", "\x1b[31m\x00\r\n", '{"c":"00000000","s":1,', "x" * 10_000, "שלום 機械 🚜", "\u2028\u202e"],
)
def test_hostile_text_comes_back_as_it_was(shop, text):
    store = shop.open()
    store.commit(text, take_in(text))
    store.checkpoint()
    store.commit(text, remark(1, text))
    again = shop.open()
    assert again.state.jobs[1].complaint == again.state.jobs[1].notes[0].text == text
    assert [c.by for c in again.changes()] == [text, text]


def test_a_closed_job_is_whole_before_and_after_it_is_put_at_rest(shop):
    store, other = shop.open(), shop.open()
    store.commit("ana", take_in())
    store.commit("ana", need(1, "S-1"))
    store.commit("ana", fit(1))
    store.commit("ana", collect(1))
    other.refresh()
    job, lines = store.state.load_closed(1)
    assert job.stage is Stage.COLLECTED and [line.number for line in lines] == ["S-1"]
    assert not store.state.jobs and not store.state.parts
    summary = store.state.closed[1]
    assert (summary.causes, summary.minutes, summary.closed_at) == (("charge-worn",), 60, job.closed_at)
    before = picture(store.state)
    store.checkpoint()
    for seen in (store, other, shop.open()):
        assert picture(seen.state) == before
    assert store.state.load_closed(2) is None


def test_a_declined_job_stays_until_the_machine_has_left(shop):
    store = shop.open()
    store.commit("ana", take_in())
    store.commit("ana", change(1, "declined", stage=Stage.DECLINED, closed_at=START))
    store.checkpoint()
    assert 1 in store.state.jobs and not store.state.closed
    store.commit("ana", change(1, "left", left=START))
    assert not store.state.jobs and store.state.closed[1].stage is Stage.DECLINED


def test_a_note_on_a_job_long_closed_keeps_all_the_rest(shop):
    store = shop.open()
    store.commit("ana", take_in())
    store.commit("ana", need(1, "S-1"))
    store.commit("ana", collect(1))
    store.checkpoint()
    job, lines = store.state.load_closed(1)
    other = shop.open()
    other.commit("bo", remark(1, "rang: runs well", by="bo"))
    store.refresh()
    for seen in (store, other, shop.open()):
        after, same_lines = seen.state.load_closed(1)
        assert same_lines == lines
        assert [note.text for note in after.notes] == ["rang: runs well"]
        assert msgspec.structs.replace(after, notes=()) == job
    before = picture(store.state)
    other.checkpoint()
    store.checkpoint()
    assert picture(store.state) == before == picture(shop.open().state)


def test_a_job_closed_again_in_a_later_month_is_there_once(shop):
    day = [START]
    store = shop.open(lambda: day[0])
    store.commit("ana", take_in())
    store.commit("ana", need(1, "S-1"))
    store.commit("ana", collect(1))
    store.checkpoint()
    store.undo("ana")
    store.checkpoint()
    day[0] = START + timedelta(days=40)
    store.commit("ana", collect(1))
    store.checkpoint()
    again = shop.open()
    assert again.state.closed[1].closed_at == day[0]
    job, lines = again.state.load_closed(1)
    assert job.closed_at == day[0] and len(lines) == 1 and not again.state.jobs


def test_an_id_is_never_given_twice(shop):
    store = shop.open()
    store.commit("ana", take_in())
    store.undo("ana")
    assert not store.state.jobs
    store.checkpoint()
    again = shop.open()
    again.commit("ana", take_in())
    assert again.state.jobs.keys() == again.state.customers.keys() == again.state.machines.keys() == {2}


def test_history_in_order_by_job_and_from_a_number(shop):
    store = shop.open()
    made = [store.commit("ana", take_in("one")), store.commit("ana", take_in("two"))]
    made.append(store.commit("bo", need(1, "S-1")))
    store.checkpoint()
    made.append(store.commit("ana", collect(2)))
    made.append(store.undo("ana"))
    assert list(store.changes()) == made == list(shop.open().changes())
    assert list(store.changes(since=2)) == made[2:]
    assert list(store.changes(since=3)) == made[3:]
    assert [c.seq for c in store.changes(subject=1)] == [1, 3]
    assert [c.seq for c in store.changes(subject=2, since=1)] == [2, 4, 5]
    assert list(store.changes(subject=9)) == []


def test_a_clock_that_goes_back_loses_nothing(shop):
    store = shop.open(ticking(step=timedelta(days=-400)))
    for number in range(4):
        store.commit("ana", take_in(str(number)))
    store.commit("ana", collect(1))
    store.checkpoint()
    again = shop.open()
    assert [c.seq for c in again.changes()] == [1, 2, 3, 4, 5]
    assert picture(again.state) == picture(store.state)


def test_one_step_may_carry_very_many_records(shop):
    store = shop.open()

    def everything(state: ShopState, now: datetime) -> Step:
        made = [
            take_in(str(n))(ShopState(state.settings, {}, next_ids=dict.fromkeys(Table, n)), now) for n in range(1, 801)
        ]
        closed = [
            msgspec.structs.replace(job, stage=Stage.COLLECTED, closed_at=now) for _, _, job in (s.puts for s in made)
        ]
        return Step("brought over", tuple(r for s in made for r in s.puts[:2]) + tuple(closed))

    store.commit("ana", everything)
    assert len(store.state.closed) == 800 and not store.state.jobs
    store.checkpoint()
    again = shop.open()
    assert picture(again.state) == picture(store.state)
    assert again.state.next_id(Table.JOBS) == 801


def test_closing_twice_is_harmless_and_a_closed_store_takes_nothing(shop):
    store = shop.open()
    store.commit("ana", take_in())
    store.close()
    store.close()
    with pytest.raises(CommitFailed, match="the shop is closed"):
        store.commit("ana", take_in())
    assert shop.open().state.seq == 1


def test_a_sound_shop_has_nothing_to_tell(shop):
    store = shop.open()
    store.commit("ana", take_in())
    store.checkpoint()
    assert store.notices() == shop.open().notices() == () and store.read_only == ""


def test_a_terminal_that_slept_through_it_all_catches_up_at_once(shop):
    """Closed before and after the others' checkpoint, brought back, closed again: taken in with one look."""
    store, sleeper = shop.open(), shop.open()
    for word in ("one", "two", "three"):
        store.commit("ana", take_in(word))
    store.commit("ana", need(2, "S-2"))
    store.commit("ana", collect(1))
    store.checkpoint()
    store.commit("ana", collect(2))
    store.undo("ana", 5)
    store.checkpoint()
    store.commit("ana", collect(3))
    assert [change.seq for change in sleeper.refresh()] == list(range(1, 9))
    assert picture(sleeper.state) == picture(store.state)
    sleeper.checkpoint()
    for seen in (store, sleeper, shop.open()):
        assert picture(seen.state) == picture(store.state)
    assert store.state.jobs.keys() == {1} and len(store.state.load_closed(2)[1]) == 1


def test_a_job_closed_just_after_a_checkpoint_is_whole_for_one_who_sees_both_at_once(shop):
    store, other = shop.open(), shop.open()
    store.commit("ana", take_in("one"))
    store.commit("ana", take_in("two"))
    store.commit("ana", need(2, "S-2"))
    store.commit("ana", collect(1))
    other.refresh()
    store.checkpoint()
    store.commit("ana", collect(2))
    assert [change.seq for change in other.refresh()] == [5]
    assert picture(other.state) == picture(store.state)
    assert len(other.state.load_closed(2)[1]) == 1
    other.checkpoint()
    assert picture(shop.open().state) == picture(store.state)
