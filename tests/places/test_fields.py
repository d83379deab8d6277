"""What people type into a form, read strictly: a slip is told, never guessed at."""

from __future__ import annotations

import doctest
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopboard.places import fields
from shopboard.places.fields import many_of, moment_on, needed, read_day, read_money, read_number, reads, text_of
from shopboard.places.form_parts import choose, words
from shopboard.places.part_forms import whole

TODAY = date(2026, 11, 24)  # a Tuesday


def test_examples_in_the_docstrings() -> None:
    assert doctest.testmod(fields).failed == 0


# -- numbers --------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "number"),
    [
        ("1412", 1412),
        (" 1,412 ", 1412),
        ("12.5", 12.5),
        ("1412 h", 1412),
        ("1412h", 1412),
        ("1,234,567.25", 1234567.25),
    ],
)
def test_numbers(text: str, number: float) -> None:
    assert read_number(text, "hour meter", "h") == number


@pytest.mark.parametrize(
    "text",
    [
        "",
        "h",
        "12,5",
        "1,41",
        "1.412.000",
        "12 5",
        "-4",
        "1e5",
        "nan",
        "inf",
        "١٢",
        "12 km",
        "9" * 400,
        "1_000",
        "0x10",
    ],
)
def test_what_is_no_number_or_two_things_is_told(text: str) -> None:
    with pytest.raises(ValueError, match=r"hour meter: .* is not a number; type one such as"):
        read_number(text, "hour meter", "h")


@given(st.text(max_size=20))
def test_anything_typed_is_a_finite_number_or_one_line_that_says_what_is_right(text: str) -> None:
    told = reads(lambda t: whole(t, "how many"), blank=False)(text, {})
    assert told == "" or "how many" in told


@pytest.mark.parametrize("text", ["2.5", "0.1"])
def test_half_a_piece_is_none(text: str) -> None:
    with pytest.raises(ValueError, match="not a whole number"):
        whole(text, "how many")


# -- money ----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("text", "sum_"), [("120", "120"), ("89.50", "89.50"), (" 1,250.5 ", "1250.5"), ("0", "0")])
def test_sums(text: str, sum_: str) -> None:
    assert read_money(text, "estimate", 2) == Decimal(sum_)


@pytest.mark.parametrize("text", ["", "12,50", "-1", "1e3", "NaN", "Infinity", "12.345", "EUR 5", "٥"])
def test_what_is_no_sum_is_told(text: str) -> None:
    with pytest.raises(ValueError, match="estimate: "):
        read_money(text, "estimate", 2)


@pytest.mark.parametrize(("decimals", "text"), [(0, "120.5"), (2, "1.005"), (3, "1.0005")])
def test_finer_than_the_shops_money_is_told(decimals: int, text: str) -> None:
    with pytest.raises(ValueError, match=f"more than {decimals} decimals"):
        read_money(text, "estimate", decimals)


# -- days -----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "day"),
    [
        ("today", "2026-11-24"),
        ("Tomorrow", "2026-11-25"),
        ("+0", "2026-11-24"),
        ("+3", "2026-11-27"),
        ("fri", "2026-11-27"),
        ("Friday", "2026-11-27"),
        ("tue", "2026-12-01"),  # today's own name is the next one
        ("mon", "2026-11-30"),
        ("2026-12-01", "2026-12-01"),
        ("2024-02-29", "2024-02-29"),
    ],
)
def test_days(text: str, day: str) -> None:
    assert read_day(text, "promise", TODAY) == date.fromisoformat(day)


@pytest.mark.parametrize(
    "text",
    ["", "fr", "monkey", "sunny", "friday week", "2026-13-01", "2026-02-30", "27.11.", "+", "+1000", "-1"],
)
def test_what_is_no_day_is_told(text: str) -> None:
    with pytest.raises(ValueError, match="is not a day; type fri, tomorrow"):
        read_day(text, "promise", TODAY)


@given(st.dates(date(2020, 1, 1), date(2040, 1, 1)), st.sampled_from(["mon", "tue", "wed", "thu", "fri", "sat", "sun"]))
def test_a_weekday_is_the_next_one_of_that_name(today: date, name: str) -> None:
    day = read_day(name, "promise", today)
    assert 1 <= (day - today).days <= 7 and f"{day:%a}".lower() == name


def test_the_moment_of_a_day_is_the_shops_clock_in_summer_and_winter() -> None:
    zone = ZoneInfo("Europe/Berlin")
    assert moment_on(date(2026, 3, 28), zone) == datetime(2026, 3, 28, 16, tzinfo=UTC)
    assert moment_on(date(2026, 3, 29), zone) == datetime(2026, 3, 29, 15, tzinfo=UTC)  # the clock was changed at night
    assert moment_on(date(2026, 3, 29), zone) - moment_on(date(2026, 3, 28), zone) == timedelta(hours=23)


# -- answers --------------------------------------------------------------------------------------------------------


def test_answers_of_the_wrong_kind_count_as_none() -> None:
    assert text_of({"a": ("x",)}, "a") == "" and text_of({"a": " x "}, "a") == "x" and text_of({}, "a") == ""
    assert many_of({"a": "x"}, "a") == () and many_of({"a": ("x",)}, "a") == ("x",)


def test_needed_and_blank() -> None:
    assert needed("which?")("  ", {}) == "which?" and needed("which?")("x", {}) == ""
    check = reads(lambda t: read_number(t, "minutes"))
    assert check("", {}) == "" and check("x", {}) != ""
    assert reads(lambda t: read_number(t, "minutes"), blank=False)("", {}) != ""


def test_options_narrow_as_one_types_and_a_chosen_one_stays_first() -> None:
    options = choose([fields.Option("a", "Alder"), fields.Option("b", "Birch"), fields.Option("c", "Cedar Birch")])
    assert [o.key for o in options({}, "bir")] == ["b", "c"]
    assert [o.key for o in options({}, "Cedar Birch")] == ["c", "a", "b"]
    assert [o.key for o in options({}, "nothing")] == ["a", "b", "c"]
    assert [o.key for o in words("yes", "no")({}, "n")] == ["no"]
