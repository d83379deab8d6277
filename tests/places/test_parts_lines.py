"""What Parts says is so: late from the day after the supplier's date, every line once, what frees a job."""

from __future__ import annotations

from datetime import date

import pytest
from aids.line_shop import BERLIN, NOW, job, part, shop_of
from rich.cells import cell_len

from shopboard.places.parts_lines import facts, frees, groups, part_detail, parts_lines
from shopboard.records import PartState

TODAY = date(2026, 11, 24)


@pytest.mark.parametrize(
    ("expected", "title"),
    [(date(2026, 11, 23), "late"), (TODAY, "arriving"), (date(2026, 11, 25), "arriving"), (None, "on order, no date")],
)
def test_late_begins_the_day_after(expected: date | None, title: str) -> None:
    state = shop_of(job(), part(state=PartState.ORDERED, expected=expected))
    assert [group.title for group in groups(state, TODAY, BERLIN)] == [title]
    assert facts(state, TODAY).startswith(f"late {int(title == 'late')} ")


def test_every_line_that_asks_for_something_stands_once_what_is_done_not_at_all() -> None:
    lines = [part(n, state=state) for n, state in enumerate(PartState, 1)]
    keys = [row.key for row in parts_lines(shop_of(job(), *lines), NOW, BERLIN, 80) if row.key]
    done = (PartState.FITTED, PartState.RETURNED)
    assert sorted(keys) == sorted(str(line.id) for line in lines if line.state not in done)


def test_what_is_late_longest_stands_first() -> None:
    days = [date(2026, 11, 20), date(2026, 11, 2), date(2026, 11, 23)]
    state = shop_of(job(), *(part(n, state=PartState.BACK_ORDERED, expected=day) for n, day in enumerate(days, 1)))
    assert [line.id for line in groups(state, TODAY, BERLIN)[0].lines] == [2, 1, 3]


def test_lines_to_order_stand_by_supplier() -> None:
    state = shop_of(job(), part(1, supplier="seal"), part(2, supplier="north"), part(3), part(4, supplier="seal"))
    found = {group.title: [line.id for line in group.lines] for group in groups(state, TODAY, BERLIN)}
    assert found == {
        "to order from a supplier to be chosen": [3],
        "to order from North Parts": [2],
        "to order from Seal House": [1, 4],
    }


def test_only_the_last_part_missing_frees_its_job() -> None:
    last, other, here = part(1, state=PartState.ORDERED), part(2), part(3, state=PartState.RECEIVED)
    assert frees(shop_of(job(), last, here), last)
    assert not frees(shop_of(job(), last, other), last)
    bins = part(4, job=None)
    assert not frees(shop_of(job(), bins), bins)


@pytest.mark.parametrize("width", [80, 110, 160])
def test_no_row_is_wider_than_the_screen(width: int) -> None:
    long = part(name="n" * 200, number="9" * 200, state=PartState.PARTLY_RECEIVED, quantity=999, received=100)
    state = shop_of(job(), long)
    rows = [*parts_lines(state, NOW, BERLIN, width), *part_detail(state, long, NOW, BERLIN, width)]
    assert max(cell_len(row.text) for row in rows) <= width
