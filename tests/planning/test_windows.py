"""Free stretches on masks, against looking at every slot one by one."""

from __future__ import annotations

import doctest

from hypothesis import given
from hypothesis import strategies as st

from shopboard.planning import windows
from shopboard.planning.windows import Hours, blocked, lowest_clear, ones

END = 60
masks = st.integers(0, (1 << END) - 1)


def bits(mask: int) -> set[int]:
    return {slot for slot in range(mask.bit_length()) if mask >> slot & 1}


def test_examples_in_the_docstrings() -> None:
    assert doctest.testmod(windows).failed == 0


@given(st.integers(0, 50), st.integers(0, 50))
def test_ones_are_the_slots_between(first: int, end: int) -> None:
    assert bits(ones(first, end)) == set(range(first, end))


@given(masks, st.integers(1, 40))
def test_blocked_marks_where_no_free_stretch_begins(busy: int, slots: int) -> None:
    taken = bits(busy)
    assert bits(blocked(busy, slots)) == {s for s in range(END) if taken & set(range(s, s + slots))}


@given(masks, st.integers(0, 70))
def test_lowest_clear_is_the_first_free_slot(busy: int, first: int) -> None:
    found = lowest_clear(busy, first)
    assert found >= first
    assert found not in bits(busy)
    assert set(range(first, found)) <= bits(busy)


def earliest_by_looking(there: set[int], busy: set[int], ready: int, slots: int) -> tuple[int, int]:
    for start in range(ready, END):
        worked = [slot for slot in range(start, END) if slot in there][:slots]
        if start in there and len(worked) == slots and not busy & set(range(start, worked[-1] + 1)):
            return start, worked[-1] + 1
    return -1, -1


@given(masks, masks, masks, st.integers(0, END), st.integers(1, 12))
def test_earliest_work_of_somebody_who_comes_and_goes(there: int, mine: int, bay: int, ready: int, slots: int) -> None:
    taken = blocked(mine, slots) | blocked(bay, slots)
    found = Hours(there, END).earliest(taken, (mine, bay), ready, slots)
    assert found == earliest_by_looking(bits(there), bits(mine | bay), ready, slots)


@given(masks, st.integers(0, END), st.integers(1, 12))
def test_earliest_work_of_somebody_who_is_always_there(busy: int, ready: int, slots: int) -> None:
    found = Hours(ones(0, END), END).earliest(blocked(busy, slots), (busy,), ready, slots)
    assert found == earliest_by_looking(set(range(END)), bits(busy), ready, slots)


def test_first_slot_and_end_at_the_edges() -> None:
    mornings = Hours(ones(0, 4) | ones(8, 12), 12)
    assert [mornings.first(slot) for slot in (0, 3, 4, 8, 12)] == [0, 3, 8, 8, 12]
    assert mornings.end_of(3, 2) == 9
    assert mornings.end_of(11, 1) == 12
    assert mornings.end_of(11, 2) == -1
    assert Hours(ones(0, 12), 12).end_of(10, 2) == 12
    assert Hours(ones(0, 12), 12).end_of(10, 3) == -1
