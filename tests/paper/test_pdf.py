"""PDFs looked at as a printer would: nothing clipped, all of it there, codes that an independent reader reads."""

from __future__ import annotations

import re

import msgspec
import pytest
from aids.papers import (
    JOB,
    LONG,
    NOW,
    PARTS,
    WIDE,
    changed,
    codes,
    collected,
    desk,
    edges_are_white,
    pages,
    sizes,
    texts,
)

from shopboard.paper.blocks import Column, Facts, Heading, Row, Sheet, Sign, Table, Words
from shopboard.paper.chart import trouble_chart
from shopboard.paper.estimate_sheet import estimate_sheet
from shopboard.paper.parts_list import parts_list
from shopboard.paper.pdf import as_pdf
from shopboard.paper.receipt import receipt
from shopboard.paper.sizes import SHEETS
from shopboard.paper.tag import tag_label
from shopboard.paper.work_order import work_order
from shopboard.records import Table as Records
from shopboard.records.codes import read_code

FORTY = tuple(
    msgspec.structs.replace(
        PARTS[0], id=n, number=f"NR-{n:03d}", name=f"part of many words number {n}", supplier="north"
    )
    for n in range(1, 41)
)
FULL = desk(changed(complaint=LONG, condition=f"{WIDE} " * 8), FORTY, customer=WIDE)
PAPERS = {
    "work order": lambda: work_order(FULL, 412),
    "estimate": lambda: estimate_sheet(FULL, 412),
    "parts": lambda: parts_list(FULL, 412),
    "receipt": lambda: receipt(desk(*collected()), 412),
    "chart": lambda: trouble_chart(FULL.book, "weak only when hot", "in-line", "Mill Lane Repairs"),
}


def _squeezed(text: str) -> str:
    return re.sub(r"\s", "", text)


@pytest.mark.parametrize("size", SHEETS)
@pytest.mark.parametrize("name", PAPERS)
def test_every_sheet_keeps_its_margins_and_counts_its_pages(name: str, size: str) -> None:
    pdf = as_pdf(PAPERS[name](), SHEETS[size], NOW)
    for picture in pages(pdf, 60):
        assert edges_are_white(picture, 60, 10) and picture.min() < 100
    assert all(abs(w - SHEETS[size][0]) < 0.1 and abs(h - SHEETS[size][1]) < 0.1 for w, h in sizes(pdf))
    found = texts(pdf)
    for number, text in enumerate(found, 1):
        assert f"page {number} of {len(found)}" in text
        assert "Mill Lane Repairs" in text


def test_a_long_complaint_wide_glyphs_and_forty_part_lines_flow_whole_over_pages() -> None:
    for paper in (work_order(FULL, 412), estimate_sheet(FULL, 412)):
        found = texts(as_pdf(paper, SHEETS["A4"], NOW))
        assert len(found) >= 3
        whole = _squeezed(" ".join(found))
        assert "ThatisallIcansay." in whole
        assert whole.count("youcouldwalkbesideit") == 30
        assert all(f"NR-{n:03d}" in whole for n in range(1, 41))
        assert "<U+8EF8><U+53D7>" in whole and "<U+20BB7>" in whole  # what the font lacks is told
        assert "Жук,ελιά,Łódź" in whole  # what it has is printed


def test_titles_of_a_table_stand_on_every_page_it_runs_over() -> None:
    found = texts(as_pdf(parts_list(FULL, 412), SHEETS["A4"], NOW))
    assert len(found) == 2
    assert all("part number here state from code" in text for text in found)


def test_a_row_taller_than_a_page_flows() -> None:
    tall = Table((Column("a", 1), Column("b", 1)), (Row(("w " * 6000, "x")), Row(("last", "y"))))
    found = texts(as_pdf(Sheet("t", "h", "f", (tall,)), SHEETS["A4"], NOW))
    whole = " ".join(found)
    assert len(found) > 3 and len(re.findall(r"\bw\b", whole)) == 6000 and "last y" in whole


def test_a_word_wider_than_the_page_is_broken_not_cut() -> None:
    found = texts(as_pdf(Sheet("t", "h", "f", (Words("W" * 400), Facts((("k" * 60, "V" * 300),)))), SHEETS["A4"], NOW))
    whole = " ".join(found)
    assert (whole.count("W"), whole.count("V"), whole.count("k")) == (400, 300, 60)


def test_a_heading_and_a_caution_stay_with_what_follows() -> None:
    for lines in range(44, 56):
        blocks = (*(Words("filler") for _ in range(lines)), Heading("Head"), Words("stay off", "caution", keep=True))
        found = texts(as_pdf(Sheet("t", "h", "f", (*blocks, Words("then do"))), SHEETS["A4"], NOW))
        page = next(text for text in found if "Head" in text)
        assert "stay off" in page and "then do" in page


def test_a_heading_stays_with_a_long_paragraph() -> None:
    for lines in range(44, 56):
        blocks = (*(Words("filler") for _ in range(lines)), Heading("Head"), Words(LONG))
        found = texts(as_pdf(Sheet("t", "h", "f", blocks), SHEETS["A4"], NOW))
        assert "It goes well enough" in next(text for text in found if "Head" in text)


def test_places_to_sign_are_not_alone_on_a_page() -> None:
    for lines in range(44, 56):
        blocks = (*(Words("filler") for _ in range(lines)), Words("terms"), Sign(("customer",)))
        found = texts(as_pdf(Sheet("t", "h", "f", blocks), SHEETS["A4"], NOW))
        assert "terms" in next(text for text in found if "customer" in text)


def test_what_people_type_never_acts_in_a_pdf() -> None:
    hostile = "a\x1b[31m **bold** __u__ {nb} \u202eabc [/b] \x00 --x--"
    [page] = texts(as_pdf(Sheet("t", "h", "f", (Words(hostile),)), SHEETS["A4"], NOW))
    assert "**bold** __u__ {nb} <U+202E>abc [/b]" in page and "--x--" in page
    assert "<U+241B>[31m" in page  # the mark for an escape, which the font lacks


# -- the tag ----------------------------------------------------------------------------------------------------------

LABELS = [(50.0, 30.0), (62.0, 100.0), (100.0, 62.0), (101.6, 152.4)]


@pytest.mark.parametrize("size", LABELS)
@pytest.mark.parametrize("dots", [203, 300])
def test_both_codes_of_a_tag_are_read_at_a_label_printers_dots(size: tuple[float, float], dots: int) -> None:
    """203 and 300 dots an inch are what label printers have (common practice, no source)."""
    [picture] = pages(as_pdf(tag_label(FULL, 412), size, NOW), dots)
    found = codes(picture)
    assert len(found) == 2
    assert {read_code(text) for text in found.values()} == {(Records.JOBS, 412)}
    assert {name.replace(" ", "").upper() for name in found} == {"QRCODE", "CODE128"}


@pytest.mark.parametrize("size", LABELS)
def test_a_tag_keeps_its_edges_and_its_words_off_the_codes(size: tuple[float, float]) -> None:
    for full in (FULL, desk(), desk(changed(id=999_999, complaint="W" * 500), customer="W" * 90)):
        number = next(iter(full.state.jobs))
        pdf = as_pdf(tag_label(full, number), size, NOW)
        [picture] = pages(pdf, 203)
        assert edges_are_white(picture, 203, 1.0)
        assert set(codes(picture).values()) == {tag_label(full, number).code}
        assert tag_label(full, number).title in texts(pdf)[0]


def test_a_tag_that_has_room_says_all_and_one_that_has_not_says_so() -> None:
    [large] = texts(as_pdf(tag_label(desk(), 412), (100.0, 62.0), NOW))
    assert all(words in large for words in ("Fell 20 F20-77", "Hill Farm, 555-0100", "26 Nov 2026", JOB.complaint))
    [small] = texts(as_pdf(tag_label(FULL, 412), (50.0, 30.0), NOW))
    assert "…" in small and "T-0412" in small and "10004128" in small
