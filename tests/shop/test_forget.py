"""What tells a customer in other people's words is found however it is written, and nothing else is taken for it."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopboard.records import Customer
from shopboard.shop.forget import finder, marks_of, sure_marks

PAT = Customer(
    id=1, name="Pat Farrow", phone="+43 660 123456", address="12 Mill Lane, Graz", email="pat@farrow.example"
)


@given(st.sampled_from([" ", "  ", "\n", "\t"]), st.booleans(), st.sampled_from(["", ".", ", ", "!", ")"]))
def test_a_name_is_found_however_spaced_and_in_whatever_case(space, loud, after):
    text = f"lent by {'PAT' if loud else 'Pat'}{space}{'FARROW' if loud else 'farrow'}{after}"
    find = finder(marks_of([PAT]))
    assert find is not None and find.sub("…", text) == f"lent by …{after}"


@given(st.lists(st.sampled_from(["", " ", "-", ".", "/", " (", ") "]), min_size=10, max_size=10))
def test_a_number_is_found_however_it_is_divided(between):
    digits = "43660123456"
    text = "call " + "".join(a + b for a, b in zip(digits, [*between, ""], strict=True)) + " today"
    find = finder(marks_of([PAT]))
    assert find is not None and find.sub("…", text) == "call … today"


@pytest.mark.parametrize(
    "text",
    [
        "Farrowgate",
        "pat the dog",
        "143660123456",
        "436601234567",
        "spat farrows",
        "pat@farrow.examples",
        "13 Mill Lane, Graz",
    ],
)
def test_what_only_looks_alike_stays(text):
    find = finder(marks_of([PAT]))
    assert find is not None and find.sub("…", text) == text


def test_a_word_is_a_name_only_as_it_is_written():
    find = finder(marks_of([Customer(id=1, name="Hill")]))
    assert find is not None and find.sub("…", "Hill went up the hill") == "… went up the hill"


@pytest.mark.parametrize(
    ("other", "unsure"),
    [
        (Customer(id=2, name="Lake"), ()),
        (Customer(id=2, name="Pat Farrow"), ("Pat Farrow",)),
        (Customer(id=2, name="Lake", phone="43 660-123-456"), ("+43 660 123456",)),
        (
            Customer(id=2, name="Old Pat Farrow & Sons", address="12 mill lane, graz"),
            ("Pat Farrow", "12 Mill Lane, Graz"),
        ),
    ],
)
def test_what_is_somebody_elses_too_is_not_looked_for(other, unsure):
    sure, not_sure = sure_marks(marks_of([PAT]), [other])
    assert not_sure == unsure and set(sure) | set(unsure) == set(marks_of([PAT]))


def test_short_marks_are_not_looked_for():
    assert sure_marks(marks_of([Customer(id=1, name="Al", phone="12")]), []) == ((), ("Al", "12"))
    assert marks_of([Customer(id=1, name="customer 1 (erased)")]) == () and finder(()) is None
