"""Lines as plain data: cells as wide as they say, text wrapped without a letter lost, bars and shares that are true."""

from __future__ import annotations

import doctest

import pytest
from hypothesis import given
from hypothesis import strategies as st
from rich.cells import cell_len

from shopboard.places import lines
from shopboard.places.lines import bar, cell, line, notice_lines, plain, share, wrapped
from shopboard.records import visible

anything = st.text(st.characters(codec="utf-8"), max_size=60)
words = st.lists(st.text("abcdé宽[]", min_size=1, max_size=30), max_size=20).map(" ".join)


def test_examples_in_the_docstrings() -> None:
    assert doctest.testmod(lines).failed == 0


@given(anything, st.integers(0, 40), st.sampled_from("<>"))
def test_a_cell_is_exactly_as_wide_as_asked(text: str, width: int, align: str) -> None:
    assert cell_len(cell(text, width, align)) == width  # type: ignore[arg-type]


@given(anything, st.integers(1, 40))
def test_a_cell_shows_text_whole_or_says_that_it_is_cut(text: str, width: int) -> None:
    shown = visible(text)
    if cell_len(shown) <= width:
        assert cell(text, width).rstrip(" ") == shown.rstrip(" ")
    else:
        assert "…" in cell(text, width)


@pytest.mark.parametrize(
    ("text", "width", "shown"),
    [
        ("pump", 4, "pump"),
        ("pumps", 4, "pum…"),
        ("宽宽", 4, "宽宽"),
        ("宽宽", 3, "宽…"),
        ("宽宽", 2, " …"),  # half a wide letter is a blank
        ("a\x1bb", 3, "a␛b"),
        ("[b]x", 4, "[b]x"),
    ],
)
def test_cells(text: str, width: int, shown: str) -> None:
    assert cell(text, width) == shown


@given(words, st.integers(8, 50))
def test_wrapping_loses_no_letter_and_keeps_to_its_width(text: str, width: int) -> None:
    rows = wrapped(text, width, indent="  ")
    assert all(cell_len(row.text) <= width for row in rows)
    assert "".join(row.text for row in rows).replace(" ", "") == text.replace(" ", "")


def test_wrapping_breaks_between_words_where_it_can() -> None:
    assert [row.text for row in wrapped("slow up the hill", 9)] == ["slow up", "the hill"]
    assert [row.text for row in wrapped("unbreakable", 4)] == ["unbr", "eaka", "ble"]
    assert [row.text for row in wrapped("one\ntwo", 9)] == ["one", "two"]


def test_a_number_and_its_per_cent_sign_stay_together() -> None:
    assert [row.text for row in wrapped("likely wear 62 % of it", 14)] == ["likely wear", "62 % of it"]


def test_ten_thousand_letters_are_wrapped_at_once() -> None:
    """One measuring a letter and not one a pair of letters: this took minutes once."""
    measured = 0

    def counted(text: str, measure: object = cell_len) -> int:
        nonlocal measured
        measured += len(text)
        return cell_len(text)

    original, lines.cell_len = lines.cell_len, counted
    try:
        rows = wrapped("y" * 10_000, 50)
    finally:
        lines.cell_len = original
    assert len(rows) == 200 and measured < 10_000 * 10_000 / 8


@pytest.mark.parametrize(
    ("probability", "words"),
    [
        (0.0, "0 %"),
        (0.0099, "<1 %"),
        (0.01, "1 %"),
        (0.014, "1 %"),
        (0.5, "50 %"),
        (0.99, "99 %"),
        (0.9901, ">99 %"),
        (1.0, "100 %"),
    ],
)
def test_shares(probability: float, words: str) -> None:
    assert share(probability) == words


@given(st.floats(0, 1), st.integers(0, 30))
def test_a_bar_is_as_long_as_its_share_to_an_eighth_of_a_cell(part: float, width: int) -> None:
    drawn = bar(part, width)
    assert cell_len(drawn) == width
    eighths = sum(8 if c == "█" else " ▏▎▍▌▋▊▉".index(c) for c in drawn)
    assert abs(eighths / 8 - part * width) <= 1 / 16 + 1e-9


def test_bars_beyond_the_ends_stay_within_them() -> None:
    assert bar(-1, 3) == "   " and bar(2, 3) == "███"


def test_a_notice_keeps_its_end_in_sight_or_says_that_there_is_more() -> None:
    text = "Not done: " + "because " * 40 + "do that"
    rows = notice_lines(text, "late", 60)
    assert len(rows) == 3 and rows[-1].text.endswith("…")
    assert plain(notice_lines("Saved: done", "good", 60)) == "Saved: done"
    assert notice_lines("", "", 60) == []


def test_news_never_hides_what_one_was_told() -> None:
    rows = notice_lines("Not done: " + "because " * 30, "late", 60, "bo: " + "long " * 30)
    assert len(rows) == 3 and rows[0].text.startswith("Not done") and rows[-1].text.startswith("bo: long")
    assert cell_len(rows[-1].text) <= 60


def test_a_line_is_its_spans() -> None:
    row = line("7", "a ", ("b", "late"), "  ")
    assert row.text == "a b" and row.key == "7" and row.spans[1].role == "late"
