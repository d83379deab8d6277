"""Text as typed, made safe to look at: nothing vanishes, nothing acts."""

from __future__ import annotations

import doctest
import unicodedata

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopboard.records import jobs, machines, tag, tag_number, visible, wording


@pytest.mark.parametrize("module", [jobs, machines, wording])
def test_examples_in_the_docstrings(module: object) -> None:
    assert doctest.testmod(module).failed == 0  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        ("", ""),
        ("[left]clunk[/b]", "[left]clunk[/b]"),
        ("\x1b[31mred\x07", "␛[31mred␇"),
        ("a\x00b\x7fc", "a␀b␡c"),
        ("tab\tline\nreturn\r", "tab␉line␊return␍"),
        ("\x85\x9b", "<U+0085><U+009B>"),
        ("\u202eabc\u202c", "<U+202E>abc<U+202C>"),
        ("\u2066x\u2069\u200f\u061c", "<U+2066>x<U+2069><U+200F><U+061C>"),
        ("\u2028\u2029", "<U+2028><U+2029>"),
        ("\ud800", "<U+D800>"),
        ("\ue000\uffff", "<U+E000><U+FFFF>"),
        ("שלום 宽 é 👩‍🔧", "שלום 宽 é 👩‍🔧"),
    ],
)
def test_what_is_shown(text: str, shown: str) -> None:
    assert visible(text) == shown


def test_line_ends_stay_where_lines_are_shown() -> None:
    assert visible("one\r\ntwo\nthree\x0b", lines=True) == "one\ntwo\nthree␋"


anything = st.text(st.characters(codec=None))


@given(anything)
def test_nothing_acts_and_nothing_vanishes(text: str) -> None:
    shown = visible(text)
    bad = ("Cc", "Cs", "Co", "Cn", "Zl", "Zp")
    assert all(unicodedata.category(char) not in bad for char in shown)
    assert not any(0x202A <= ord(c) <= 0x202E or 0x2066 <= ord(c) <= 0x2069 for c in shown)
    assert len(shown) >= len(text)
    assert len(shown.splitlines()) <= 1
    shown.encode()


@given(anything)
def test_showing_twice_shows_the_same(text: str) -> None:
    assert visible(visible(text)) == visible(text)


@given(st.text(st.characters(min_codepoint=0x20, max_codepoint=0x7E)))
def test_plain_text_is_untouched(text: str) -> None:
    assert visible(text) == text
    assert visible(text, lines=True) == text


@given(st.integers(1, 999_999_999))
def test_a_tag_reads_back_to_its_number(number: int) -> None:
    assert tag_number(tag(number)) == number
    assert tag_number(f" t {number} ") == number


@pytest.mark.parametrize("text", ["", "T-", "T-0", "0", "-4", "T-12x", "pump", "T--4", "1.5", "٤", "9" * 10])
def test_what_is_no_tag(text: str) -> None:
    assert tag_number(text) is None
