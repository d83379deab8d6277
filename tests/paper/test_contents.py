"""What each paper says, as text: the sums add up, cautions stand first, nothing is wider than the terminal."""

from __future__ import annotations

import re
from datetime import date
from decimal import Decimal

import msgspec
import pytest
from aids.papers import JOB, LONG, NOW, PARTS, WIDE, changed, collected, desk
from rich.cells import cell_len

from shopboard.estimate import graph_of, job_estimate
from shopboard.paper.blocks import Label, Sheet, Words
from shopboard.paper.chart import trouble_chart
from shopboard.paper.estimate_sheet import estimate_sheet
from shopboard.paper.parts_list import parts_list
from shopboard.paper.receipt import receipt
from shopboard.paper.sizes import label_size, sheet_size
from shopboard.paper.tag import tag_label
from shopboard.paper.text import as_text
from shopboard.paper.work_order import work_order
from shopboard.records import Approval, PartState, Payer, Refused, Stage

D = Decimal


def _estimate(*job: object, **settings: object) -> str:
    return as_text(estimate_sheet(desk(*job, **settings), 412), 100)


def _amounts(text: str, start: str, end: str) -> list[Decimal]:
    rows = text[text.index(start) : text.index(end)].splitlines()
    return [D(found[1]) for row in rows if (found := re.search(r" (\d+\.\d\d)$", row))]


# -- the estimate -----------------------------------------------------------------------------------------------------


def test_the_lines_on_paper_add_up_to_the_sum_on_paper() -> None:
    text = _estimate()
    lines = _amounts(text, "rebuild the pump ", "before tax")
    net, tax, gross = _amounts(text, "before tax", "Not in the sum")
    assert sum(lines) == net and net + tax == gross
    assert tax == (net * 19 / 100).quantize(D("0.01"))
    state = desk().state
    made = job_estimate(state.settings, JOB, PARTS, graph_of(desk().book.covers, "in-line"))
    assert gross == made.total


def test_the_shares_on_paper_add_up_to_the_labour() -> None:
    text = _estimate()
    shares = _amounts(text, "WHAT EACH WORK COMES TO", "APPROVAL")
    labour = [D(row.split()[-1]) for row in text.splitlines() if "112/h" in row]
    assert len(shares) == 2 and sum(shares) == sum(labour) and len(labour) == 6


def test_an_estimate_says_what_is_shared_open_and_agreed() -> None:
    text = _estimate()
    assert "floor plate: off and on, once for 2 works" in text
    assert "hydrostat unit off its gearbox: off and on, 2 people" in text
    assert "Not in the sum, no price yet: drive oil." in text
    assert "The diagnostic fee of 65.00 EUR is taken off when the work is done here." in text
    # 65.00 and 8 min for the floor plate at 112.00/h, 14.93, and 19 % of both
    assert "If you decide against it: 95.12 EUR, tax with it, with floor plate put back." in text
    assert "more than 10 % past it" in text and "Subject to local law." in text


def test_a_yes_and_a_no_stand_on_it() -> None:
    job, parts = collected()
    assert "Mr Hill said yes to 1700.00 EUR, by phone, 24 Nov 2026, 10:42." in _estimate(job, parts)
    no = Approval(asked=D(1), asked_at=NOW, asked_by="a", given=False, said_by="Mr Hill", how="by phone", at=NOW)
    assert "Mr Hill said no, by phone" in _estimate(changed(approval=no))


def test_tax_within_deposit_supplies_and_terms_are_told() -> None:
    text = _estimate(
        prices_with_tax=True,
        deposit_percent=D(30),
        supplies_percent=D(4),
        supplies_most=D(15),
        terms="Parts kept a week.",
    )
    assert "before tax" not in text and "tax in it, 19 %" in text
    assert "shop supplies, 4 % of labour at most" in text
    assert "Parts kept a week.\nSubject to local law." in text
    gross = _amounts(text, "to pay, EUR", "Not in the sum")[0]
    assert f"Asked for ahead: {(gross * 30 / 100).quantize(D('0.01'))} EUR, 30 % of the sum." in text


def test_warranty_is_named() -> None:
    text = _estimate(changed(payer=Payer.WARRANTY))
    assert "to pay, warranty, EUR" in text and "(warranty pays)" in text and "decide against" not in text


def test_before_the_cause_is_known_it_is_a_range() -> None:
    text = _estimate(changed(operations=(), findings=(), covers_off=()), ())
    low, mean, high = (D(found) for found in re.findall(r"^(?:from|on average|to) +(\d+\.\d\d) EUR", text, re.M))
    assert D(0) < low < mean < high
    assert "The cause is not known yet. With" in text and "it is none of these" in text
    assert "Labour and tax only: parts have no price yet" in text
    assert "pump pistons and bores worn" in text


def test_with_nothing_said_no_sum_is_made_up() -> None:
    text = _estimate(changed(operations=(), findings=(), symptoms=(), answers=()), ())
    assert "no sum can be said" in text and "EUR" not in text


# -- the others -------------------------------------------------------------------------------------------------------


def test_the_work_order_has_cautions_before_any_step() -> None:
    sheet = work_order(desk(), 412)
    text = as_text(sheet, 100)
    order = [
        text.index(part) for part in ("! The maker's service manual", "take off: floor plate", "do: rebuild the pump")
    ]
    assert order == sorted(order)
    cautions = [block.text for block in sheet.blocks if isinstance(block, Words) and block.look == "caution"]
    book = desk().book
    asked = book.corrections["rebuild-pump"].cautions
    assert {book.cautions[id].text for id in asked} <= set(cautions) and len(set(cautions)) == len(cautions)


def test_the_work_order_tells_complaint_cause_correction_and_what_was_measured() -> None:
    text = as_text(work_order(desk(), 412), 100)
    for words in (
        "slow up the bank once it is warm",
        "pump pistons and bores worn: bronze in the filter",
        "case drain flow",
        "9.5 ± 0.2 L/min",
        "take off: hydrostat unit off its gearbox, 2 people",
        "560 min",  # 280 + 40 of work, 240 for covers on the clock
        "(730 min billed)",
        "every interlock proved",
        "technician, date: ____",
    ):
        assert words in text, words


def test_a_receipt_tells_how_it_was_paid() -> None:
    text = as_text(receipt(desk(*collected()), 412), 100)
    for words in (
        "1650.25 EUR",
        "1600.00 EUR",
        "50.25 EUR",
        "Ana",
        "– rebuild the pump",
        "interlocks and brake proved",
    ):
        assert words in text, words
    assert re.search(r"^2 +oil filter +F-2$", text, re.M)


def test_no_receipt_before_it_is_collected() -> None:
    with pytest.raises(Refused, match="T-0412 is waiting for approval"):
        receipt(desk(), 412)


def test_closed_jobs_are_printed_too() -> None:
    from dataclasses import replace

    job, parts = collected()
    shop = desk(job, parts)
    filed = replace(shop.state, jobs={}, parts={}, load_closed=lambda id: (job, parts) if id == 412 else None)
    closed = replace(shop, state=filed)
    assert as_text(receipt(closed, 412), 90) == as_text(receipt(shop, 412), 90)
    with pytest.raises(Refused, match="there is no T-0413"):
        work_order(closed, 413)


def test_the_parts_to_come_are_late_first_and_forget_what_a_declined_job_never_ordered() -> None:
    late = msgspec.structs.replace(PARTS[0], state=PartState.ORDERED, expected=date(2026, 11, 20))
    coming = msgspec.structs.replace(PARTS[1], state=PartState.BACK_ORDERED, expected=date(2026, 12, 1))
    text = as_text(parts_list(desk(JOB, (PARTS[2], coming, late)), None), 110)
    order = [
        text.index(part) for part in ("\nLATE", "seals", "\nTO COME", "oil filter", "NEEDED, NOT ORDERED", "drive oil")
    ]
    assert order == sorted(order)
    declined = as_text(parts_list(desk(changed(stage=Stage.DECLINED), (late, PARTS[2])), None), 110)
    assert "seals" in declined and "drive oil" not in declined
    assert "nothing is on order" in as_text(parts_list(desk(JOB, ()), None), 80)


def test_the_chart_says_a_caution_before_its_check() -> None:
    sheet = trouble_chart(desk().book, "Weak only when hot", "in-line", "Shop")
    book, blocks = desk().book, [block for block in sheet.blocks if isinstance(block, Words)]
    seen: list[str] = []
    checked = 0
    for block in blocks:
        if block.look == "caution":
            seen.append(block.text)
        elif block.look == "strong":
            check = next(c for c in book.checks.values() if block.text.startswith(f"{c.name}  ("))
            wanted = [book.cautions[id].text for id in check.cautions]
            assert seen[len(seen) - len(wanted) :] == wanted
            checked += bool(wanted)
    assert checked
    with pytest.raises(Refused, match="no symptom “weak” on in-line: take"):
        trouble_chart(book, "weak", "in-line", "Shop")
    with pytest.raises(Refused, match="no layout boat"):
        trouble_chart(book, "weak only when hot", "boat", "Shop")


def test_the_tag_says_whose_it_is() -> None:
    label = tag_label(desk(), 412)
    assert (label.title, label.code) == ("T-0412", "10004128")
    text = as_text(label, 60)
    assert all(words in text for words in ("Fell 20 F20-77", "Hill Farm", "keys: 1 on the hook", "with it: loader"))


@pytest.mark.parametrize("width", [40, 80, 133])
def test_no_line_is_wider_than_the_terminal(width: int) -> None:
    full = desk(changed(complaint=f"{LONG}{WIDE * 9}", condition="W" * 300), customer=WIDE * 4)
    papers: list[Sheet | Label] = [work_order(full, 412), estimate_sheet(full, 412), parts_list(full, 412)]
    papers += [parts_list(full, None), tag_label(full, 412), trouble_chart(full.book, "no-drive", "split", "Shop")]
    for paper in papers:
        text = as_text(paper, width)
        assert max(map(cell_len, text.splitlines())) <= width
    assert "軸受" in as_text(papers[0], width)


def test_what_people_type_never_acts_in_text() -> None:
    text = as_text(work_order(desk(changed(complaint="a\x1b[31mb \u202ec\r\nd", keys="[b]x[/b]\x07")), 412), 80)
    assert "\x1b" not in text and "\u202e" not in text and "\x07" not in text
    assert "a␛[31mb <U+202E>c\nd" in text and "[b]x[/b]␇" in text


# -- sizes ------------------------------------------------------------------------------------------------------------


def test_the_sheet_is_as_asked_as_set_or_as_usual() -> None:
    usual = desk().state.settings
    assert sheet_size(usual) == (210, 297)
    assert sheet_size(msgspec.structs.replace(usual, country="US")) == (215.9, 279.4)
    assert sheet_size(msgspec.structs.replace(usual, units="us")) == (215.9, 279.4)
    assert sheet_size(msgspec.structs.replace(usual, country="US", paper="A4")) == (210, 297)
    assert sheet_size(usual, "letter") == (215.9, 279.4)
    with pytest.raises(Refused, match="A3 is no sheet known here: take A4 or Letter"):
        sheet_size(usual, "A3")


@pytest.mark.parametrize(
    ("text", "size"), [("100x62", (100, 62)), ("50 x 30 mm", (50, 30)), ("101.6×152.4", (101.6, 152.4))]
)
def test_label_sizes(text: str, size: tuple[float, float]) -> None:
    assert label_size(desk().state.settings, text) == size


@pytest.mark.parametrize("text", ["", "big", "49.9x30", "50x29.9", "301x100", "-50x30", "1e3x50", "50x30x2", "٥٠x30"])
def test_label_sizes_that_cannot_be(text: str) -> None:
    settings = msgspec.structs.replace(desk().state.settings, label=text)
    with pytest.raises(Refused, match="label"):
        label_size(settings)
