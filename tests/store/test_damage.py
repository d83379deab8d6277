"""Torn ends, flipped bits, gaps and lost files: mended and told, or refused with file and line; never half believed."""

from __future__ import annotations

import shutil
from datetime import timedelta

import pytest
from aids.store_steps import START, call, collect, picture, take_in, ticking
from hypothesis import given, settings
from hypothesis import strategies as st

from shopboard.store import CommitFailed, ShopUnusable, new_shop, open_shop
from shopboard.store.journal import BadLine, is_torn, line_of, number_in, scan

FIRST = "000000000001.jsonl"


def _shop_of(folder, changes, *, at_rest=False):
    """A shop with so many changes, all still in its one plain segment, and its pictures after each of them."""
    store = open_shop(folder, clock=ticking())
    pictures = [picture(store.state)]
    for number in range(changes):
        store.commit("ana", take_in(f"n{number}"))
        pictures.append(picture(store.state))
    if at_rest:
        store.checkpoint()
    return pictures


def _lines(folder):
    return (folder / "journal" / FIRST).read_bytes().splitlines(keepends=True)


def _with_journal(folder, tmp_path, name, data):
    copy = tmp_path / name
    if copy.exists():
        shutil.rmtree(copy)
    shutil.copytree(folder, copy)
    (copy / "journal" / FIRST).write_bytes(data)
    return copy


def test_the_last_line_torn_at_every_byte(folder, tmp_path):
    pictures = _shop_of(folder, 3)
    *good, last = _lines(folder)
    for length in range(1, len(last)):
        torn = _with_journal(folder, tmp_path, "torn", b"".join(good) + last[:length])
        store = open_shop(torn, clock=ticking())
        assert picture(store.state) == pictures[2]
        (told,) = store.notices()
        assert "change 3" in told and "torn-000000000003.bin" in told
        assert (torn / "journal" / "torn-000000000003.bin").read_bytes() == last[:length]
        assert store.commit("ana", take_in("again")).seq == 3
        assert open_shop(torn).notices() == ()


def test_a_line_torn_while_open_is_cut_by_the_next_commit(folder):
    store = open_shop(folder)
    store.commit("ana", take_in())
    with (folder / "journal" / FIRST).open("ab") as file:
        file.write(b'{"c":"0000')
    assert store.refresh() == ()
    assert store.commit("ana", take_in()).seq == 2
    (told,) = store.notices()
    assert "change 2" in told
    assert open_shop(folder).state.seq == 2


def _flip(data, bit):
    flipped = bytearray(data)
    flipped[bit // 8] ^= 1 << bit % 8
    return bytes(flipped)


def _flips(folder, tmp_path, every):
    pictures = _shop_of(folder, 3)
    data = b"".join(_lines(folder))
    last = len(data) - len(_lines(folder)[-1])
    refused = mended = 0
    for bit in range(0, len(data) * 8, every):
        copy = _with_journal(folder, tmp_path, "flipped", _flip(data, bit))
        try:
            store = open_shop(copy)
        except ShopUnusable as error:
            assert f"{FIRST} line" in error.why and bit // 8 < last
            refused += 1
            continue
        assert bit // 8 >= last, "damage before the last line was not refused"
        assert picture(store.state) == pictures[2]
        (told,) = store.notices()
        assert "change 3" in told
        assert (copy / "journal" / "torn-000000000003.bin").read_bytes() == _flip(data, bit)[last:]
        mended += 1
    assert refused and mended


def test_flipped_bits(folder, tmp_path):
    _flips(folder, tmp_path, every=41)


@pytest.mark.long
def test_every_single_flipped_bit(folder, tmp_path):
    _flips(folder, tmp_path, every=1)


@given(st.integers(0, 10**9), st.integers(2, 4), st.data())
@settings(max_examples=200, deadline=None)
def test_scan_believes_exactly_the_lines_before_any_damage(first, count, data):
    from datetime import UTC, datetime

    from shopboard.records import Change

    made = [
        Change(seq=first + 1 + n, at=datetime(2026, 1, 1, tzinfo=UTC), by="ana", why=f"w{n}", ops=())
        for n in range(count)
    ]
    lines = [line_of(change) for change in made]
    whole = b"".join(lines)
    assert scan(whole, first + 1).changes == made
    at = data.draw(st.integers(0, len(whole) - 1))
    value = data.draw(st.integers(0, 255).filter(lambda value: value != whole[at]))
    hurt = whole[:at] + bytes([value]) + whole[at + 1 :]
    found = scan(hurt, first + 1)
    untouched = sum(sum(map(len, lines[: n + 1])) <= at for n in range(count))
    assert found.changes == made[:untouched]
    assert found.seq == first + untouched
    assert found.tail == hurt[found.good :] and found.tail
    assert is_torn(found.tail) == (untouched == count - 1)


def test_a_line_with_a_good_checksum_and_the_wrong_number_is_damage(folder):
    _shop_of(folder, 3)
    first, second, third = _lines(folder)
    assert number_in(third.rstrip(b"\n")) == 3
    with pytest.raises(BadLine):
        number_in(third[1:].rstrip(b"\n"))
    (folder / "journal" / FIRST).write_bytes(first + third)
    with pytest.raises(ShopUnusable, match=r"line 2 is change 3 where 2 was expected"):
        open_shop(folder)
    (folder / "journal" / FIRST).write_bytes(first + second + second + third)
    with pytest.raises(ShopUnusable, match=r"line 3 is change 2 where 3 was expected"):
        open_shop(folder)


def test_two_lines_run_together_are_damage_not_one_torn_line(folder):
    _shop_of(folder, 3)
    first, second, third = _lines(folder)
    (folder / "journal" / FIRST).write_bytes(first + second.rstrip(b"\n") + third)
    with pytest.raises(ShopUnusable, match="line 2"):
        open_shop(folder)


def test_a_journal_shorter_than_the_database_is_refused(folder):
    _shop_of(folder, 3).clear()
    open_shop(folder).close()
    store = open_shop(folder)
    store.commit("ana", take_in())
    store.close()
    data = _lines(folder)
    (folder / "journal" / FIRST).write_bytes(b"".join(data[:-1]))
    with pytest.raises(ShopUnusable, match="before change 4, which the database already holds"):
        open_shop(folder)


def test_damage_in_a_sealed_segment_is_refused_by_the_history_and_the_shop_still_opens(folder):
    store = open_shop(folder)
    store.commit("ana", take_in())
    store.commit("ana", take_in())
    store.checkpoint()
    store.commit("ana", take_in())
    sealed = folder / "journal" / f"{FIRST}.gz"
    sealed.write_bytes(sealed.read_bytes()[:-20])
    again = open_shop(folder)
    assert again.state.seq == 3
    with pytest.raises(ShopUnusable, match=f"{FIRST}.gz cannot be unpacked"):
        list(again.changes())


def test_a_missing_segment_is_refused(folder):
    _shop_of(folder, 3, at_rest=True)
    for path in (folder / "journal").iterdir():
        path.unlink()
    with pytest.raises(ShopUnusable, match="is missing"):
        open_shop(folder)
    shutil.rmtree(folder / "journal")
    with pytest.raises(ShopUnusable, match="the shop has no journal"):
        open_shop(folder)


@pytest.mark.parametrize("data", [b"", b"{", b"[]", b'{"meta":{}}', b'{"meta":{"2":{"seq":1}}}', b"\xff\xfe"])
def test_a_damaged_database_file_is_refused(folder, data):
    _shop_of(folder, 2, at_rest=True)
    (folder / "db" / "open.json").write_bytes(data)
    with pytest.raises(ShopUnusable, match=r"db/open\.json") as caught:
        open_shop(folder)
    assert "\n" not in str(caught.value) and "backup" in caught.value.would_do


def test_a_missing_database_file_is_refused_not_replaced_by_an_empty_one(folder):
    _shop_of(folder, 2)
    (folder / "db" / "open.json").unlink()
    with pytest.raises(ShopUnusable, match=r"db/open\.json is missing"):
        open_shop(folder)
    assert not (folder / "db" / "open.json").exists()


def test_a_lost_or_damaged_index_is_made_again_and_told_once(folder):
    store = open_shop(folder)
    for _ in range(3):
        store.commit("ana", take_in())
    store.commit("ana", collect(2))
    store.checkpoint()
    before = picture(store.state)
    for data in (None, b"{", b'{"meta":{"1":{"seq":1,"format":1}}}'):
        path = folder / "db" / "index.json"
        path.unlink() if data is None else path.write_bytes(data)
        again = open_shop(folder)
        assert picture(again.state) == before
        assert "index.json" in again.notices()[0]
        again.checkpoint()
        assert open_shop(folder).notices() == ()


def test_a_damaged_month_stops_what_needs_it_and_nothing_else(folder):
    store = open_shop(folder)
    store.commit("ana", take_in())
    store.commit("ana", collect(1))
    store.checkpoint()
    (month,) = (folder / "db").glob("closed-*.json")
    month.write_bytes(month.read_bytes()[:-30])
    again = open_shop(folder)
    assert again.state.closed.keys() == {1}
    with pytest.raises(ShopUnusable, match="cannot be read"):
        again.state.load_closed(1)
    with pytest.raises(CommitFailed, match="cannot be read"):
        again.undo("ana")
    assert again.commit("ana", take_in()).seq == 3


@pytest.mark.parametrize("hurt", [lambda path: path.write_bytes(path.read_bytes()[:-30]), lambda path: path.unlink()])
def test_closed_jobs_of_sound_months_come_before_the_message_on_the_damaged_one(folder, hurt):
    day = [START]
    store = open_shop(folder, clock=lambda: day[0])
    for number in range(4):
        day[0] = START + timedelta(days=31 * number)
        store.commit("ana", take_in())
        store.commit("ana", collect(number + 1))
        if number < 3:
            store.checkpoint()
    _, middle, _ = sorted((folder / "db").glob("closed-*.json"))
    hurt(middle)
    found = []
    with pytest.raises(ShopUnusable, match=middle.name) as caught:
        found.extend(job.id for job, _ in store.closed_jobs())
    assert found == [1, 3, 4]
    assert "\n" not in str(caught.value) and "backup" in caught.value.would_do


@pytest.mark.parametrize(
    "hurt",
    [lambda last: last.replace(b"ana", b"eve"), lambda last: last + b"x\n" + last, lambda last: last + last],
    ids=["last line flipped", "rubbish and more behind it", "the same change twice"],
)
def test_a_journal_damaged_while_open_makes_the_store_read_only(folder, hurt):
    store = open_shop(folder)
    for _ in range(3):
        store.commit("ana", take_in())
    before = picture(store.state)
    first, second, third = _lines(folder)
    (folder / "journal" / FIRST).write_bytes(first + second + hurt(third))
    with pytest.raises(CommitFailed, match=r"line [34]"):
        store.commit("ana", call(1, "1"))
    assert FIRST in store.read_only and picture(store.state) == before
    with pytest.raises(CommitFailed, match="nothing can be saved here"):
        store.commit("ana", take_in())


def test_a_shop_copied_while_closed_opens_elsewhere(folder, tmp_path):
    pictures = _shop_of(folder, 3)
    open_shop(folder).close()
    shutil.copytree(folder, tmp_path / "elsewhere")
    assert picture(open_shop(tmp_path / "elsewhere").state) == pictures[3]
    new_shop(tmp_path / "other")
