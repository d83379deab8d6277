"""`paper`: text, PDF, and one line for whatever is wrong."""

from __future__ import annotations

import subprocess
import sys

import pytest
from aids.papers import codes, pages, sizes, texts

from shopboard.records import Table
from shopboard.records.codes import code_for

CODE = code_for(Table.JOBS, 1)


def test_a_tag_as_text_and_as_pdf(at_once, shop, tmp_path):
    done = at_once("paper", "tag", "T-0001", "--shop", shop)
    assert (done.code, done.err) == (0, "")
    assert "T-0001" in done.out and f"code {CODE}" in done.out
    file = tmp_path / "tag.pdf"
    done = at_once("paper", "tag", "1", "--shop", shop, "--pdf", file, "--label", "80x50")
    assert (done.code, done.out) == (0, f"{file} is written.\n")
    assert set(codes(pages(file.read_bytes(), 300)[0]).values()) == {CODE}
    assert [tuple(map(round, size)) for size in sizes(file.read_bytes())] == [(80, 50)]


@pytest.mark.parametrize("kind", ["work-order", "estimate", "parts"])
def test_sheets_of_a_job(at_once, shop, tmp_path, kind):
    done = at_once("paper", kind, "T-0001", "--shop", shop)
    assert (done.code, done.err) == (0, "") and "T-0001" in done.out
    file = tmp_path / "sheet.pdf"
    assert at_once("paper", kind, "T-0001", "--shop", shop, "--pdf", file, "--sheet", "Letter").code == 0
    assert "T-0001" in texts(file.read_bytes())[0]
    assert tuple(map(round, sizes(file.read_bytes())[0])) == (216, 279)


def test_all_parts_and_a_chart_without_a_shop(at_once, shop):
    assert at_once("paper", "parts", "--shop", shop).out.splitlines()[1] == "PARTS TO COME"
    done = at_once("paper", "chart", "weak", "only", "when", "hot", "--layout", "split")
    assert (done.code, done.err) == (0, "") and "TROUBLE CHART: WEAK ONLY WHEN HOT" in done.out


def test_words_to_say_are_one_message(at_once, shop):
    done = at_once("paper", "words", "T-0001", "--shop", shop)
    assert (done.code, done.err) == (0, "") and done.out.startswith("Good day, ") and "(T-0001)" in done.out


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (("tag", "T-0999"), "there is no T-0999 here"),
        (("tag",), "nothing is no tag: write it like T-0412"),
        (("tag", "pump"), "pump is no tag"),
        (("receipt", "T-0001"), "a receipt is printed when it is collected"),
        (("tag", "T-0001", "--label", "10x10"), "cannot carry its codes"),
        (("estimate", "T-0001", "--sheet", "A0"), "A0 is no sheet known here"),
        (("poster", "T-0001"), "invalid choice"),
        (("words", "T-0999"), "there is no T-0999 here"),
        (("words", "T-0001", "--pdf", "x.pdf"), "words to say are text only: leave --pdf out"),
        (("bin-label", "X-9"), "no bin holds X-9"),
        (("bin-label",), "no bin holds nothing"),
        (("part-labels", "T-0001"), "no part of T-0001 is open"),
        (("part-labels",), "no part is to come"),
        (("chart",), "no symptom named"),
        (("chart", "xyzzy"), "no symptom “xyzzy”"),
    ],
)
def test_bad_input_is_one_line(at_once, shop, arguments, says):
    done = at_once("paper", *arguments, "--shop", shop)
    assert (done.code, done.out) == (2, "")
    assert done.err.count("\n") == 1 and says in done.err


def test_no_shop_and_no_such_folder_are_told(at_once, shop, tmp_path):
    assert at_once("paper", "tag", "T-0001").code == 2
    done = at_once("paper", "tag", "T-0001", "--shop", shop, "--pdf", tmp_path / "no" / "such" / "tag.pdf")
    assert done.code == 3 and done.err.count("\n") == 1


def test_the_libraries_of_paper_do_not_come_with_the_start():
    heavy = "{'fpdf', 'segno', 'barcode', 'PIL', 'numpy'}"
    ask = f"import sys, shopboard.cli; shopboard.cli._parser(); print(sorted({heavy} & set(sys.modules)))"
    assert subprocess.run([sys.executable, "-c", ask], capture_output=True, text=True, check=True).stdout == "[]\n"
