"""Hours a machine has run, over as many meters as it has had."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopboard.records import HourReading, Layout, Machine

DAY = datetime(2026, 1, 1, tzinfo=UTC)


def machine(*shown: float | tuple[float]) -> Machine:
    """A machine read so; a reading in brackets is the first of a new meter."""
    readings = tuple(
        HourReading(
            at=DAY + timedelta(days=30 * visit),
            hours=hours[0] if isinstance(hours, tuple) else hours,
            new_meter=isinstance(hours, tuple),
        )
        for visit, hours in enumerate(shown)
    )
    return Machine(id=1, customer=1, model="m", layout=Layout.IN_LINE, readings=readings)


@pytest.mark.parametrize(
    ("shown", "meter", "age"),
    [
        ((), None, None),
        ((0.0,), 0.0, 0.0),
        ((900.0,), 900.0, 900.0),
        ((900.0, 950.0), 950.0, 950.0),
        ((900.0, (40.0,)), 40.0, 940.0),
        ((900.0, (40.0,), 100.0), 100.0, 1000.0),
        ((900.0, (40.0,), 100.0, (0.0,), 25.0), 25.0, 1025.0),
        ((900.0, (900.0,)), 900.0, 1800.0),
        (((40.0,), 50.0), 50.0, 50.0),
    ],
)
def test_age_over_replaced_meters(shown: tuple[float, ...], meter: float | None, age: float | None) -> None:
    assert (machine(*shown).meter(), machine(*shown).age()) == (meter, age)


@given(st.lists(st.tuples(st.integers(0, 500), st.booleans(), st.integers(0, 50)), min_size=1, max_size=8))
def test_age_is_the_hours_really_run(visits: list[tuple[int, bool, int]]) -> None:
    """A machine is run for known hours; a meter put in at a visit starts at nought and is read some hours later."""
    shown: list[float | tuple[float]] = []
    meter, really = 0.0, 0.0
    for run, replaced, since in visits:
        meter, really = meter + run, really + run
        shown.append(meter)
        if replaced:
            meter, really = float(since), really + since
            shown.append((meter,))
    assert machine(*shown).age() == really
