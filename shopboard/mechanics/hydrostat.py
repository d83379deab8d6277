"""Axial-piston units: displacement, flow, torque, power, efficiency, ripple and piston leakage.

SI throughout: volumes in m³ (for one turn), speeds in rev/s, pressures in Pa, angles in rad.
Sources, unless a function names another: fluid-power formulas in general use (from memory).
"""

from __future__ import annotations

import math


def stroke(pitch_radius: float, angle: float) -> float:
    """Stroke of a piston [m] = 2·R·tan β, for pitch radius R [m] and plate angle β [rad], 0 ≤ β < 45°.

    Source: geometry of a flat plate; the sine form found in some books is for a bent axis.

    >>> round(stroke(0.0335, math.radians(17)) * 1000, 3)
    20.484
    """
    return 2.0 * pitch_radius * math.tan(angle)


def displacement(pistons: int, bore: float, pitch_radius: float, angle: float) -> float:
    """Volume moved in one turn [m³] = n·(π·d²/4)·2·R·tan β.

    Pistons n, bore d [m], pitch radius R [m], plate angle β [rad]. Ideal: no leakage, no compression.

    >>> round(displacement(9, 0.017, 0.0335, math.radians(17)) * 1e6, 3)
    41.845
    """
    return pistons * math.pi * bore**2 / 4 * stroke(pitch_radius, angle)


def flow(displacement: float, speed: float, volumetric_efficiency: float = 1.0) -> float:
    """Flow of a pump [m³/s] = V·n·η, for displacement V [m³ a turn], speed n [rev/s], 0 < η ≤ 1.

    >>> round(flow(50e-6, 25.0) * 60_000, 6)
    75.0
    """
    return displacement * speed * volumetric_efficiency


def torque(displacement: float, pressure: float, mechanical_efficiency: float = 1.0) -> float:
    """Torque of a motor [N·m] = V·Δp·η/2π, for displacement V [m³ a turn], pressure difference Δp [Pa], 0 < η ≤ 1.

    >>> round(torque(50e-6, 200e5), 3)
    159.155
    """
    return displacement * pressure * mechanical_efficiency / (2 * math.pi)


def hydraulic_power(flow: float, pressure: float) -> float:
    """Power in the oil [W] = Q·Δp, for flow Q [m³/s] and pressure difference Δp [Pa].

    >>> round(hydraulic_power(75 / 60_000, 200e5))
    25000
    """
    return flow * pressure


def volumetric_efficiency(ideal_flow: float, drain_flow: float) -> float:
    """Share of the ideal flow that is delivered = (Q − Q_drain)/Q; both flows in one unit, 0 ≤ Q_drain ≤ Q.

    Only where the case drain carries the whole loss: no leakage between the ports, no charge or flushing flow mixed
    in. Source: definition.

    >>> volumetric_efficiency(80, 6)
    0.925
    """
    return (ideal_flow - drain_flow) / ideal_flow


def flow_ripple(pistons: int) -> float:
    """Swing of the flow over its mean, (max − min)/mean, of `pistons` ≥ 2 ideal pistons in sine motion.

    Odd n: (π/2n)·tan(π/4n); even n: (π/n)·tan(π/2n). Source: sum of half sines; the table from memory.

    >>> [round(100 * flow_ripple(n), 2) for n in (7, 8, 9)]
    [2.53, 7.81, 1.53]
    """
    if pistons % 2:
        return math.pi / (2 * pistons) * math.tan(math.pi / (4 * pistons))
    return math.pi / pistons * math.tan(math.pi / (2 * pistons))


def ripple_order(pistons: int) -> int:
    """How often a turn the flow swings: 2n for an odd number of pistons, n for an even one.

    Source: sum of half sines. A unit with one weak piston also swings once a turn.

    >>> ripple_order(7), ripple_order(8)
    (14, 8)
    """
    return 2 * pistons if pistons % 2 else pistons


def pressure_ripple(least: float, most: float) -> float:
    """Swing of the pressure over its mean when flow between `least` and `most` times the mean passes a fixed orifice.

    Pressure goes with the flow squared. Source: Rabie, Fluid Power Engineering, p. 100, eqs 4.21–4.22.

    >>> round(100 * pressure_ripple(0.90, 1.04), 2)
    27.16
    """
    return most**2 - least**2


def bore_leakage(
    bore: float, clearance: float, pressure: float, viscosity: float, length: float, eccentricity: float = 0.0
) -> float:
    """Oil past one piston [m³/s] = π·d·h³·Δp/(12·μ·L)·(1 + 1.5·ε²).

    Bore d [m], clearance on the radius h [m] (h ≪ d), pressure difference Δp [Pa], dynamic viscosity μ of the film
    [Pa·s], sealing length L [m], eccentricity ε from 0 (concentric) to 1 (touching). Laminar, parallel gap.
    Source: concentric Rabie, Fluid Power Engineering, p. 21, eq. 2.19; the ε term is the integral round an eccentric
    gap.

    >>> round(bore_leakage(0.017, 20e-6, 20e6, 0.025, 0.030) * 60e6, 2)
    56.97
    """
    concentric = math.pi * bore * clearance**3 * pressure / (12 * viscosity * length)
    return concentric * (1 + 1.5 * eccentricity**2)


def clearance_growth(leakage_ratio: float) -> float:
    """How many times the clearance has grown when leakage at equal pressure and oil has grown `leakage_ratio` times.

    The cube root, since leakage goes with clearance cubed (see `bore_leakage`, whose eccentricity is taken unchanged).

    >>> clearance_growth(8.0)
    2.0
    """
    return math.cbrt(leakage_ratio)
