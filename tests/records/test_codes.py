"""Printed codes: what is caught when a digit is misread, and what is none of ours."""

from __future__ import annotations

import doctest
from random import Random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopboard.records import Table, codes
from shopboard.records.codes import CODE_LENGTH, CODED, check_digit, code_for, read_code

tables, numbers = st.sampled_from(CODED), st.integers(1, 999_999)


def test_examples_in_the_docstrings() -> None:
    assert doctest.testmod(codes).failed == 0


def test_the_check_digit_of_the_standards_own_example() -> None:
    """ISO/IEC 7064 MOD 11,10: 0794 takes check digit 5 (the standard's worked example, from memory)."""
    assert check_digit("0794") == "5"


@given(tables, numbers)
def test_a_code_reads_back(table: Table, number: int) -> None:
    code = code_for(table, number)
    assert len(code) == CODE_LENGTH and code.isdigit()
    assert read_code(code) == (table, number)


@given(tables, numbers, st.integers(0, CODE_LENGTH - 1), st.integers(1, 9))
def test_one_wrong_digit_is_always_caught(table: Table, number: int, place: int, off: int) -> None:
    code = code_for(table, number)
    wrong = code[:place] + str((int(code[place]) + off) % 10) + code[place + 1 :]
    assert read_code(wrong) is None


@pytest.mark.parametrize("digits", ["", "1", "100041280", "00004128", "T0004128", "१०००४१२८", "10000000", "1000412a"])
def test_what_is_none_of_ours(digits: str) -> None:
    assert read_code(digits) is None


@pytest.mark.parametrize("number", [0, -1, 1_000_000])
def test_numbers_without_a_code(number: int) -> None:
    with pytest.raises(ValueError, match="1 to 999999"):
        code_for(Table.JOBS, number)


def test_nearly_every_swap_of_neighbours_is_caught() -> None:
    """Seeded sample; a swap of two digits next to each other must be told in at least 97 of 100 cases."""
    random = Random(1)
    swaps = caught = 0
    for _ in range(5000):
        code = code_for(random.choice(CODED), random.randint(1, 999_999))
        at = random.randrange(CODE_LENGTH - 1)
        swapped = code[:at] + code[at + 1] + code[at] + code[at + 2 :]
        if swapped != code:
            swaps += 1
            caught += read_code(swapped) is None
    assert swaps > 4000 and caught / swaps > 0.97
