"""Oil and cleanliness: properties, and what is refused."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopboard.mechanics import cleanliness, oil, viscosity_index


@given(st.sampled_from([15, 22, 32, 46, 68, 100]), st.floats(60, 160), st.floats(-10, 110))
def test_an_oil_of_a_grade_keeps_its_grade_and_index(grade: int, index: float, celsius: float) -> None:
    line = oil.of_grade(grade, index)
    assert line.viscosity(40) == pytest.approx(oil.grade_middle(grade), rel=1e-9)
    assert viscosity_index.index(line.viscosity(40), line.viscosity(100)) == pytest.approx(index, abs=0.01)
    assert line.temperature(line.viscosity(celsius)) == pytest.approx(celsius, abs=1e-6)
    assert line.viscosity(celsius) > line.viscosity(celsius + 1)


def test_index_meets_itself_at_a_hundred() -> None:
    high = viscosity_index.reference(8.0)[1]
    assert viscosity_index.index(high, 8.0) == pytest.approx(100)
    assert viscosity_index.index(high - 1e-9, 8.0) == pytest.approx(100, abs=1e-6)


@pytest.mark.parametrize("points", [((40, 32), (40, 5)), ((40, 32), (100, 40)), ((40, 0.2), (100, 0.1))])
def test_impossible_oils_are_refused(points: tuple[tuple[float, float], tuple[float, float]]) -> None:
    with pytest.raises(ValueError, match="hotter must be the thinner"):
        oil.walther(*points)


@pytest.mark.parametrize(("at_40", "at_100"), [(30, 1.9), (5, 5), (5, 6)])
def test_index_outside_the_standard_is_refused(at_40: float, at_100: float) -> None:
    with pytest.raises(ValueError, match=r"viscosity index|thicker"):
        viscosity_index.index(at_40, at_100)


@pytest.mark.parametrize("grade", [0, 40, 46.5, 4000])
def test_unknown_grades_are_refused(grade: float) -> None:
    with pytest.raises(ValueError, match="no ISO grade"):
        oil.grade_limits(grade)


@pytest.mark.parametrize(
    ("celsius", "says"), [(95, "too thin above 84"), (83.0, "in the window"), (-25, "too thick below")]
)
def test_window_of_the_unit(celsius: float, says: str) -> None:
    assert says in oil.fitness(oil.of_grade(46), celsius, 10, 1000)


@given(st.floats(0, 2.5e6))
def test_a_code_stands_for_the_counts_that_give_it(per_ml: float) -> None:
    low, high = cleanliness.counts(cleanliness.number(per_ml))
    assert low < per_ml <= high * (1 + 1e-11) or per_ml == 0


def test_counts_must_not_rise() -> None:
    with pytest.raises(ValueError, match="must not rise"):
        cleanliness.code((10, 20, 5), 1)


def test_more_than_the_last_code() -> None:
    assert cleanliness.code((3e6, 2.5e6, 0), 1) == ">28/28/0"
