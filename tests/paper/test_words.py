"""Words to say, labels to scan, and the range priced by parts.toml."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from typing import Any

import msgspec
import pytest
import zxingcpp
from aids.papers import NOW, PARTS, changed, desk, pages

from shopboard.estimate import CostRange
from shopboard.paper.estimate_sheet import open_range, parts_price, sum_of
from shopboard.paper.part_labels import bin_labels, line_labels
from shopboard.paper.pdf import as_pdf
from shopboard.paper.text import as_text
from shopboard.paper.words import message
from shopboard.records import Approval, CataloguePart, PartLine, PartState, Payer, Refused, Stage, Stock, Table
from shopboard.records.codes import read_code

D = Decimal
HELLO = "Good day, Hill Farm, this is Mill Lane Repairs. "


def ordered(**fields: Any) -> tuple[PartLine, ...]:
    return (msgspec.structs.replace(PARTS[0], state=PartState.ORDERED, **fields),)


def test_the_estimate_is_asked_with_what_was_found_and_its_sum() -> None:
    asked = changed(approval=Approval(asked=D("1650.00"), asked_at=NOW, asked_by="ana"))
    told = message(desk(asked), 412)
    assert told.startswith(f"{HELLO}Your Fell 20 F20-77 (T-0412): we found ") and "bronze in the filter" in told
    assert "The estimate to rebuild the pump and set neutral is 1650.00 EUR, tax with it. May we go ahead?" in told


@pytest.mark.parametrize(
    ("fields", "said"),
    [
        ({"expected": date(2026, 11, 20)}, "waits for seals, which comes later than we were told."),
        ({"expected": None}, "waits for seals. The supplier has given no date yet."),
        ({"expected": date(2026, 11, 25)}, "waits for seals, expected on 25 Nov 2026. We ring you"),
        ({"expected": date(2026, 12, 9)}, "expected on 9 Dec 2026. That is after the day we named; we are sorry."),
    ],
)
def test_a_late_part_is_said_with_what_is_known_of_its_day(fields: dict[str, Any], said: str) -> None:
    job = changed(stage=Stage.PARTS, approval=Approval(asked=D(1), asked_at=NOW, asked_by="ana", given=True))
    assert said in message(desk(job, ordered(**fields)), 412)


def test_ready_to_collect_says_what_it_comes_to() -> None:
    agreed = Approval(asked=D("1600.00"), asked_at=NOW, asked_by="ana", given=True, limit=D("100.00"), said_by="Hill")
    ready = changed(stage=Stage.COLLECT, approval=agreed, covers_off=())
    assert "ready to collect. It comes to 100.00 EUR, tax with it." in message(desk(ready), 412), "never past the yes"
    warranty = changed(stage=Stage.COLLECT, payer=Payer.WARRANTY, covers_off=())
    assert message(desk(warranty), 412).endswith("ready to collect. There is nothing to pay for you.")


def test_nothing_is_said_of_a_job_that_is_over() -> None:
    with pytest.raises(Refused, match="T-0412 is collected: there is nothing to tell any more"):
        message(desk(changed(stage=Stage.COLLECTED)), 412)


def unknown(**more: Any) -> Any:
    job = changed(stage=Stage.DIAGNOSED, findings=(), operations=(), covers_off=(), diagnostic_fee=D(0))
    return desk(job, (), **more)


def test_the_range_is_said_while_the_cause_is_not_known() -> None:
    where = unknown()
    found = sum_of(where, where.state.jobs[412])
    assert isinstance(found, CostRange)
    told = message(where, 412, found)
    assert f"between {found.low} EUR and {found.high} EUR, tax with it. May we go on looking?" in told


def test_parts_toml_prices_what_may_be_wrong() -> None:
    """An exchange unit with its core, a filter and ten oil: 900 + 120 + 20 + 95."""
    where = unknown()
    job = where.state.jobs[412]
    assert parts_price(where, job, "exchange-hydrostat") is None
    where.state.catalogue = {
        "X": CataloguePart(number="X", name="exchange unit", price=D(900), core_charge=D(120)),
        "F": CataloguePart(number="F", name="drive oil filter", price=D(20)),
        "O": CataloguePart(number="O", name="drive oil", price=D("9.5")),
    }
    assert parts_price(where, job, "exchange-hydrostat") == D(1135)
    before, after = open_range(unknown(), job), open_range(where, job)
    assert before and after and after.high >= before.high + D(1135), "with tax on top"
    assert len(after.without_parts) < len(before.without_parts)


def test_a_label_for_each_open_line_reads_as_that_line() -> None:
    done = msgspec.structs.replace(PARTS[1], state=PartState.FITTED)
    labels = line_labels(desk(parts=(PARTS[0], done, PARTS[2])), 412)
    assert [read_code(label.code) for label in labels.labels] == [(Table.PARTS, 7), (Table.PARTS, 9)]
    seen = [{code.text for code in zxingcpp.read_barcodes(page)} for page in pages(as_pdf(labels, (100, 62), NOW), 300)]
    assert seen == [{label.code} for label in labels.labels], "QR and bars say the same"
    assert as_text(labels, 60).count("T-0412") == 2


def test_a_bins_label_names_its_bin_and_its_part() -> None:
    where = desk()
    where.state.stock = {3: Stock(id=3, number="SK-1", name="seals", bin="A-7", quantity=2)}
    (label,) = bin_labels(where, "SK-1").labels
    assert label.title == "bin A-7" and read_code(label.code) == (Table.STOCK, 3)
    with pytest.raises(Refused, match="no bin holds X-9"):
        bin_labels(where, "X-9")


def test_old_parts_that_are_kept_are_said_on_the_tag_and_the_papers() -> None:
    from shopboard.paper.tag import tag_label
    from shopboard.paper.work_order import work_order

    where = desk(changed(keep_old_parts=True))
    assert ("old parts", "keep the old parts") in tag_label(where, 412).lines
    assert "kept for the customer to see" in as_text(work_order(where, 412), 80)
