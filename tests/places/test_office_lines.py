"""What the Office says is so: why something is late, what to say on the phone, counts over exact spans of days."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal

import pytest
from aids.line_shop import BERLIN, NOW, floor_of, job, part, shop_of
from rich.cells import cell_len

from shopboard.places.office_lines import late_because, office_lines, what_to_say
from shopboard.records import Approval, ClosedJob, Operation, PartState, Stage

LONG_AGO = NOW - timedelta(days=3)


def _page(*records: object, closed: tuple[ClosedJob, ...] = (), width: int = 80) -> str:
    floor = floor_of(*records)  # type: ignore[arg-type]
    floor.state.closed.update({one.id: one for one in closed})
    rows = office_lines(floor, width)
    assert max(cell_len(row.text) for row in rows) <= width
    return "\n".join(row.text for row in rows)


def _closed(id: int, days_ago: float, *, comeback_of: int | None = None, promised: float | None = None) -> ClosedJob:
    at = NOW - timedelta(days=days_ago)
    promise = None if promised is None else at + timedelta(days=promised)
    return ClosedJob(
        id=id, customer=1, machine=1, complaint="slow", stage=Stage.COLLECTED, arrived=at, closed_at=at, minutes=90,
        comeback_of=comeback_of, promise=promise,
    )  # fmt: skip


def test_an_empty_shop_says_so_in_every_block() -> None:
    page = _page()
    for words in (
        "nothing is late",
        "nobody waits for a call",
        "no open job",
        "no closed job with a promised date yet",
    ):
        assert words in page


@pytest.mark.parametrize(
    ("facts", "because"),
    [
        ({"stage": Stage.ARRIVED}, "arrived, nobody on it for 3 d"),
        ({"stage": Stage.APPROVAL}, "waits for a yes since 21 Nov"),
        ({"stage": Stage.ROAD_TEST, "bay": "1"}, "road test, 20 min of work left"),
    ],
)
def test_why_it_is_late(facts: dict[str, object], because: str) -> None:
    late = job(since=LONG_AGO, promise=NOW - timedelta(days=1), **facts)
    assert str(late_because(floor_of(late), late)) == because


def test_a_missing_part_is_the_reason_before_any_other() -> None:
    late = job(stage=Stage.APPROVAL, promise=LONG_AGO)
    owed = part(name="seal kit", state=PartState.ORDERED, expected=date(2026, 11, 20))
    assert str(late_because(floor_of(late, owed), late)) == "seal kit 4 d late"


def test_what_to_say_names_sum_currency_work_and_earlier_calls() -> None:
    asked = Approval(asked=Decimal("412.00"), asked_at=LONG_AGO, asked_by="ana", calls=(NOW - timedelta(hours=18),))
    work = Operation(id="renew-joint", name="renew the joint", minutes=60)
    waits = job(stage=Stage.APPROVAL, approval=asked, operations=(work,))
    said = what_to_say(shop_of(waits), waits, NOW, BERLIN)
    assert said == "The estimate is 412.00 EUR to renew the joint: may we go ahead? (called once 18 h ago)"


def test_ninety_days_seven_days_and_a_year_end_where_they_say() -> None:
    moment = 1 / 86400
    page = _page(
        closed=(
            _closed(1, 7 - moment, promised=0),
            _closed(2, 7 + moment, promised=-moment),
            _closed(3, 90 - moment, comeback_of=1),
            _closed(4, 90, comeback_of=1),
            _closed(5, 365 - moment, promised=1),
            _closed(6, 365, promised=1),
        )
    )
    assert "closed in 7 days: 1, with 1.5 h booked" in page
    assert "closed in the last 90 days: 3, of these comebacks: 1" in page
    assert "closed in the last year: 3, of these by their date: 2" in page


def test_every_line_a_supplier_owes_is_on_order() -> None:
    lines = [part(n, state=state) for n, state in enumerate(PartState, 1)]
    assert "part lines on order: 3" in _page(job(stage=Stage.PARTS), *lines)


def test_the_customer_of_a_late_part_is_told_in_words() -> None:
    waits = job(1, stage=Stage.PARTS, promise=NOW)
    due = part(1, state=PartState.ORDERED, expected=date(2026, 11, 30), quantity=2, received=1)
    said = " ".join(_page(waits, due).split())
    _, found, told = said.partition("to be told that a part is late")
    assert found and "Your machine waits for seal, expected on Mon 30 Nov. That is after the day we named" in told
