"""Hydrostatics against values from outside; the source stands beside each."""

from __future__ import annotations

import math

import numpy as np
import pytest

from shopboard.mechanics import hydrostat as h
from shopboard.mechanics.units import from_si, parse


def test_displacement_of_a_nine_piston_group() -> None:
    # Textbook formula, from memory; the stroke below is found again numerically.
    found = h.displacement(9, 0.017, 0.0335, math.radians(17))
    assert found * 1e6 == pytest.approx(41.845, rel=1e-4)


def test_stroke_is_the_travel_of_a_point_on_the_tilted_plate() -> None:
    # Independent route: a foot running round the plate z = x·tan β.
    turn = np.linspace(0, 2 * math.pi, 100_001)
    height = 0.0335 * np.cos(turn) * math.tan(math.radians(17))
    assert h.stroke(0.0335, math.radians(17)) == pytest.approx(np.ptp(height), rel=1e-9)


def test_us_flow() -> None:
    # gpm = V·N/231, fluid-power formulas in general use.
    flow = h.flow(parse("3.75 in3/rev", "displacement").si, parse("1500 rpm", "rotation").si)
    assert from_si(flow, "gpm", "flow") == pytest.approx(24.351, rel=1e-4)


def test_us_torque() -> None:
    # in·lb = psi·V/2π, fluid-power formulas in general use.
    torque = h.torque(parse("2.5 in3", "displacement").si, parse("2000 psi", "pressure").si)
    assert from_si(torque, "in lb", "torque") == pytest.approx(795.775, rel=1e-5)


def test_us_power() -> None:
    # hp = psi·gpm/1714 (general use) prints 37.78; 37.773 with the exact constant, which is 1714.29.
    power = from_si(h.hydraulic_power(parse("21.584 gpm", "flow").si, parse("3000 psi", "pressure").si), "hp", "power")
    assert round(3000 * 21.584 / 1714, 2) == 37.78
    assert power == pytest.approx(37.78, rel=3e-4)  # the rounded constant alone is 1.7e-4 off
    assert power == pytest.approx(37.773, rel=2e-4)


def test_si_flow_power_and_torque() -> None:
    # 50 cm³, 1500 rev/min, 200 bar, through Pint's own units.
    pint = pytest.importorskip("pint")
    u = pint.UnitRegistry()
    v, n, p = u.Quantity(50, "cm^3/turn"), u.Quantity(1500, "rpm"), u.Quantity(200, "bar")
    assert (v * n).to("L/min").magnitude == pytest.approx(75, rel=1e-5)
    assert h.flow(50e-6, 25) * 60_000 == pytest.approx(75, rel=1e-5)
    assert h.hydraulic_power(h.flow(50e-6, 25), 200e5) == pytest.approx((v * n * p).to("W").magnitude, rel=1e-9)
    assert h.hydraulic_power(h.flow(50e-6, 25), 200e5) == pytest.approx(25_000, rel=1e-5)
    assert h.torque(50e-6, 200e5) == pytest.approx(159.155, rel=1e-5)
    assert h.torque(50e-6, 200e5) == pytest.approx((v * p).to("N*m/radian").magnitude, rel=1e-9)


# Half-sine sum and Fourier transform; table from memory.
RIPPLE = {3: 14.03, 4: 32.53, 5: 4.98, 6: 14.03, 7: 2.53, 8: 7.81, 9: 1.53, 10: 4.98, 11: 1.02}


@pytest.mark.parametrize(("pistons", "percent"), RIPPLE.items())
def test_flow_ripple(pistons: int, percent: float) -> None:
    assert 100 * h.flow_ripple(pistons) == pytest.approx(percent, abs=0.01)


@pytest.mark.parametrize("pistons", range(3, 12))
def test_ripple_and_its_order_from_the_sum_of_half_sines(pistons: int) -> None:
    turn = np.arange(55_440 * 2) / (55_440 * 2) * 2 * math.pi
    flow = sum(np.maximum(0, np.sin(turn + 2 * math.pi * k / pistons)) for k in range(pistons))
    assert np.ptp(flow) / flow.mean() == pytest.approx(h.flow_ripple(pistons), abs=1e-6)
    orders = np.abs(np.fft.rfft(flow))[1:200]
    assert int(np.argmax(orders)) + 1 == h.ripple_order(pistons)


@pytest.mark.parametrize(("pistons", "order"), [(7, 14), (8, 8), (9, 18)])
def test_ripple_order(pistons: int, order: int) -> None:
    assert h.ripple_order(pistons) == order  # Fourier transform of the half-sine sum


def test_pressure_ripple_through_a_fixed_orifice() -> None:
    # Rabie, Fluid Power Engineering, p. 100, eqs 4.21–4.22: 14 % of flow is 27.16 % of pressure.
    assert 100 * h.pressure_ripple(0.90, 1.04) == pytest.approx(27.16, abs=0.01)


@pytest.mark.parametrize(("eccentricity", "ml_min"), [(0, 56.97), (0.5, 78.33), (1, 142.42)])
def test_piston_leakage(eccentricity: float, ml_min: float) -> None:
    # Concentric: Rabie p. 21, eq. 2.19; the ε term integrated round the gap.
    found = h.bore_leakage(0.017, 20e-6, 20e6, 0.025, 0.030, eccentricity)
    assert found * 60e6 == pytest.approx(ml_min, rel=1e-4)


@pytest.mark.parametrize("eccentricity", [0.0, 0.3, 0.7, 1.0])
def test_eccentric_gap_by_integration(eccentricity: float) -> None:
    turn = (np.arange(20_000) + 0.5) / 20_000 * 2 * math.pi
    gap = 20e-6 * (1 + eccentricity * np.cos(turn))
    per_metre = (gap**3).mean() * math.pi * 0.017 * 20e6 / (12 * 0.025 * 0.030)
    assert h.bore_leakage(0.017, 20e-6, 20e6, 0.025, 0.030, eccentricity) == pytest.approx(per_metre, rel=1e-9)


def test_volumetric_efficiency() -> None:
    assert h.volumetric_efficiency(80, 6) == 0.925  # definition


@pytest.mark.parametrize("growth", [1.0, 1.5, 2.0, 3.7])
def test_clearance_growth_undoes_the_leakage(growth: float) -> None:
    leak = [h.bore_leakage(0.017, c, 2e7, 0.025, 0.03) for c in (20e-6, 20e-6 * growth)]
    assert h.clearance_growth(leak[1] / leak[0]) == pytest.approx(growth, rel=1e-12)
