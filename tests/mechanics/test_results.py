"""Bands and the shape of a result."""

from __future__ import annotations

import numpy as np
import pytest

from shopboard.mechanics import bands, hydrostat
from shopboard.mechanics.model_data import MODEL_DATA, MissingDatum, ModelData, faults, read_datum
from shopboard.mechanics.results import Figure, Result
from shopboard.mechanics.units import UnitError, parse


def test_band_agrees_with_drawing_the_errors() -> None:
    given = {
        "bore": parse("17 mm ± 0.05 mm", "length"),
        "pitch_radius": parse("33.5 mm ± 0.2 mm", "length"),
        "angle": parse("17 deg ± 0.3 deg", "angle"),
    }
    found = bands.figure(lambda **v: hydrostat.displacement(9, **v), "displacement", given)
    rng = np.random.default_rng(7)
    draws = [
        hydrostat.displacement(
            9, *(q.si + q.error * z for q, z in zip(given.values(), rng.normal(size=3), strict=True))
        )
        for _ in range(40_000)
    ]
    assert found.low is not None
    assert found.high is not None
    inside = np.mean((np.array(draws) > found.low) & (np.array(draws) < found.high))
    assert inside == pytest.approx(0.90, abs=4 * (0.9 * 0.1 / 40_000) ** 0.5 + 0.001)


def test_no_band_without_errors() -> None:
    found = bands.figure(hydrostat.stroke, "length", {"pitch_radius": parse("33 mm", "length"), "angle": 0.2})
    assert (found.low, found.high) == (None, None)


def test_json_has_the_agreed_shape() -> None:
    result = Result(
        calculation="flow",
        inputs={"speed": parse("1,500 rpm", "rotation"), "pistons": 9},
        results={"flow": Figure(75 / 60_000, "flow", 70 / 60_000, 80 / 60_000), "order": Figure(18)},
        assumes=("no leakage",),
        source="a book",
    )
    shown = result.as_json()
    assert list(shown) == ["calculation", "inputs", "results", "assumes", "source"]
    assert shown["inputs"] == {"speed": {"value": 1500.0, "unit": "rpm"}, "pistons": {"value": 9, "unit": ""}}
    assert shown["results"]["flow"] == {
        "value": pytest.approx(75), "unit": "L/min", "low": pytest.approx(70), "high": pytest.approx(80)
    }  # fmt: skip
    assert shown["results"]["order"] == {"value": 18}
    assert result.as_json("us")["results"]["flow"]["unit"] == "gpm"


def test_every_usual_value_reads() -> None:
    for name, datum in MODEL_DATA.items():
        if datum.usual:
            read_datum(name, datum.usual)


def test_a_missing_datum_says_what_can_still_be_said() -> None:
    with pytest.raises(MissingDatum) as missing:
        ModelData({}).need("rated_efficiency")
    assert "rated_efficiency" in str(missing.value)
    assert "this shop's own machines" in str(missing.value)


def test_usual_values_are_told() -> None:
    data = ModelData({})
    assert data.need("charge_pressure") == pytest.approx(10e5)
    assert data.assumptions() == ("usual values, not this model's: charge pressure 10 bar",)


def test_faults_are_named_and_strangers_let_be() -> None:
    found = faults({"pistons": "nine", "shaft_length": "620 mm", "range_ratio_low": "0", "paint": "green"})
    assert [line.split(":")[0] for line in found] == ["pistons", "range_ratio_low"]


def test_gears() -> None:
    data = ModelData({"range_ratio_low": 2.9, "range_ratio_high": "1.2"})
    assert data.gears() == ("low", "high")
    assert data.range_ratio("high") == 1.2
    assert ModelData({}).range_ratio() == 1.0
    with pytest.raises(UnitError, match="low, high"):
        data.range_ratio("third")
