"""What people typed: what says something, what is a sum, what is a number."""

from __future__ import annotations

import doctest
import math
from decimal import Decimal

import pytest
from aids.quick_shop import SETTINGS
from hypothesis import given
from hypothesis import strategies as st

from shopboard.records import Refused
from shopboard.shop import guards, said


@pytest.mark.parametrize("module", [guards, said])
def test_examples_in_the_docstrings(module: object) -> None:
    assert doctest.testmod(module).failed == 0  # type: ignore[arg-type]


@pytest.mark.parametrize("text", ["", " ", "\n\t", "\u200b", "\u202e\u2066", "\x00\x1b", "\u00a0\u3000", "\ufeff"])
def test_blank(text: str) -> None:
    assert said.blank(text)


@pytest.mark.parametrize("text", [".", " x", "宽", "\u0301a", "\x1b[31m", "[/b]", "0"])
def test_not_blank(text: str) -> None:
    assert not said.blank(text)


@given(st.decimals(allow_nan=True, allow_infinity=True))
def test_a_sum_is_kept_exactly_or_refused(amount: Decimal) -> None:
    try:
        kept = said.money(amount, "the sum", SETTINGS)
    except Refused:
        assert not amount.is_finite() or amount < 0 or amount >= 10**9 or amount * 100 % 1 != 0
    else:
        assert kept == amount and kept.as_tuple().exponent == -2 and not kept.is_signed()


def test_nought_has_no_sign() -> None:
    assert str(said.money(Decimal("-0"), "the sum", SETTINGS)) == "0.00"


@pytest.mark.parametrize("amount", [1, 1.0, "1", None])
def test_only_a_decimal_is_money(amount: object) -> None:
    with pytest.raises(TypeError):
        said.money(amount, "the sum", SETTINGS)  # type: ignore[arg-type]


@given(st.floats(allow_nan=True, allow_infinity=True))
def test_a_number_is_within_its_bounds_or_refused(value: float) -> None:
    try:
        assert 0 <= said.number(value, "it", least=0, most=10) <= 10
    except Refused as refused:
        assert not math.isfinite(value) or not 0 <= value <= 10
        assert refused.would_do


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("A. Berg", "a.berg"),
        ("Hill  Vineyard ", "hill vineyard"),
        ("STRASSE", "straße"),
        ("é", "e\u0301"),
        ("４０", "40"),
    ],
)
def test_ways_to_write_the_same(one: str, other: str) -> None:
    assert said.same(one) == said.same(other)


@pytest.mark.parametrize(("one", "other"), [("A-1", "A1"), ("Berg", "Burg"), ("40", "400"), ("o", "ö")])
def test_what_is_not_the_same(one: str, other: str) -> None:
    assert said.same(one) != said.same(other)


@given(st.text(st.characters(min_codepoint=0x20, max_codepoint=0x7E)))
def test_case_and_spaces_do_not_count(text: str) -> None:
    assert said.same(f" {text.upper()} ") == said.same(text.replace(" ", ""))
