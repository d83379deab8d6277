"""What the estimate, the bins and the returns say is whole at any width, and people's text never acts."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal

import msgspec
import pytest
from aids.desk import HOSTILE
from aids.papers import JOB, NOW, PARTS, changed, desk
from rich.cells import cell_len

from shopboard.estimate import CostRange
from shopboard.places.estimate_lines import ADD, ASK, Page, look, page_lines, proposed
from shopboard.places.stock_lines import bin_lines, return_lines
from shopboard.records import HourReading, Payer, Return, ReturnKind, Stage, Stock
from shopboard.records import PartLine as Line

D = Decimal
TODAY = NOW.date()


def page(**fields: object) -> Page:
    where = desk(changed(**fields))
    where.state.covers = where.book.covers
    machine = where.state.machines[1]
    readings = (HourReading(at=NOW - timedelta(days=700), hours=100), HourReading(at=NOW, hours=1412))
    where.state.machines[1] = msgspec.structs.replace(machine, readings=readings, value="2400 / 300")
    return look(where.state, where.book, where.state.jobs[412], NOW)


def text(found: Page, width: int = 80) -> str:
    return "\n".join(row.text for row in page_lines(found, width))


@pytest.mark.parametrize("width", [40, 72, 80, 108, 160])
def test_no_line_is_wider_than_there_is_room_and_nothing_acts(width: int) -> None:
    told = page(complaint=HOSTILE)
    where = desk(customer=HOSTILE)
    where.state.parts[9] = msgspec.structs.replace(PARTS[2], name=HOSTILE)
    where.state.covers = where.book.covers
    hostile = look(where.state, where.book, JOB, NOW)
    for rows in (page_lines(told, width), page_lines(hostile, width)):
        assert max(cell_len(row.text) for row in rows) <= width
        assert "\x1b" not in "".join(row.text for row in rows)


def test_every_line_of_the_bill_and_its_sum_stand_there() -> None:
    found = page()
    said = text(found, 120)
    assert found.found is not None and not isinstance(found.found, CostRange)
    for each in found.found.lines:
        assert str(each.amount) in said
    assert f"{found.found.total} EUR, tax with it" in said and "not in it, no price yet: drive oil" in said
    assert proposed(found.found) == found.found.total
    assert "leaves" in said and ", the most" in said, "the machine's worth is known"


def test_a_yes_that_is_too_small_is_said_so() -> None:
    from shopboard.records import Approval

    small = Approval(asked=D(1), asked_at=NOW, asked_by="ana", given=True, limit=D("100.00"))
    assert "agreed up to 100.00 EUR: less than this, ask for a new yes" in text(page(approval=small))
    assert "the warranty pays" in text(page(payer=Payer.WARRANTY))


def test_while_the_cause_is_not_known_a_range_is_said_and_its_most_is_proposed() -> None:
    where = desk(changed(findings=(), operations=(), stage=Stage.DIAGNOSED), ())
    where.state.covers = where.book.covers
    found = look(where.state, where.book, where.state.jobs[412], NOW)
    assert isinstance(found.found, CostRange)
    said = text(found, 100)
    assert f"{found.found.low} EUR to {found.found.high} EUR, on average" in said and "none of these" in said
    assert proposed(found.found) == found.found.high
    assert "(parts on top)" in said, "parts have no price here"


def test_what_is_due_behind_the_covers_can_be_stood_on_hidden_grease_first() -> None:
    rows = page_lines(page(), 100)
    keys = [row.key for row in rows if row.key]
    assert keys[0] == ASK and all(key.startswith(ADD) for key in keys[1:])
    told = [row.text for row in rows]
    first = told.index(next(t for t in told if t.startswith("while it is open")))
    assert "hidden grease, due: adds" in told[first + 2]
    assert any("b adds the best set of" in t for t in told)


def test_bins_say_what_is_kept_for_whom() -> None:
    where = desk()
    where.state.stock = {1: Stock(id=1, number="F-2", name="oil filter", bin="C-2", quantity=5)}
    where.state.parts[8] = msgspec.structs.replace(where.state.parts[8], reserved=2)
    rows = [row.text.split() for row in bin_lines(where.state, 80)]
    assert rows == [["bin", "part", "there", "kept"], ["C-2", "oil", "filter", "F-2", "5", "2"]]
    assert "n lays pieces into one" in bin_lines(desk().state, 80)[0].text
    assert isinstance(where.state.parts[8], Line)


def back(id: int, due: date | None, **more: object) -> Return:
    fields = {"kind": ReturnKind.CORE, "line": id, "number": "X", "name": f"unit {id}", "since": NOW, "credit": D(120)}
    return Return(**{"id": id, "due": due, **fields, **more})  # type: ignore[arg-type]


def test_what_goes_back_stands_by_its_day_until_the_credit_came() -> None:
    state = desk().state
    state.returns = {
        1: back(1, TODAY + timedelta(days=20)),
        2: back(2, TODAY - timedelta(days=3)),
        3: back(3, None),
        4: back(4, TODAY, sent_at=NOW - timedelta(days=2)),
        5: back(5, TODAY, sent_at=NOW, credited_at=NOW, credited=D(100)),
        6: back(6, TODAY, sent_at=NOW, credited_at=NOW - timedelta(days=90), credited=D(7)),
        7: back(7, TODAY),
    }
    rows = return_lines(state, TODAY, 100)
    assert [row.key for row in rows if row.key] == ["2", "7", "1", "3", "4", "5"]
    told = "\n".join(row.text for row in rows)
    for words in ("3 d late", "due today", "due in 20 d", "no date", "sent 2 d ago", "credited"):
        assert words in told
    assert "100" in told and "to be sent back" in told and "sent, credit to come" in told
